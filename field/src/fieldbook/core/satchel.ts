/* What was taken along: fetched when the desk has newer, kept encrypted, and the map and the words with it. */

import type { Satchel } from '../contract';
import { type Base, keepSingle, single } from './base';
import type { DeskLine } from './desk';
import { fetchWords } from './language';
import { MAP_CACHE } from './map_cache';
import type { Vault } from './vault';

/* A layer above this stays at the desk: a phone is not filled with a district's tiles (project choice). */
const LAYER_BYTES = 30_000_000;

export interface Taken {
  satchel: Satchel;
  taken_at: string;
}

export async function keptSatchel(base: Base, vault: Vault): Promise<Taken | null> {
  const kept = await single(base, 'satchel');
  if (!kept) return null;
  return { satchel: await vault.openJson<Satchel>(kept.cipher, 'satchel'), taken_at: kept.taken_at };
}

export async function keepSatchel(base: Base, vault: Vault, satchel: Satchel, etag: string | null, now: Date): Promise<Taken> {
  const taken_at = now.toISOString();
  await keepSingle(base, 'satchel', { etag, taken_at, cipher: await vault.closeJson(satchel, 'satchel') });
  return { satchel, taken_at };
}

/* Ask the desk; null when it has nothing newer. What is there stays when it does not answer. */
export async function takeSatchel(base: Base, vault: Vault, desk: DeskLine, on: string, now: Date, locale: string): Promise<Taken | null> {
  const kept = await single(base, 'satchel');
  const found = await desk.satchel(on, kept?.etag ?? null, locale);
  if (found) return keepSatchel(base, vault, found.satchel, found.etag, now);
  if (kept) await keepSingle(base, 'satchel', { ...kept, taken_at: now.toISOString() });
  return null;
}

/* The map's layers and its code, for where there is no network. Nothing of it is about anybody. */
export async function takeMap(desk: DeskLine): Promise<void> {
  if (!globalThis.caches) return;
  const cache = await caches.open(MAP_CACHE);
  const code = (await (await desk.ask('GET', '/field/map.json')).json()) as { files: string[] };
  for (const file of code.files) if (!(await cache.match(file))) await cache.add(file);
  const told = await desk.ask('GET', '/api/basemap');
  const { layers } = (await told.clone().json()) as { layers: { address: string }[] };
  for (const { address } of layers) {
    const layer = await desk.ask('GET', address, { ms: 180_000 });
    if (Number(layer.headers.get('content-length') ?? 0) <= LAYER_BYTES) await cache.put(address, layer);
  }
  // Last: a list of layers that is here has its layers here.
  await cache.put('/api/basemap', told);
}

export async function takeWords(base: Base, locale: string): Promise<void> {
  const words = await fetchWords(locale);
  if (words) await keepSingle(base, 'words', words);
}
