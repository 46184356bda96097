/* Follows work behind the desk: asks how far it is while it goes on, and tells when there is something new. */

import { Trouble } from '../../api/client';

const PAUSE_MS = 900;

export class Watch<T> {
  state = $state.raw<T | null>(null);
  trouble = $state.raw<Trouble | null>(null);
  #timer: ReturnType<typeof setTimeout> | undefined;
  #isGone = false;

  constructor(
    private readonly ask: () => Promise<T>,
    private readonly isGoing: (state: T) => boolean,
    private readonly onnews: (before: T | null, now: T) => void,
  ) {
    $effect(() => () => {
      this.#isGone = true;
      clearTimeout(this.#timer);
    });
  }

  /* Take what is known now; while the work goes on, ask again after a pause. */
  set(now: T): void {
    const before = this.state;
    this.state = now;
    this.trouble = null;
    if (before !== null) this.onnews(before, now);
    clearTimeout(this.#timer);
    if (!this.#isGone && this.isGoing(now)) this.#timer = setTimeout(() => void this.again(), PAUSE_MS);
  }

  async again(): Promise<void> {
    await this.do(this.ask);
  }

  async do(how: () => Promise<T>): Promise<void> {
    try {
      const now = await how();
      if (!this.#isGone) this.set(now);
    } catch (error) {
      this.trouble = Trouble.from(error);
    }
  }
}
