/* Brings home what is only on the phone: at least once, text before photos, and never in a hot loop. */

import type { Line } from '../contract';
import { aloneOrNot } from './alone';
import type { Answered } from './base';
import { waitBefore } from './backoff';
import { type DeskLine, Refusal } from './desk';
import type { LineStore } from './lines';
import type { PhotoStore } from './photos';

export const LINES_AT_ONCE = 200;
export const BYTES_AT_ONCE = 900_000;
export const PIECE_BYTES = 512 * 1024;
const SMALLEST_PIECE = 32 * 1024;
const SOON_MS = 400;
const PHOTO_ROUNDS = 3;
/* As many lines may be unreadable alone before the trouble is taken to be the desk's. */
const HELD_AT_ONCE = 3;

export interface OutboxEvents {
  /* Something was answered or taken: what is unsent has changed. */
  onChange: () => void;
  onWipe: () => Promise<void>;
  onStanding: (standing: Standing) => void;
  onSetAside: (line: Line, why: string | null) => void;
}

/* `resting`: nothing to do; `waiting`: will try again at `next_at`; `stranger`: the desk does not know this phone any more. */
export interface Standing {
  is: 'resting' | 'sending' | 'waiting' | 'stranger';
  next_at: number | null;
  why: Refusal | null;
}

export interface OutboxParts extends OutboxEvents {
  lines: LineStore;
  photos: PhotoStore;
  desk: DeskLine;
  now: () => number;
  chance: () => number;
}

/* Numbers of the lines that fit into one request, and its body. */
export function batchOf(lines: readonly Line[]): { numbers: number[]; body: string } {
  const numbers: number[] = [];
  const texts: string[] = [];
  let bytes = '{"lines":[]}'.length;
  for (const line of lines.slice(0, LINES_AT_ONCE)) {
    const text = JSON.stringify(line);
    const size = new Blob([text]).size + 1;
    if (numbers.length > 0 && bytes + size > BYTES_AT_ONCE) break;
    bytes += size;
    numbers.push(line.number);
    texts.push(text);
  }
  return { numbers, body: `{"lines":[${texts.join(',')}]}` };
}

export class Outbox {
  readonly #parts: OutboxParts;
  /* Lines that the desk could not read alone: kept, not tried again until the book is opened anew. */
  readonly #held = new Set<number>();
  #failures = 0;
  #timer: ReturnType<typeof setTimeout> | undefined;
  #isStopped = false;
  #most = LINES_AT_ONCE;
  #piece = PIECE_BYTES;
  #wipe = false;

  constructor(parts: OutboxParts) {
    this.#parts = parts;
  }

  /* Try soon: after a line, when the network comes back. */
  soon(isFresh = false): void {
    if (isFresh) this.#failures = 0;
    if (this.#failures === 0) this.#schedule(SOON_MS);
  }

  stop(): void {
    this.#isStopped = true;
    clearTimeout(this.#timer);
  }

  /* The button: at once, whatever was waited for. */
  async handIn(): Promise<boolean> {
    this.#failures = 0;
    return this.#run();
  }

  #schedule(ms: number): void {
    if (this.#isStopped) return;
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => void this.#run(), ms);
  }

  async #run(): Promise<boolean> {
    clearTimeout(this.#timer);
    if (this.#isStopped) return false;
    const done = await aloneOrNot('hand-in', () => this.#attempt());
    if (done === null) this.#schedule(SOON_MS * 5); // another tab is at it: look again
    return done ?? false;
  }

  async #attempt(): Promise<boolean> {
    const { onStanding, now, chance } = this.#parts;
    onStanding({ is: 'sending', next_at: null, why: null });
    try {
      await this.#sendLines();
      await this.#sendPhotos();
      this.#failures = 0;
      onStanding({ is: 'resting', next_at: null, why: null });
      if (this.#wipe && (await this.#isEmpty())) await this.#parts.onWipe();
      return true;
    } catch (error) {
      this.#failures += 1;
      const why = error instanceof Refusal ? error : null;
      if (!why) console.error(error); // the phone's own trouble, a closing store for one: tried again like any other
      if (why?.kind === 'stranger') {
        await this.#askState();
        onStanding({ is: 'stranger', next_at: null, why });
        return false;
      }
      const wait_s = Math.max(why?.after_s ?? 0, waitBefore(this.#failures, chance()));
      onStanding({ is: 'waiting', next_at: now() + wait_s * 1000, why });
      this.#schedule(wait_s * 1000);
      return false;
    }
  }

  async #isEmpty(): Promise<boolean> {
    return (await this.#parts.lines.unsent(1)).length === 0 && (await this.#parts.photos.unsent()).length === 0;
  }

  async #askState(): Promise<void> {
    try {
      if ((await this.#parts.desk.state()).wipe) this.wipeWhenEmpty();
    } catch {
      // it stays with the refusal that led here
    }
  }

  wipeWhenEmpty(): void {
    this.#wipe = true;
  }

  async #sendLines(): Promise<void> {
    const { lines, desk } = this.#parts;
    const heldBefore = this.#held.size;
    for (;;) {
      const waiting = (await lines.unsent(this.#most + this.#held.size)).filter((one) => !this.#held.has(one.number));
      if (waiting.length === 0) return;
      const batch = batchOf(waiting.slice(0, this.#most));
      try {
        const answer = await desk.lines(batch.body);
        await this.#took(batch.numbers, answer.answers);
        if (answer.wipe) this.#wipe = true;
        await this.#want(answer.photos_wanted ?? []);
        this.#most = Math.min(LINES_AT_ONCE, this.#most * 2);
      } catch (error) {
        if (!(error instanceof Refusal) || error.kind !== 'unread') throw error;
        this.#narrow(batch.numbers);
        if (this.#held.size >= heldBefore + HELD_AT_ONCE) throw new Refusal('trouble', error.status, error.sentence);
      }
    }
  }

  /* The desk cannot read a request: look for the line that it is about, and send the others. */
  #narrow(numbers: readonly number[]): void {
    const [only] = numbers;
    if (numbers.length > 1) this.#most = Math.max(1, Math.floor(numbers.length / 2));
    else if (only !== undefined) this.#held.add(only);
  }

  async #took(numbers: readonly number[], answers: readonly { line: string; is: Answered; why: string | null }[]): Promise<void> {
    const { lines, onSetAside, onChange } = this.#parts;
    const said = new Map(answers.map((answer) => [answer.line, answer]));
    const taken = new Map<number, Answered>();
    for (const number of numbers) {
      const line = lines.lines.get(number);
      const answer = line && said.get(line.line);
      if (!line || !answer || !['kept', 'already', 'set_aside'].includes(answer.is)) continue;
      taken.set(number, answer.is);
      if (answer.is === 'set_aside') onSetAside(line, answer.why);
    }
    if (taken.size === 0) throw new Refusal('trouble', 200); // answered, and not about our lines: do not ask at once again
    await lines.answered(taken);
    onChange();
  }

  async #want(photos: readonly string[]): Promise<void> {
    for (const photo of photos) {
      for (const line of this.#parts.lines.lines.values()) {
        if (line.kind !== 'photo_taken' || (line.body as { photo: string }).photo !== photo) continue;
        await this.#parts.photos.wanted(photo, line.number, line.written_at);
        break;
      }
    }
  }

  async #sendPhotos(): Promise<void> {
    let refused: Refusal | null = null;
    for (const photo of await this.#parts.photos.unsent()) {
      try {
        await this.#sendPhoto(photo);
      } catch (error) {
        if (!(error instanceof Refusal) || error.kind !== 'unread') throw error;
        refused = error; // this one is not taken now; the others may be
      }
      if ((await this.#parts.lines.unsent(1 + this.#held.size)).length > this.#held.size) await this.#sendLines();
    }
    if (refused) throw new Refusal('trouble', refused.status, refused.sentence);
  }

  async #sendPhoto(photo: string): Promise<void> {
    const { photos, desk, onChange } = this.#parts;
    const kept = await photos.bytes(photo);
    if (!kept) return photos.sent(photo); // nothing is left of it to send
    for (let round = 0; round < PHOTO_ROUNDS; round += 1) {
      let state = await desk.photoState(photo);
      while (!state.is_whole && state.received < kept.bytes.length) {
        const from = state.received;
        const piece = kept.bytes.slice(from, from + this.#piece);
        state = await this.#sendPiece(photo, from, kept.bytes.length, piece);
        if (state.received <= from && !state.is_whole) break;
      }
      if (state.is_whole) {
        await photos.sent(photo);
        onChange();
        return;
      }
    }
    throw new Refusal('trouble', 200);
  }

  /* On a bad line pieces get smaller, on a good one larger again. */
  async #sendPiece(photo: string, from: number, total: number, piece: Uint8Array<ArrayBuffer>): ReturnType<DeskLine['sendPiece']> {
    try {
      const state = await this.#parts.desk.sendPiece(photo, from, total, piece);
      this.#piece = Math.min(PIECE_BYTES, this.#piece * 2);
      return state;
    } catch (error) {
      if (error instanceof Refusal && error.kind === 'away') this.#piece = Math.max(SMALLEST_PIECE, this.#piece / 2);
      throw error;
    }
  }
}
