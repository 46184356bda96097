/* Words half written: kept by the book, enciphered like the lines, so that a killed book loses none of them. */

import type { Book } from '../contract';

const held = new Map<string, string>();

export async function readDraft(book: Book, key: string): Promise<string | null> {
  const kept = held.get(key);
  if (kept !== undefined) return kept;
  try {
    return await book.draft(key);
  } catch {
    return null; // a draft that cannot be read is no draft
  }
}

/* A draft was never shown as recorded: when it cannot be kept, nothing was promised. */
export function keepDraft(book: Book, key: string, text: string | null): void {
  if (text) held.set(key, text);
  else held.delete(key);
  book.keepDraft(key, text || null).catch(() => undefined);
}
