/* A book in memory, only to look at the screens with while they are made: it keeps nothing and sends nothing. */

import { uuidv7 } from 'uuidv7';
import type { Bodies, Book, Kind, Line, Satchel, VisitNow } from '../contract';
import { fold, foldFound } from '../core/fold';
import { today } from '../parts/clock';

type Written = Line<Kind>;

export class TrialBook implements Book {
  readonly device = 'trial';
  satchel = $state.raw<Satchel | null>(null);
  visits = $state.raw<VisitNow[]>([]);
  found = $state.raw<(Bodies['apiary_found'] & { apiary: string })[]>([]);
  unsent = $state.raw({ lines: 0, photos: 0, oldest_at: null as string | null });
  lines: Written[] = [];
  /* How long a line takes to the disk, and whether the disk is full. */
  delayMs = 5;
  isFull = false;
  readonly #photos = new Map<string, Blob>();
  readonly #drafts = new Map<string, string>();

  constructor(satchel: Satchel | null) {
    this.satchel = satchel;
  }

  async write<K extends Kind>(kind: K, body: Bodies[K], of: { visit: string | null; apiary: string | null }): Promise<Line<K>> {
    await new Promise((done) => setTimeout(done, this.delayMs));
    if (this.isFull) throw new Error('The storage of this phone is full.');
    const line: Line<K> = {
      line: uuidv7(), device: this.device, number: this.lines.length + 1, visit: of.visit, apiary: of.apiary, kind,
      written_at: new Date().toISOString(), body,
    };
    await this.#take(line as unknown as Written);
    return line;
  }

  async #take(line: Written): Promise<void> {
    this.lines.push(line);
    this.unsent = { ...this.unsent, lines: this.lines.length, oldest_at: this.lines[0]!.written_at };
    this.visits = (await fold(this.lines)).toSorted((a, b) => (a.visit < b.visit ? 1 : -1));
    this.found = foldFound(this.lines).map((row) => ({ ...row.body, apiary: row.apiary }));
  }

  async begin(apiary: string, purpose: Bodies['visit_begun']['purpose']): Promise<string> {
    const visit = uuidv7();
    await this.write('visit_begun', { purpose, visited_on: today() }, { visit, apiary });
    return visit;
  }

  async keepPhoto(
    picture: Blob,
    about: { visit: string; apiary: string; colony: number | null; note: string; width: number; height: number },
  ): Promise<string> {
    const bytes = await picture.arrayBuffer();
    const digest = new Uint8Array(await crypto.subtle.digest('SHA-256', bytes));
    const name = [...digest].map((byte) => byte.toString(16).padStart(2, '0')).join('');
    this.#photos.set(name, picture);
    const { visit, apiary, ...rest } = about;
    const body = { photo: name, bytes: picture.size, media_type: picture.type, ...rest };
    await this.write('photo_taken', body, { visit, apiary });
    return name;
  }

  async keepDraft(key: string, text: string | null): Promise<void> {
    if (text === null) this.#drafts.delete(key);
    else this.#drafts.set(key, text);
  }

  async draft(key: string): Promise<string | null> {
    return this.#drafts.get(key) ?? null;
  }

  async photo(name: string): Promise<Blob | null> {
    return this.#photos.get(name) ?? null;
  }

  async sign(visit: string, signed: Omit<Bodies['visit_signed'], 'lines' | 'digest'>): Promise<void> {
    const apiary = this.visits.find((row) => row.visit === visit)?.apiary ?? null;
    const lines = this.lines.filter((row) => row.visit === visit).length;
    await this.write('visit_signed', { ...signed, lines, digest: '' }, { visit, apiary });
  }
}
