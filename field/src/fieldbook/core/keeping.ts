/* What is only on this phone, and what may leave it. */

import type { Line, VisitNow } from '../contract';
import type { Base } from './base';
import type { LineStore } from './lines';
import type { PhotoStore } from './photos';

export interface Unsent {
  lines: number;
  photos: number;
  oldest_at: string | null;
  /* Visits of which a line or a photo is only here. */
  visits: ReadonlySet<string>;
}

export const NOTHING_UNSENT: Unsent = { lines: 0, photos: 0, oldest_at: null, visits: new Set() };

export async function countUnsent(base: Base, lines: ReadonlyMap<number, Line>): Promise<Unsent> {
  const work = base.transaction(['unsent', 'unsent_photos']);
  const [numbers, photos, first] = await Promise.all([
    work.objectStore('unsent').getAllKeys(),
    work.objectStore('unsent_photos').getAll(),
    work.objectStore('unsent').openCursor(),
  ]);
  const visits = new Set<string>();
  for (const number of [...numbers, ...photos.map((row) => row.number)]) {
    const visit = lines.get(number)?.visit;
    if (visit) visits.add(visit);
  }
  const oldest = photos.map((row) => row.written_at);
  if (first) oldest.push(first.value.written_at);
  return { lines: numbers.length, photos: photos.length, oldest_at: oldest.sort()[0] ?? null, visits };
}

/* Take visits off the phone that the desk has whole and that are over; gives their names. */
export async function letGo(
  parts: { base: Base; lines: LineStore; photos: PhotoStore },
  visits: Iterable<VisitNow>,
  before: number,
): Promise<string[]> {
  const { base, lines, photos } = parts;
  const all = [...lines.lines.values()];
  const isOld = (line: Line): boolean => Date.parse(line.written_at) < before;
  const unsent = (await countUnsent(base, lines.lines)).visits;
  const gone: string[] = [];
  for (const visit of visits) {
    const own = all.filter((line) => line.visit === visit.visit);
    if (!(visit.is_whole || visit.is_dropped) || unsent.has(visit.visit) || !own.every(isOld)) continue;
    await lines.forget(own.map((line) => line.number));
    for (const { photo } of visit.photos) await photos.forget(photo);
    gone.push(visit.visit);
  }
  await lines.forget(all.filter((line) => line.visit === null && isOld(line)).map((line) => line.number));
  return gone;
}
