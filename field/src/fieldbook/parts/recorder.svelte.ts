/*
 * Writes lines for a screen and says how it went: being written, recorded, or not recorded. What a screen shows as
 * recorded comes from the book alone; this only knows of what is on its way and of what failed.
 */

import type { Bodies, Book, Kind } from '../contract';
import { amending } from './amending.svelte';
import { w } from './say';

interface Of {
  visit: string | null;
  apiary: string | null;
}

interface Refused {
  subject: string;
  what: string;
  why: string;
  again: () => Promise<boolean>;
}

const AFTER_SIGNING: Kind[] = ['visit_amended', 'sample_handed'];

export class Recorder {
  /* Subjects whose line is on its way to the disk, with how many. */
  readonly pending = $state<Record<string, number>>({});
  refused = $state.raw<Refused[]>([]);
  last = $state.raw<{ what: string; at: Date } | null>(null);
  readonly #book: () => Book;
  readonly #of: () => Of;

  constructor(book: () => Book, of: () => Of) {
    this.#book = book;
    this.#of = of;
  }

  get isWriting(): boolean {
    return Object.keys(this.pending).length > 0;
  }

  isPending(subject: string): boolean {
    return subject in this.pending;
  }

  /* Write a line; `what` is said to the user, `subject` names what on the screen waits for it. */
  write<K extends Kind>(kind: K, body: Bodies[K], what: string, subject: string = kind): Promise<boolean> {
    return this.run(() => this.#send(kind, body), what, subject);
  }

  /* Anything else that is recorded: a photograph, a signature, a visit begun. */
  async run(send: () => Promise<unknown>, what: string, subject: string): Promise<boolean> {
    this.pending[subject] = (this.pending[subject] ?? 0) + 1;
    try {
      await send();
      this.last = { what, at: new Date() };
      this.#settle(subject);
      return true;
    } catch (error) {
      const why = error instanceof Error && error.message ? error.message : w('no_reason');
      const again = (): Promise<boolean> => this.run(send, what, subject);
      this.#settle(subject);
      this.refused = [...this.refused, { subject, what, why, again }];
      return false;
    } finally {
      const left = (this.pending[subject] ?? 1) - 1;
      if (left) this.pending[subject] = left;
      else delete this.pending[subject];
    }
  }

  #send<K extends Kind>(kind: K, body: Bodies[K]): Promise<unknown> {
    const of = this.#of();
    const book = this.#book();
    const visit = book.visits.find((row) => row.visit === of.visit);
    if (!visit?.signed || AFTER_SIGNING.includes(kind)) return book.write(kind, body, of);
    const reason = amending.reasonFor(visit.visit);
    if (!reason) return Promise.reject(new Error(w('signed_needs_reason')));
    return book.write('visit_amended', { reason, kind, body: { ...body } }, of);
  }

  /* What came later about the same subject stands: an older try must not come back over it. */
  #settle(subject: string): void {
    this.refused = this.refused.filter((row) => row.subject !== subject);
  }

  drop(refused: Refused): void {
    this.refused = this.refused.filter((row) => row !== refused);
  }
}
