/* The phone's lines: only ever added, numbered without a gap, on the disk before anything is shown as recorded. */

import { uuidv7 } from 'uuidv7';
import type { Bodies, Kind, Line } from '../contract';
import { alone } from './alone';
import { type Answered, type Base, type KeptLine, type KeptPhoto, together, type UnsentLine, type UnsentPhoto } from './base';
import { toBytes } from './bytes';
import type { Sealer } from './sealing';
import { notRecorded, Trouble } from './trouble';
import type { Vault } from './vault';

/* The desk sets a longer line aside (LONGEST_LINE in src/broodsweep/fieldbook/constants.py, less what spelling may add). */
export const LONGEST_LINE = 98_000;
const DRIFTS_AT_MOST = 50;

export interface Draft<K extends Kind = Kind> {
  kind: K;
  body: Bodies[K];
  visit: string | null;
  apiary: string | null;
}

export interface NewPhoto {
  kept: KeptPhoto;
  unsent: Omit<UnsentPhoto, 'number' | 'written_at'>;
}

export interface LineStoreParts {
  base: Base;
  vault: Vault;
  sealer: Sealer;
  device: string;
  now: () => Date;
}

export class LineStore {
  /* Every line on this phone by its number. */
  readonly lines = new Map<number, Line>();
  readonly #parts: LineStoreParts;
  #next = 1;

  constructor(parts: LineStoreParts) {
    this.#parts = parts;
  }

  /* Read what other tabs wrote since; returns the lines that are new here. */
  async catchUp(): Promise<Line[]> {
    const { base, vault } = this.#parts;
    // lines and next number out of one transaction: between two, another tab could write a line that is then never read
    const work = base.transaction(['lines', 'singles']);
    const [found, next] = await Promise.all([
      work.objectStore('lines').getAll(IDBKeyRange.lowerBound(this.#next)),
      work.objectStore('singles').get('next_number') as Promise<number | undefined>,
    ]);
    const read = await Promise.all(found.map((row) => openLine(vault, row)));
    for (const line of read) this.lines.set(line.number, line);
    this.#next = Math.max(this.#next, next ?? 1);
    return read;
  }

  /* Write a line; resolves when it is on the disk. `make` is asked again should another tab have been faster. */
  async append<K extends Kind>(make: () => Promise<Draft<K>>, photo?: NewPhoto): Promise<Line<K>> {
    try {
      return await alone('append', async () => {
        for (let drift = 0; drift < DRIFTS_AT_MOST; drift += 1) {
          const written = await this.#tryAppend(await make(), photo);
          if (written) return written;
          await this.catchUp();
        }
        throw new Error('Expected the number of the next line to settle, it kept moving.');
      });
    } catch (error) {
      throw notRecorded(error);
    }
  }

  async #tryAppend<K extends Kind>(draft: Draft<K>, photo: NewPhoto | undefined): Promise<Line<K> | null> {
    const { base, vault, sealer, device, now } = this.#parts;
    const number = this.#next;
    const written_at = now().toISOString();
    const line: Line<K> = { line: uuidv7(), device, number, ...draft, written_at };
    const text = toBytes(JSON.stringify(line));
    if (text.length > LONGEST_LINE) throw new Trouble('fieldbook.phone_line_too_long');
    const [cipher, box] = await Promise.all([vault.close(text, aboutLine(line)), sealer.seal(text)]);
    const names = ['singles', 'lines', 'unsent', ...(photo ? (['photos', 'unsent_photos'] as const) : [])] as const;
    const work = base.transaction([...names], 'readwrite', { durability: 'strict' });
    const singles = work.objectStore('singles');
    const next = ((await singles.get('next_number')) as number | undefined) ?? 1;
    if (next !== number) {
      await work.done;
      return null;
    }
    const kept: KeptLine = { number, line: line.line, cipher, is: null };
    const unsent: UnsentLine = { number, line: line.line, written_at, box };
    const requests: (() => Promise<unknown>)[] = [
      () => work.objectStore('lines').add(kept),
      () => work.objectStore('unsent').add(unsent),
      () => singles.put(number + 1, 'next_number'),
    ];
    if (photo) {
      requests.push(() => work.objectStore('photos').put(photo.kept));
      requests.push(() => work.objectStore('unsent_photos').put({ ...photo.unsent, number, written_at }));
    }
    await together(work, requests);
    this.lines.set(number, line);
    this.#next = number + 1;
    return line;
  }

  /* What the desk answered: these lines are no longer only here. A full phone can still let go of them. */
  async answered(answers: ReadonlyMap<number, Answered>): Promise<void> {
    try {
      await this.#settle(answers, true);
    } catch (error) {
      if (!(error instanceof Error || error instanceof DOMException) || error.name !== 'QuotaExceededError') throw error;
      await this.#settle(answers, false);
    }
  }

  async #settle(answers: ReadonlyMap<number, Answered>, isNoted: boolean): Promise<void> {
    const { base } = this.#parts;
    const rows = isNoted ? await Promise.all([...answers.keys()].map((number) => base.get('lines', number))) : [];
    const work = base.transaction(['lines', 'unsent'], 'readwrite', { durability: 'strict' });
    await together(work, [
      ...[...answers.keys()].map((number) => () => work.objectStore('unsent').delete(number)),
      ...rows.flatMap((row) => (row ? [() => work.objectStore('lines').put({ ...row, is: answers.get(row.number) ?? null })] : [])),
    ]);
  }

  /* The lines that are only here, in order; at most so many. */
  async unsent(most: number): Promise<Line[]> {
    const keys = await this.#parts.base.getAllKeys('unsent', undefined, most);
    if (keys.some((key) => !this.lines.has(key))) await this.catchUp();
    return keys.flatMap((key) => this.lines.get(key) ?? []);
  }

  /* Take lines off the phone that the desk has answered for. */
  async forget(numbers: readonly number[]): Promise<void> {
    const work = this.#parts.base.transaction(['lines', 'unsent'], 'readwrite', { durability: 'strict' });
    for (const number of numbers) {
      if (await work.objectStore('unsent').getKey(number)) continue;
      await work.objectStore('lines').delete(number);
      this.lines.delete(number);
    }
    await work.done;
  }
}

function aboutLine(line: { number: number; line: string }): string {
  return `line ${line.number} ${line.line}`;
}

function openLine(vault: Vault, row: KeptLine): Promise<Line> {
  return vault.openJson<Line>(row.cipher, aboutLine(row));
}
