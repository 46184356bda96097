/* What is kept on the phone, and how an older book's data becomes this one's. */

import { type DBSchema, type IDBPDatabase, type IDBPTransaction, openDB, type StoreNames } from 'idb';
import type { Bytes } from './bytes';
import type { Sealed } from './sealing';
import type { Cipher, KeptVault } from './vault';

export const BASE_NAME = 'broodsweep.fieldbook';
export const BASE_VERSION = 2;

export type Answered = 'kept' | 'already' | 'set_aside';

/* A line as it lies on the disk: its words under the data key. */
export interface KeptLine {
  number: number;
  line: string;
  cipher: Cipher;
  /* What the desk answered; null while it is only here. */
  is: Answered | null;
}

/* A line that the desk has not answered yet, sealed to the desk: it can be handed in without the PIN. */
export interface UnsentLine {
  number: number;
  line: string;
  written_at: string;
  box: Sealed;
}

/* A photo under a key of its own; that key lies beside it under the data key. */
export interface KeptPhoto {
  photo: string;
  bytes: number;
  media_type: string;
  cipher: Cipher;
  key: Cipher;
}

/* A photo that the desk does not have whole yet: its key sealed to the desk. */
export interface UnsentPhoto {
  photo: string;
  number: number;
  written_at: string;
  box: Sealed;
}

export interface KeptDevice {
  device: string;
  label: string;
  desk_seal_key: Bytes;
  desk_sign_key: Bytes;
  /* Private key that opens what the desk seals, under the data key. */
  seal_key: Cipher;
  /* Private key that signs parcels; the browser does not give it out, and it needs no PIN. */
  sign_key: CryptoKey;
  /* Token and name, under the data key. */
  secret: Cipher;
}

export interface KeptTries {
  count: number;
  last_at: number;
}

export interface KeptSatchel {
  etag: string | null;
  taken_at: string;
  cipher: Cipher;
}

export interface KeptWords {
  locale: string;
  forms: Record<string, string[]>;
}

export interface Singles {
  vault: KeptVault;
  device: KeptDevice;
  tries: KeptTries;
  next_number: number;
  satchel: KeptSatchel;
  words: KeptWords;
  lock_minutes: number;
}

export interface BookSchema extends DBSchema {
  singles: { key: string; value: unknown };
  lines: { key: number; value: KeptLine };
  unsent: { key: number; value: UnsentLine };
  photos: { key: string; value: KeptPhoto };
  unsent_photos: { key: string; value: UnsentPhoto };
  drafts: { key: string; value: Cipher };
}

export type Base = IDBPDatabase<BookSchema>;
type Upgrade = IDBPTransaction<BookSchema, StoreNames<BookSchema>[], 'versionchange'>;

/* Step n leads from version n - 1 to version n; a step that was ever released is not changed. */
const STEPS: ((base: Base, work: Upgrade) => Promise<void>)[] = [
  async (base) => {
    base.createObjectStore('singles');
    base.createObjectStore('lines', { keyPath: 'number' });
    base.createObjectStore('unsent', { keyPath: 'number' });
    base.createObjectStore('photos', { keyPath: 'photo' });
    base.createObjectStore('unsent_photos', { keyPath: 'photo' });
  },
  /* Words half written are kept too, and a line says what the desk answered. */
  async (base, work) => {
    base.createObjectStore('drafts');
    const unsent = new Set(await work.objectStore('unsent').getAllKeys());
    for (let at = await work.objectStore('lines').openCursor(); at; at = await at.continue()) {
      if (at.value.is === undefined) await at.update({ ...at.value, is: unsent.has(at.key) ? null : 'kept' });
    }
  },
];

export async function upgrade(base: Base, work: Upgrade, from: number, to: number): Promise<void> {
  for (const step of STEPS.slice(from, to)) await step(base, work);
}

/* Open the phone's store. `onRenewed` is told when a newer book in another tab needs it: this one must stand back. */
export async function openBase(onRenewed: () => void, version = BASE_VERSION): Promise<Base> {
  const base: Base = await openDB<BookSchema>(BASE_NAME, version, {
    upgrade: (made, from, to, work) => upgrade(made, work as Upgrade, from, to ?? version),
    blocking: () => {
      base.close();
      onRenewed();
    },
    terminated: onRenewed,
  });
  return base;
}

/* All of it or nothing: whatever one of the requests refuses takes the others back. */
export async function together(
  work: { abort(): void; done: Promise<void> },
  requests: readonly (() => Promise<unknown>)[],
): Promise<void> {
  const asked: Promise<unknown>[] = [work.done];
  try {
    for (const request of requests) asked.push(request());
  } catch (error) {
    work.abort();
    await Promise.allSettled(asked);
    throw error;
  }
  await Promise.all(asked);
}

export async function single<N extends keyof Singles>(base: Base, name: N): Promise<Singles[N] | undefined> {
  return (await base.get('singles', name)) as Singles[N] | undefined;
}

export async function keepSingle<N extends keyof Singles>(base: Base, name: N, value: Singles[N]): Promise<void> {
  const work = base.transaction('singles', 'readwrite', { durability: 'strict' });
  await Promise.all([work.store.put(value, name), work.done]);
}

/* Forget everything, the words of the language apart: they are nobody's. */
export async function clearBase(base: Base): Promise<void> {
  const words = await single(base, 'words');
  const stores = Array.from(base.objectStoreNames);
  const work = base.transaction(stores, 'readwrite', { durability: 'strict' });
  const done = stores.map((name) => work.objectStore(name).clear());
  if (words) done.push(work.objectStore('singles').put(words, 'words').then(() => undefined));
  await Promise.all([...done, work.done]);
}

/* Forget what this phone can read, and keep what is sealed to the desk and was not handed in; whether there is any. */
export async function clearReadable(base: Base): Promise<boolean> {
  const unsent = new Set(await base.getAllKeys('unsent_photos'));
  const isLeft = unsent.size + (await base.count('unsent')) > 0;
  const stores = ['singles', 'lines', 'drafts', 'photos'] as const;
  const work = base.transaction(stores, 'readwrite', { durability: 'strict' });
  const singles = work.objectStore('singles');
  const done: Promise<unknown>[] = [work.objectStore('lines').clear(), work.objectStore('drafts').clear()];
  for (const name of ['vault', 'satchel', 'tries']) done.push(singles.delete(name));
  const photos = work.objectStore('photos');
  for (const photo of await photos.getAllKeys()) if (!unsent.has(photo)) done.push(photos.delete(photo));
  await Promise.all([...done, work.done]);
  return isLeft;
}
