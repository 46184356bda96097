/* The open book: what the screens see and write. Everything they are shown has been on the disk before. */

import { uuidv7 } from 'uuidv7';
import { currentLocale } from '../../words/words';
import type { Bodies, Book, Kind, Line, Purpose, Satchel, VisitNow } from '../contract';
import { type Base, single } from './base';
import { visitDigest } from './bytes';
import { DeskLine, Refusal } from './desk';
import type { Secret } from './enrol';
import { foldFound, foldVisit, inOrder } from './fold';
import { countUnsent, letGo, NOTHING_UNSENT, type Unsent } from './keeping';
import { LineStore } from './lines';
import { Outbox, type Standing } from './outbox';
import { PhotoStore } from './photos';
import { keepSatchel, keptSatchel, type Taken, takeMap, takeSatchel, takeWords } from './satchel';
import { satchelFrom } from './parcel';
import { Sealer } from './sealing';
import { Tabs } from './tabs';
import { notRecorded, Trouble } from './trouble';
import type { Vault } from './vault';
import { renewal } from './worker.svelte';

/* A visit that the desk has whole stays on the phone this long (project choice: a week's questions). */
export const KEPT_DAYS = 7;
const DAY_MS = 86_400_000;

export interface SetAside {
  line: Line;
  why: string | null;
}

function today(now: Date): string {
  const two = (value: number): string => String(value).padStart(2, '0');
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

export class OpenBook implements Book {
  readonly device: string;
  readonly who: string;
  readonly #base: Base;
  readonly #vault: Vault;
  readonly #lines: LineStore;
  readonly #photos: PhotoStore;
  readonly #outbox: Outbox;
  readonly #desk: DeskLine;
  readonly #tabs: Tabs;
  readonly #byVisit = new Map<string, VisitNow>();
  #taken = $state.raw<Taken | null>(null);
  #visits = $state.raw<VisitNow[]>([]);
  #found = $state.raw<(Bodies['apiary_found'] & { apiary: string })[]>([]);
  #unsent = $state.raw<Unsent>(NOTHING_UNSENT);
  #standing = $state.raw<Standing>({ is: 'resting', next_at: null, why: null });
  #setAside = $state.raw<SetAside[]>([]);
  #isRevoked = $state(false);
  #satchelTrouble = $state<Refusal['kind'] | 'map' | null>(null);
  #writing = new Set<Promise<unknown>>();
  #drafting: Promise<unknown> = Promise.resolve();
  #showing: Promise<unknown> = Promise.resolve();

  private constructor(base: Base, vault: Vault, sealer: Sealer, device: string, secret: Secret, onCleared: () => void, clear: () => Promise<void>) {
    this.device = device;
    this.who = secret.who;
    this.#base = base;
    this.#vault = vault;
    this.#desk = new DeskLine(secret.token);
    this.#lines = new LineStore({ base, vault, sealer, device, now: () => new Date() });
    this.#photos = new PhotoStore({ base, vault, sealer });
    this.#tabs = new Tabs((told) => {
      if (told === 'cleared') onCleared();
      else if (told === 'satchel') void this.#readSatchel();
      else void this.refresh();
    });
    this.#outbox = new Outbox({
      lines: this.#lines,
      photos: this.#photos,
      desk: this.#desk,
      now: () => Date.now(),
      chance: () => crypto.getRandomValues(new Uint32Array(1))[0]! / 2 ** 32,
      onChange: () => void this.#sent(),
      onStanding: (standing) => {
        this.#standing = standing;
        if (standing.why?.kind === 'away') void renewal.wakeOnNetwork();
      },
      onSetAside: (line, why) => (this.#setAside = [...this.#setAside, { line, why }]),
      onWipe: clear,
    });
  }

  static async open(base: Base, vault: Vault, onCleared: () => void, onWipe: (book: OpenBook) => Promise<void>): Promise<OpenBook> {
    const kept = await single(base, 'device');
    if (!kept) throw new Error('Expected an enrolled phone.');
    const secret = await vault.openJson<Secret>(kept.secret, 'secret');
    const sealer = await Sealer.to(kept.desk_seal_key);
    const book: OpenBook = new OpenBook(base, vault, sealer, kept.device, secret, onCleared, () => onWipe(book));
    await Promise.all([book.refresh(), book.#readSatchel()]);
    return book;
  }

  get satchel(): Satchel | null {
    return this.#taken?.satchel ?? null;
  }
  get takenAt(): string | null {
    return this.#taken?.taken_at ?? null;
  }
  get satchelTrouble(): string | null {
    return this.#satchelTrouble;
  }
  get visits(): VisitNow[] {
    return this.#visits;
  }
  get found(): (Bodies['apiary_found'] & { apiary: string })[] {
    return this.#found;
  }
  get unsent(): Unsent {
    return this.#unsent;
  }
  get unsentVisits(): ReadonlySet<string> {
    return this.#unsent.visits;
  }
  get standing(): Standing {
    return this.#standing;
  }
  /* The desk took this phone's rights: what it hands in is set aside there. */
  get isRevoked(): boolean {
    return this.#isRevoked || this.#standing.is === 'stranger';
  }
  get setAside(): SetAside[] {
    return this.#setAside;
  }

  /* Read what other tabs wrote, and show it. */
  async refresh(): Promise<void> {
    await this.#show(await this.#lines.catchUp());
    await this.#count();
  }

  async write<K extends Kind>(kind: K, body: Bodies[K], of: { visit: string | null; apiary: string | null }): Promise<Line<K>> {
    const plain = $state.snapshot(body) as Bodies[K];
    return this.#record(() => this.#lines.append(async () => ({ kind, body: plain, ...of })));
  }

  async begin(apiary: string, purpose: Purpose): Promise<string> {
    const visit = uuidv7();
    await this.write('visit_begun', { purpose, visited_on: this.#today() }, { visit, apiary });
    return visit;
  }

  async keepPhoto(
    picture: Blob,
    about: { visit: string; apiary: string; colony: number | null; note: string; width: number; height: number },
  ): Promise<string> {
    const { visit, apiary, ...rest } = about;
    const photo = await this.#photos.prepare(picture);
    const { bytes, media_type, photo: name } = photo.kept;
    const body: Bodies['photo_taken'] = { photo: name, bytes, media_type, ...rest };
    await this.#record(() => this.#lines.append(async () => ({ kind: 'photo_taken', body, visit, apiary }), photo));
    return name;
  }

  async photo(name: string): Promise<Blob | null> {
    const kept = await this.#photos.bytes(name);
    return kept && new Blob([kept.bytes], { type: kept.media_type });
  }

  async sign(visit: string, signed: Omit<Bodies['visit_signed'], 'lines' | 'digest'>): Promise<void> {
    const plain = $state.snapshot(signed) as typeof signed;
    await this.#record(() =>
      this.#lines.append<'visit_signed'>(async () => {
        await this.#lines.catchUp();
        const before = this.#linesOf(visit).filter((line) => line.device === this.device);
        const names = before.sort(inOrder).map((line) => line.line);
        const body = { ...plain, lines: names.length, digest: await visitDigest(names) };
        return { kind: 'visit_signed', body, visit, apiary: before[0]?.apiary ?? null };
      }),
    );
  }

  async keepDraft(key: string, text: string | null): Promise<void> {
    const writing = this.#drafting.then(async () => {
      if (text === null) return this.#base.delete('drafts', key);
      const cipher = await this.#vault.closeJson(text, `draft ${key}`);
      await this.#base.put('drafts', cipher, key);
    });
    this.#drafting = writing.catch(() => undefined);
    await writing.catch((error: unknown) => {
      throw notRecorded(error);
    });
  }

  async draft(key: string): Promise<string | null> {
    const cipher = await this.#base.get('drafts', key);
    return cipher ? this.#vault.openJson<string>(cipher, `draft ${key}`) : null;
  }

  /* At once, by the button; true when nothing is left. */
  async handIn(): Promise<boolean> {
    await this.refresh();
    return this.#outbox.handIn();
  }

  handInSoon(isFresh = false): void {
    this.#outbox.soon(isFresh);
  }

  /* Asked at the start and after a refusal; a wipe waits until what is unsent was handed in. */
  async askState(): Promise<void> {
    try {
      const state = await this.#desk.state();
      this.#isRevoked = state.is_revoked;
      if (state.wipe) await this.#wipe();
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
    }
  }

  async takeAlong(): Promise<void> {
    try {
      await this.#take();
      if (this.satchel?.stands_on && this.satchel.on !== this.satchel.stands_on) await this.#take();
      this.#satchelTrouble = null;
    } catch (error) {
      if (!(error instanceof Refusal)) throw notRecorded(error);
      this.#satchelTrouble = error.kind;
      if (error.kind !== 'away') await this.askState();
      return;
    }
    try {
      await takeWords(this.#base, this.satchel?.words_locale ?? 'en');
      await takeMap(this.#desk);
    } catch (error) {
      console.warn('The map was not taken along.', error);
      this.#satchelTrouble = 'map';
    }
  }

  async takeFromParcel(file: Blob): Promise<void> {
    const satchel = await satchelFrom(await file.text(), this.#base, this.#vault);
    const kept = this.satchel;
    if (kept && kept.made_at > satchel.made_at) throw new Trouble('fieldbook.phone_parcel_older');
    await keepSatchel(this.#base, this.#vault, satchel, null, new Date()).catch((error: unknown) => {
      throw notRecorded(error);
    });
    await this.#readSatchel();
    this.#tabs.tell('satchel');
  }

  /* Take visits off the phone that the desk has whole and that are over. */
  async tidy(keptDays = KEPT_DAYS): Promise<void> {
    const parts = { base: this.#base, lines: this.#lines, photos: this.#photos };
    const gone = await letGo(parts, this.#byVisit.values(), Date.now() - keptDays * DAY_MS);
    for (const visit of gone) this.#byVisit.delete(visit);
    this.#list();
  }

  /* Wait for what is being written, then let go of the keys. */
  async close(): Promise<void> {
    this.#outbox.stop();
    await Promise.allSettled([...this.#writing, this.#drafting]);
    this.#tabs.close();
  }

  tellCleared(): void {
    this.#tabs.tell('cleared');
  }

  async sayWiped(): Promise<void> {
    await this.#desk.wiped().catch(() => undefined); // the desk then sees it by the silence
  }

  async #record<K extends Kind>(work: () => Promise<Line<K>>): Promise<Line<K>> {
    const writing = work();
    this.#writing.add(writing);
    try {
      const line = await writing;
      await this.#show([line]);
      await this.#count();
      this.#tabs.tell('written');
      this.#outbox.soon();
      return line;
    } catch (error) {
      // make room for the next try with what the desk has anyway
      if (error instanceof Trouble && error.key === 'fieldbook.phone_full') void this.tidy(0).catch(() => undefined);
      throw error;
    } finally {
      this.#writing.delete(writing);
    }
  }

  #linesOf(visit: string): Line[] {
    return [...this.#lines.lines.values()].filter((line) => line.visit === visit);
  }

  /* One after the other: what is folded later is folded from more. */
  #show(lines: readonly Line[]): Promise<void> {
    const shown = this.#showing.then(() => this.#fold(lines));
    this.#showing = shown.catch(() => undefined);
    return shown;
  }

  async #fold(lines: readonly Line[]): Promise<void> {
    if (lines.length === 0) return;
    const visits = new Set(lines.flatMap((line) => line.visit ?? []));
    const of = new Map<string, Line[]>([...visits].map((visit) => [visit, []]));
    for (const line of this.#lines.lines.values()) if (line.visit) of.get(line.visit)?.push(line);
    for (const [visit, own] of of) this.#byVisit.set(visit, await foldVisit(visit, own));
    if (lines.some((line) => line.kind === 'apiary_found')) {
      this.#found = foldFound(this.#lines.lines.values()).map(({ apiary, body }) => ({ ...body, apiary }));
    }
    this.#list();
  }

  /* Newest first: the names are made in order of time. */
  #list(): void {
    this.#visits = [...this.#byVisit.values()].sort((a, b) => (a.visit < b.visit ? 1 : -1));
  }

  async #count(): Promise<void> {
    this.#unsent = await countUnsent(this.#base, this.#lines.lines);
  }

  async #sent(): Promise<void> {
    await this.#count();
    this.#tabs.tell('sent');
  }

  /* Where the desk stands at a fixed day (the demonstration), the phone stands there too. */
  #today(): string {
    return this.satchel?.stands_on ?? today(new Date());
  }

  async #take(): Promise<void> {
    const locale = currentLocale();
    const taken = await takeSatchel(this.#base, this.#vault, this.#desk, this.#today(), new Date(), locale);
    if (taken) this.#tabs.tell('satchel');
    await this.#readSatchel();
  }

  async #readSatchel(): Promise<void> {
    this.#taken = await keptSatchel(this.#base, this.#vault);
  }

  /* What is personal goes at once; the rest when it was handed in. */
  async #wipe(): Promise<void> {
    await this.#base.delete('singles', 'satchel');
    this.#taken = null;
    this.#outbox.wipeWhenEmpty();
    await this.#outbox.handIn();
  }
}
