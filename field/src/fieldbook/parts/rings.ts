/* What a suspect means for the rest of the day: which stops lie in which ring, and whether washing was written down. */

import type { Book, Disease, SatchelApiary, VisitNow } from '../contract';
import { inRing, type RingAnswer } from './place';
import { apiaryOf, radiiOf } from './satchel';
import { stopState, suspects, suspectToday } from './visit';

export interface RingStop {
  apiary: string;
  order: number;
  answers: { radiusM: number; answer: RingAnswer }[];
  isUnplaced: boolean;
}

/* Diseases that the suspects were named for; where it was not said, both are kept in mind. */
export function diseasesOf(visit: VisitNow): Disease[] {
  const named = suspects(visit).map((row) => row.disease);
  const all: Disease[] = ['AFB', 'EFB'];
  return named.includes(null) ? all : all.filter((disease) => named.includes(disease));
}

/* The place of the visit: as it was confirmed there, else as the register has it. */
function centreOf(book: Book, visit: VisitNow): Pick<SatchelApiary, 'longitude' | 'latitude' | 'precision_m'> | null {
  const { place } = visit;
  if (place) return { ...place, precision_m: place.accuracy_m * 2 };
  return apiaryOf(book, visit.apiary);
}

/* The stops of the round in their order; on a day without one, the sweep list that was taken along. */
function plannedOf(book: Book): { apiary: string; order: number }[] {
  const { stops = [], candidates = [] } = book.satchel ?? {};
  if (stops.length) return stops.toSorted((a, b) => a.order - b.order);
  return candidates.map(({ apiary }, place) => ({ apiary, order: place + 1 }));
}

export function stopsLeft(book: Book, visit: VisitNow): RingStop[] {
  const centre = centreOf(book, visit);
  const radii = [...new Set(diseasesOf(visit).flatMap((disease) => radiiOf(book, disease)))].sort((a, b) => a - b);
  return plannedOf(book)
    .filter((stop) => stop.apiary !== visit.apiary && stopState(book, stop.apiary) !== 'signed')
    .map((stop) => {
      const place = apiaryOf(book, stop.apiary);
      const answers = centre && place ? radii.map((radiusM) => ({ radiusM, answer: inRing(centre, place, radiusM) })) : [];
      return { apiary: stop.apiary, order: stop.order, answers, isUnplaced: !centre || !place };
    });
}

/* Clothing, hands, tools and boots: less is not a change for a clean apiary. Common practice. */
export const FULL_CHANGE = ['hands', 'tools', 'clothing', 'boots'];

/* Visits of today with a suspect colony after which a full change is not written down: no clean apiary before it. */
export function notDecontaminated(book: Book): VisitNow[] {
  return suspectToday(book).filter((visit) => !isDecontaminated(visit));
}

export function isDecontaminated(visit: VisitNow): boolean {
  return FULL_CHANGE.every((piece) => visit.cleaned?.what.includes(piece));
}
