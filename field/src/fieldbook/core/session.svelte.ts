/* Where the phone stands: starting, to be enrolled, locked, open; and what leads from one to the other. */

import { type Base, clearBase, clearReadable, keepSingle, openBase, single } from './base';
import { OpenBook } from './book.svelte';
import { DeskLine } from './desk';
import { askToStay, changePin, enrol, type Wish } from './enrol';
import { beginWords, wordsWithoutStore } from './language';
import { unsentParcels } from './parcel';
import { MAP_CACHE } from './map_cache';
import { notRecorded, Trouble } from './trouble';
import { Vault, waitLeft } from './vault';

export type Place = 'starting' | 'unsupported' | 'enrol' | 'locked' | 'open' | 'sealed' | 'renewed' | 'wordless';

/* Minutes in the background after which the book locks itself (project choice; can be set on the phone). */
const LOCK_MINUTES = 10;
export const LOCK_CHOICES = [2, 5, 10, 30, 60] as const;
/* Whether the phone is to clear itself is asked again when the desk did not answer: soon, then ever more rarely. */
const FIRST_ASK_MS = 2_000;
const LONGEST_ASK_MS = 300_000;
const SATCHEL_AGE_MS = 10 * 60_000;
const OUR_STORAGE = ['broodsweep.timers', 'broodsweep.fieldbook.'];

class Session {
  #place = $state<Place>('starting');
  #book = $state.raw<OpenBook | null>(null);
  #label = $state('');
  #isKept = $state<boolean | null>(null);
  #lockMinutes = $state(LOCK_MINUTES);
  #lockedUnsent = $state.raw({ lines: 0, photos: 0 });
  #wasCleared = $state(false);
  #base: Base | null = null;
  #hiddenAt: { wall: number; steady: number } | null = null;
  #lockTimer: ReturnType<typeof setTimeout> | undefined;
  #askTimer: ReturnType<typeof setTimeout> | undefined;

  get place(): Place {
    return this.#place;
  }
  get book(): OpenBook | null {
    return this.#book;
  }
  get label(): string {
    return this.#label;
  }
  /* Whether the browser promised not to clear what is kept; null before it was asked. */
  get isKept(): boolean | null {
    return this.#isKept;
  }
  get lockMinutes(): number {
    return this.#lockMinutes;
  }
  get lockedUnsent(): { lines: number; photos: number } {
    return this.#lockedUnsent;
  }
  /* The phone was cleared because the desk asked for it. */
  get wasCleared(): boolean {
    return this.#wasCleared;
  }

  get #opened(): Base {
    if (!this.#base) throw new Error('Expected the store to be open.');
    return this.#base;
  }

  async start(): Promise<void> {
    const isAble = globalThis.isSecureContext && globalThis.crypto?.subtle && globalThis.indexedDB;
    const base = isAble ? await openBase(() => this.#stepBack()).catch((error: unknown) => error) : null;
    if (base === null || base instanceof Error) {
      await wordsWithoutStore();
      // a store of a newer book is not touched by an older one
      this.#place = base?.name === 'VersionError' ? 'renewed' : 'unsupported';
      return;
    }
    this.#base = base as Base;
    const hasWords = await beginWords(this.#base);
    this.#lockMinutes = (await single(this.#base, 'lock_minutes')) ?? LOCK_MINUTES;
    document.addEventListener('visibilitychange', () => this.#seenOrHidden());
    window.addEventListener('online', () => this.#online());
    navigator.serviceWorker?.addEventListener('message', (event: MessageEvent<unknown>) => {
      if (event.data === 'hand-in') this.#book?.handInSoon(true);
    });
    if (hasWords) await this.#settle();
    else this.#place = 'wordless';
  }

  async #settle(): Promise<void> {
    const device = await single(this.#opened, 'device');
    this.#label = device?.label ?? '';
    const vault = await single(this.#opened, 'vault');
    await this.#countLocked();
    this.#place = !device ? 'enrol' : vault ? 'locked' : 'sealed';
    if (this.#place === 'locked') void this.#askWhileLocked(device?.device ?? '');
  }

  /* A phone in wrong hands is cleared without its PIN: what can be read goes, what is sealed to the desk stays. */
  async #askWhileLocked(device: string, wait_ms = FIRST_ASK_MS): Promise<void> {
    clearTimeout(this.#askTimer);
    const isAsked = await new DeskLine(null).isToBeWiped(device).catch(() => null);
    if (this.#place !== 'locked') return;
    if (isAsked === null && navigator.onLine) {
      const next_ms = Math.min(wait_ms * 2, LONGEST_ASK_MS);
      this.#askTimer = setTimeout(() => void this.#askWhileLocked(device, next_ms), wait_ms);
    }
    if (!isAsked) return;
    if (await clearReadable(this.#opened)) return this.#settle();
    await this.#clear();
    this.#wasCleared = true;
  }

  async #countLocked(): Promise<void> {
    const [lines, photos] = await Promise.all([this.#opened.count('unsent'), this.#opened.count('unsent_photos')]);
    this.#lockedUnsent = { lines, photos };
  }

  async enrol(wish: Wish): Promise<void> {
    await enrol(this.#opened, wish).catch((error: unknown) => {
      throw notRecorded(error);
    });
    this.#wasCleared = false;
    await this.#settle();
    await this.unlock(wish.pin);
  }

  /* Seconds that must pass before the next PIN may be tried. */
  async waitLeft(): Promise<number> {
    const tries = await single(this.#opened, 'tries');
    return tries ? waitLeft(tries, Date.now()) : 0;
  }

  /* The try is counted before it is looked at: killing the app does not give a free one. */
  async unlock(pin: string): Promise<void> {
    const base = this.#opened;
    const left = await this.waitLeft();
    if (left > 0) throw new Trouble('fieldbook.phone_wait', { count: left });
    const kept = await single(base, 'vault');
    if (!kept) throw new Error('Expected a vault.');
    const tries = (await single(base, 'tries'))?.count ?? 0;
    // with the storage full the book must still open: the count is then not kept
    await keepSingle(base, 'tries', { count: tries + 1, last_at: Date.now() }).catch(() => undefined);
    const vault = await Vault.open(kept, pin);
    await base.delete('singles', 'tries').catch(() => undefined);
    const book = await OpenBook.open(base, vault, () => void this.#closed(), (open) => this.#wiped(open));
    this.#book = book;
    this.#place = 'open';
    void askToStay().then((is) => (this.#isKept = is));
    void this.#freshen(book);
  }

  async #freshen(book: OpenBook): Promise<void> {
    book.handInSoon(true);
    await book.tidy().catch((error: unknown) => console.warn('Old visits stay a little longer.', error));
    await book.askState();
    if (this.#book === book) await book.takeAlong();
  }

  /* Waits for what is being written, then forgets the keys. */
  async lock(): Promise<void> {
    const book = this.#book;
    if (!book) return;
    await book.close();
    this.#book = null;
    await this.#settle();
  }

  async setLockMinutes(minutes: number): Promise<void> {
    await keepSingle(this.#opened, 'lock_minutes', minutes).catch((error: unknown) => {
      throw notRecorded(error);
    });
    this.#lockMinutes = minutes;
  }

  changePin(old: string, pin: string, again: string): Promise<void> {
    return changePin(this.#opened, old, pin, again);
  }

  /* Files with everything that is only here; needs no PIN. */
  parcels(): Promise<{ name: string; file: Blob }[]> {
    return unsentParcels(this.#opened, new Date());
  }

  /* Clears the phone. `hasParcel`: what is unsent was saved to a file, and the user says so. */
  async signOut(hasParcel: boolean): Promise<void> {
    await this.#book?.handIn().catch(() => false);
    await this.#countLocked();
    const { lines, photos } = this.#lockedUnsent;
    if (lines + photos > 0 && !hasParcel) throw new Trouble('fieldbook.phone_unsent_stays', { count: lines + photos });
    await this.#clear();
  }

  async #wiped(book: OpenBook): Promise<void> {
    await this.#clear();
    this.#wasCleared = true;
    await book.sayWiped();
  }

  async #clear(): Promise<void> {
    const book = this.#book;
    await clearBase(this.#opened);
    await globalThis.caches?.delete(MAP_CACHE);
    for (const key of Object.keys(localStorage)) if (OUR_STORAGE.some((start) => key.startsWith(start))) localStorage.removeItem(key);
    book?.tellCleared();
    await this.#closed();
  }

  async #closed(): Promise<void> {
    const book = this.#book;
    this.#book = null;
    await book?.close();
    await this.#settle();
  }

  /* A newer book in another tab took the store over. */
  #stepBack(): void {
    void this.#book?.close();
    this.#book = null;
    this.#place = 'renewed';
  }

  #online(): void {
    const book = this.#book;
    if (!book) {
      if (this.#place === 'locked') void this.#settle();
      return;
    }
    book.handInSoon(true);
    if (Date.now() - Date.parse(book.takenAt ?? '1970-01-01') > SATCHEL_AGE_MS) void book.takeAlong();
  }

  #seenOrHidden(): void {
    const limit = this.#lockMinutes * 60_000;
    clearTimeout(this.#lockTimer);
    if (document.visibilityState === 'hidden') {
      this.#hiddenAt = { wall: Date.now(), steady: performance.now() };
      this.#lockTimer = setTimeout(() => void this.lock(), limit);
      return;
    }
    // either clock may say it: one can be set back, the other can stand still while the phone sleeps
    const away = this.#hiddenAt
      ? Math.max(Date.now() - this.#hiddenAt.wall, performance.now() - this.#hiddenAt.steady)
      : 0;
    this.#hiddenAt = null;
    if (away > limit) void this.lock();
    else void this.#book?.refresh().then(() => this.#book?.handInSoon(true));
  }
}

export const session = new Session();
