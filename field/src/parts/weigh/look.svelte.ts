/* The comb being weighed: kept while one leaves the page and comes back, within this window. */

import type { Schemas } from '../../api/client';

export type Form = Schemas['WeighFormShape'];
export type TestKind = Schemas['TestShape'];

export interface Entry {
  id: number;
  test: string;
  sample: string;
  outcome: string;
  lines: string;
  read_after_min: number | null;
  lot: string;
  log10_cells: number | null;
  mites: number | null;
  bees: number | null;
}

export interface Look {
  apiary: string;
  looked_on: string;
  season: string;
  observer: 'trained' | 'untrained';
  bought_in: string;
  fed_honey: string;
  /* A run on hidden infection may speak before the comb does. */
  uses_hidden: boolean;
  /* Number of the look that was kept before and is taken up again. */
  kept_look: number | null;
  signs: Record<string, boolean>;
  /* Lengths of ropes drawn, one for each cell; 0 is none or a clean break. */
  ropes: (number | null)[];
  tests: Entry[];
  asked: string[];
}

const KEY = 'broodsweep.look';

function empty(looked_on: string): Look {
  return {
    apiary: '',
    looked_on,
    season: '',
    observer: 'trained',
    bought_in: '',
    fed_honey: '',
    uses_hidden: true,
    kept_look: null,
    signs: {},
    ropes: [],
    tests: [],
    asked: [],
  };
}

function stored(): Look | null {
  try {
    const kept = sessionStorage.getItem(KEY);
    return kept ? { ...empty(''), ...(JSON.parse(kept) as Look) } : null;
  } catch {
    return null; // storage may be switched off
  }
}

let kept = $state<Look>(stored() ?? empty(''));

export const comb = {
  get look(): Look {
    return kept;
  },
};

export function keepLook(): void {
  const written = JSON.stringify(kept);
  try {
    sessionStorage.setItem(KEY, written);
  } catch {
    // the look then holds until the window is closed
  }
}

export function startAgain(looked_on: string, apiary = ''): void {
  kept = { ...empty(looked_on), apiary };
}

/* Come to the page for an apiary: another comb than the one at hand is begun afresh. */
export function beginAt(apiary: string, looked_on: string): void {
  if (!kept.looked_on) kept.looked_on = looked_on;
  if (!apiary || kept.apiary === apiary) return;
  if (kept.apiary && !isEmpty(kept)) startAgain(looked_on, apiary);
  else kept.apiary = apiary;
}

export function isEmpty(look: Look): boolean {
  return !Object.keys(look.signs).length && !readings(look).length;
}

let next = 0;

export function newEntry(look: Look, test: string): Entry {
  next = Math.max(next, ...look.tests.map((entry) => entry.id)) + 1;
  return {
    id: next,
    test,
    sample: '',
    outcome: '',
    lines: '',
    read_after_min: null,
    lot: '',
    log10_cells: null,
    mites: null,
    bees: null,
  };
}

type Reading = Schemas['ReadingAsked'];

function number(value: number | null): value is number {
  return typeof value === 'number' && Number.isFinite(value);
}

function reading(entry: Entry): Reading | null {
  const base = { test: entry.test, sample: entry.sample || null };
  if (entry.lines) {
    const lines = entry.lines === 'none' ? [] : (entry.lines.split('') as ('C' | 'T')[]);
    return { ...base, lines, lot: entry.lot || null, read_after_min: entry.read_after_min };
  }
  if (number(entry.log10_cells)) return { ...base, log10_cells: entry.log10_cells };
  if (number(entry.mites) && number(entry.bees)) return { ...base, mites: entry.mites, bees: entry.bees };
  return entry.outcome ? { ...base, outcome: entry.outcome } : null;
}

function readings(look: Look): Reading[] {
  const ropes = look.ropes.filter(number).map((length_mm) => ({ test: 'ropiness', length_mm }));
  return [...ropes, ...look.tests.map(reading).filter((row) => row !== null)];
}

function answered(value: string): boolean | null {
  return value === '' ? null : value === 'yes';
}

/* The look as the desk is asked. */
export function asked(look: Look): Schemas['LookAsked'] {
  return {
    apiary: look.apiary || null,
    looked_on: look.looked_on || null,
    signs: { ...look.signs },
    tests: readings(look),
    season: (look.season || null) as Schemas['Season'] | null,
    observer: look.observer,
    bought_in: answered(look.bought_in),
    fed_honey: answered(look.fed_honey),
    uses_hidden: look.uses_hidden,
  };
}

function said(value: boolean | null | undefined): string {
  if (value == null) return '';
  return value ? 'yes' : 'no';
}

/* Take up a look that was kept, as it was entered. */
export function takeUp(row: Schemas['KeptLookShape']): void {
  const given = row.look;
  const look: Look = {
    ...empty(given.looked_on ?? row.looked_on),
    apiary: given.apiary ?? '',
    season: given.season ?? '',
    observer: given.observer ?? 'trained',
    bought_in: said(given.bought_in),
    fed_honey: said(given.fed_honey),
    uses_hidden: given.uses_hidden ?? true,
    kept_look: row.number,
    signs: { ...given.signs },
  };
  for (const test of given.tests ?? []) {
    if (test.test === 'ropiness' && test.length_mm != null) {
      look.ropes.push(test.length_mm);
      continue;
    }
    look.tests.push({
      ...newEntry(look, test.test),
      sample: test.sample ?? '',
      outcome: test.outcome ?? '',
      lines: test.lines ? (['C', 'T'] as const).filter((line) => test.lines!.includes(line)).join('') || 'none' : '',
      read_after_min: test.read_after_min ?? null,
      lot: test.lot ?? '',
      log10_cells: test.log10_cells ?? null,
      mites: test.mites ?? null,
      bees: test.bees ?? null,
    });
  }
  kept = look;
}
