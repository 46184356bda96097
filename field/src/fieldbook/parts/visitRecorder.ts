/* A recorder for the lines of one visit. */

import type { Book } from '../contract';
import { Recorder } from './recorder.svelte';
import { visitOf } from './satchel';

export function visitRecorder(book: () => Book, visit: () => string): Recorder {
  return new Recorder(book, () => ({ visit: visit(), apiary: visitOf(book(), visit())?.apiary ?? null }));
}
