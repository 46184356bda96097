/* A form being filled in: guarded while it holds unsaved words, and sent once. */

import { Trouble } from '../api/client';
import { markUnsaved } from '../route/router.svelte';

export class Draft<T extends object> {
  fields: T = $state() as T;
  trouble = $state.raw<Trouble | null>(null);
  isSending = $state(false);
  #empty: string;
  #mark = Symbol('form');

  constructor(start: T) {
    this.fields = start;
    this.#empty = JSON.stringify(start);
    $effect(() => {
      markUnsaved(this.#mark, JSON.stringify(this.fields) !== this.#empty);
      return () => markUnsaved(this.#mark, false);
    });
  }

  /* Start again from these fields, with nothing unsaved. */
  reset(start: T): void {
    this.#empty = JSON.stringify(start);
    this.fields = start;
    markUnsaved(this.#mark, false);
  }

  async send<R>(how: () => Promise<R>): Promise<R | null> {
    if (this.isSending) return null;
    this.isSending = true;
    this.trouble = null;
    try {
      const done = await how();
      markUnsaved(this.#mark, false);
      this.#empty = JSON.stringify(this.fields);
      return done;
    } catch (error) {
      this.trouble = Trouble.from(error);
      return null;
    } finally {
      this.isSending = false;
    }
  }
}
