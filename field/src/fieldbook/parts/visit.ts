/* A visit as it stands: what was done, what is missing, and the next step. */

import type { Book, ColonyNow, VisitNow } from '../contract';
import { dayOf } from './satchel';
import { w } from './say';
import { to } from './way';

export const STEPS = ['place', 'weather', 'colonies', 'keeper', 'washing', 'notes', 'sign'] as const;
export type Step = (typeof STEPS)[number];
export type StepState = 'done' | 'begun' | 'open' | 'optional';

export function colonyOf(visit: VisitNow, colony: number): ColonyNow {
  const known = visit.colonies.find((row) => row.colony === colony);
  return known ?? { colony, state: null, disease: null, signs: {}, tests: [], weighed: null };
}

/* Hives as they stand: as many as were counted, and any beyond that something was written of. */
export function numbersOf(visit: VisitNow): number[] {
  const most = Math.max(visit.present ?? 0, ...visit.colonies.map((row) => row.colony));
  return Array.from({ length: most }, (_, place) => place + 1);
}

export interface Tally {
  present: number | null;
  clean: number;
  suspect: number;
  notOpened: number;
  unlooked: number;
}

export function tallyOf(visit: VisitNow): Tally {
  const states = numbersOf(visit).map((number) => colonyOf(visit, number).state);
  const count = (state: ColonyNow['state']): number => states.filter((row) => row === state).length;
  return {
    present: visit.present,
    clean: count('clean'),
    suspect: count('suspect'),
    notOpened: count('not_opened'),
    unlooked: count(null),
  };
}

/* The tally in words; of what there is none, only the clean ones are said. */
export function tallyText(tally: Tally): string {
  const parts = [w('tally_clean', { count: tally.clean })];
  if (tally.suspect) parts.push(w('tally_suspect', { count: tally.suspect }));
  if (tally.notOpened) parts.push(w('tally_not_opened', { count: tally.notOpened }));
  if (tally.unlooked) parts.push(w('unlooked', { count: tally.unlooked }));
  return parts.join(' · ');
}

export function suspects(visit: VisitNow): ColonyNow[] {
  return visit.colonies.filter((row) => row.state === 'suspect').toSorted((a, b) => a.colony - b.colony);
}

export function isWeatherWritten(visit: VisitNow): boolean {
  const seen = visit.weather;
  return !!seen && seen.wind !== null && seen.rain !== null && seen.are_flying !== null && seen.temperature_c !== null;
}

export function stateOf(visit: VisitNow, step: Step): StepState {
  const tally = tallyOf(visit);
  switch (step) {
    case 'place':
      return visit.place ? 'done' : 'open';
    case 'weather':
      return isWeatherWritten(visit) ? 'done' : visit.weather ? 'begun' : 'open';
    case 'colonies':
      if (visit.present === null && !visit.colonies.length) return 'open';
      return tally.unlooked || visit.present === null ? 'begun' : 'done';
    case 'keeper':
      return visit.reports.some((row) => !row.is_void) ? 'done' : 'optional';
    case 'washing':
      return visit.cleaned?.what.length ? 'done' : 'open';
    case 'notes':
      return visit.notes.length ? 'done' : 'optional';
    case 'sign':
      return visit.signed ? 'done' : 'open';
  }
}

export function pathOf(visit: string, step: Step): string {
  return to('visit', visit, step);
}

/* Where the thumb goes from a step: on to the next that is not done; the keeper is always asked, notes need not be. */
export function nextStep(visit: VisitNow, after: Step): Step {
  const isAhead = (step: Step): boolean =>
    step === 'sign' || ['open', 'begun'].includes(stateOf(visit, step)) || (step === 'keeper' && stateOf(visit, step) === 'optional');
  return STEPS.slice(STEPS.indexOf(after) + 1).find(isAhead) ?? 'sign';
}

export type StopState = 'signed' | 'in_hand' | 'not_begun';

/* Visits of today at an apiary, those begun by mistake left out; newest first. */
export function visitsToday(book: Book, apiary: string, on = dayOf(book)): VisitNow[] {
  return book.visits.filter((row) => row.apiary === apiary && row.visited_on === on && !row.is_dropped);
}

export function stopState(book: Book, apiary: string, on = dayOf(book)): StopState {
  const made = visitsToday(book, apiary, on);
  if (made.some((row) => !row.signed)) return 'in_hand';
  return made.length ? 'signed' : 'not_begun';
}

/* Visits in which something suspect was seen today, for which decontamination is not written down after it. */
export function suspectToday(book: Book, on = dayOf(book)): VisitNow[] {
  return book.visits.filter((row) => row.visited_on === on && !row.is_dropped && suspects(row).length > 0);
}
