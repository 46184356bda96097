/* Something asked of the server: waiting, there, or failed; asked again on demand. */

import { Trouble } from '../api/client';

export class Resource<T> {
  value = $state.raw<T | null>(null);
  trouble = $state.raw<Trouble | null>(null);
  isWaiting = $state(true);
  #ask: () => Promise<T>;
  #turn = 0;

  constructor(ask: () => Promise<T>) {
    this.#ask = ask;
  }

  /* An answer that comes after a newer question is dropped. */
  async ask(): Promise<void> {
    const turn = ++this.#turn;
    this.isWaiting = true;
    try {
      const value = await this.#ask();
      if (turn !== this.#turn) return;
      this.value = value;
      this.trouble = null;
    } catch (error) {
      if (turn !== this.#turn) return;
      this.trouble = Trouble.from(error);
    }
    this.isWaiting = false;
  }

  set(value: T): void {
    this.#turn++;
    this.value = value;
    this.trouble = null;
    this.isWaiting = false;
  }
}

/* Ask now and whenever what the question depends on changes. */
export function resource<T>(ask: () => Promise<T>): Resource<T> {
  const made = new Resource(ask);
  $effect(() => {
    void made.ask();
  });
  return made;
}
