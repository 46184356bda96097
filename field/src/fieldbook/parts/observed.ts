/* What the weigher is told of a colony: what was seen and tested, the season, and what was taken along of the place. */

import type { Observations, Thresholds, Weigher } from '../../weigh';
import type { Book, ColonyNow, Disease, VisitNow } from '../contract';
import { distanceM } from './place';
import { interpretAll } from './readings';
import { apiaryOf } from './satchel';

/* As broodsweep.desk.surroundings.season_of: by the month, half a year later south of the equator. */
const SEASONS = ['winter', 'spring', 'summer', 'autumn'] as const;
/* Goods that count as bees or comb bought in: broodsweep.desk.surroundings.BOUGHT_GOODS. */
const BOUGHT = ['colonies', 'nuclei', 'queens', 'brood_comb', 'drawn_comb', 'boxes'];
/* States in which a case near by counts: broodsweep.desk.surroundings. */
const KNOWN = ['confirmed', 'under_measures', 'in_reinspection', 'released'];

export function seasonOf(on: string, latitude: number | null): string | null {
  if (latitude === null) return null;
  const months = (Number(on.slice(5, 7)) % 12) + (latitude >= 0 ? 0 : 6);
  return SEASONS[Math.floor((months % 12) / 3)]!;
}

function nearestM(book: Book, visit: VisitNow): Partial<Record<Disease, number>> {
  const place = apiaryOf(book, visit.apiary);
  const found: Partial<Record<Disease, number>> = {};
  if (!place) return found;
  for (const outbreak of book.satchel?.outbreaks ?? []) {
    for (const row of outbreak.cases) {
      if (!KNOWN.includes(row.state)) continue;
      const away = row.apiary === visit.apiary ? 0 : distanceM(place, row);
      found[outbreak.disease] = Math.min(found[outbreak.disease] ?? Infinity, away);
    }
  }
  return found;
}

export function observedOf(
  weigher: Weigher,
  book: Book,
  visit: VisitNow,
  colony: ColonyNow,
): { observed: Observations; results: ReturnType<typeof interpretAll>['results']; refused: string[] } {
  const readings = colony.tests.filter((row) => !row.is_void).map((row) => row.reading);
  const { results, refused } = interpretAll(weigher, readings, book);
  const bought = visit.reports.some((row) => !row.is_void && row.direction === 'in' && BOUGHT.includes(row.goods));
  const on = visit.visited_on;
  const observed: Observations = {
    signs: colony.signs,
    results,
    season: on ? seasonOf(on, apiaryOf(book, visit.apiary)?.latitude ?? null) : null,
    observer: 'trained',
    context: { outbreak_m: nearestM(book, visit) as Record<string, number>, bought_in: bought || null },
  };
  return { observed, results, refused };
}

/* The rulebook's chances, when they were taken along whole; else the weigher's own. */
export function thresholdsOf(book: Book): Thresholds | undefined {
  const limits = book.satchel?.limits as Partial<Thresholds> | undefined;
  const numbers = [limits?.suspect_probability, limits?.exotic_probability, limits?.confirm_probability];
  return numbers.every((row) => typeof row === 'number') && limits?.confirm_by ? (limits as Thresholds) : undefined;
}
