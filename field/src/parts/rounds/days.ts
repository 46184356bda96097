/* The days that something can be noted for: those of the plan still to come, else the two weeks ahead. */

import type { Rounds } from './lines';

export interface NoteDay {
  on: string;
  isRainedOff: boolean;
}

const AHEAD_DAYS = 14;
const DAY_MS = 86_400_000;

export function plusDays(first: string, days: number): string {
  return new Date(Date.parse(`${first}T00:00:00Z`) + days * DAY_MS).toISOString().slice(0, 10);
}

export function daysToNote(rounds: Rounds): NoteDay[] {
  if (rounds.plan) {
    return rounds.plan.days
      .filter((day) => !day.is_over)
      .map((day) => ({ on: day.on, isRainedOff: day.is_rained_off }));
  }
  const wet = new Set(
    rounds.noted.facts.filter((fact) => fact.kind === 'dry').flatMap((fact) => fact.days ?? []),
  );
  return Array.from({ length: AHEAD_DAYS }, (_, number) => {
    const on = plusDays(rounds.start_on, number);
    return { on, isRainedOff: wet.has(on) };
  });
}

export interface Visited {
  apiary: string;
  keeper: string | null;
  keeper_name: string | null;
}

/* The visits of the plan, each apiary once: what a name can be picked from. */
export function visitsOf(rounds: Rounds): Visited[] {
  const found = new Map<string, Visited>();
  for (const round of rounds.plan?.rounds ?? []) for (const stop of round.stops) found.set(stop.apiary, stop);
  for (const row of rounds.plan?.left_out ?? []) {
    if (!found.has(row.apiary)) found.set(row.apiary, { ...row, keeper: row.keeper ?? null });
  }
  return [...found.values()].toSorted((one, other) => one.apiary.localeCompare(other.apiary));
}
