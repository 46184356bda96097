/* What the lines of a visit add up to; the desk does the same (src/broodsweep/fieldbook/fold.py). */

import type { Bodies, ColonyNow, Kind, Line, VisitNow } from '../contract';
import { visitDigest } from './bytes';

const AFTER_SIGNATURE = new Set<string>(['visit_amended', 'sample_handed']);
const NOT_AMENDABLE = new Set<string>(['visit_signed', 'visit_amended', 'apiary_found']);

export function inOrder(a: Line, b: Line): number {
  return a.number - b.number || (a.line < b.line ? -1 : a.line > b.line ? 1 : 0);
}

/* A visit in the making: a later line about the same subject takes the place of an earlier one. */
class Draft {
  begun: Line<'visit_begun'> | null = null;
  place: Bodies['place_confirmed'] | null = null;
  weather: Bodies['weather_seen'] | null = null;
  present: number | null = null;
  cleaned: Bodies['kit_cleaned'] | null = null;
  readonly colonies = new Map<number, ColonyNow>();
  readonly tests = new Map<string, Bodies['test_done']>();
  readonly samples = new Map<string, Bodies['sample_taken']>();
  readonly handed = new Map<string, Bodies['sample_handed'][]>();
  readonly photos = new Map<string, Bodies['photo_taken']>();
  readonly reports = new Map<string, Bodies['keeper_said']>();
  readonly notes: string[] = [];
  readonly amended: VisitNow['amended'] = [];
  signed: Line<'visit_signed'> | null = null;
  isDropped = false;

  take(line: Line): void {
    const { kind, body } = line;
    if (kind === 'visit_amended') {
      const told = body as Bodies['visit_amended'];
      if (NOT_AMENDABLE.has(told.kind)) return;
      this.amended.push({ number: line.number, reason: told.reason, kind: told.kind });
      this.take({ ...line, kind: told.kind, body: told.body as Bodies[Kind] });
      return;
    }
    (TAKERS[kind] as ((draft: Draft, body: Bodies[Kind], line: Line) => void) | undefined)?.(this, body, line);
  }

  colony(number: number): ColonyNow {
    let colony = this.colonies.get(number);
    if (!colony) {
      colony = { colony: number, state: null, disease: null, signs: {}, tests: [], weighed: null };
      this.colonies.set(number, colony);
    }
    return colony;
  }
}

type Taker<K extends Kind> = (draft: Draft, body: Bodies[K], line: Line<K>) => void;

const TAKERS: { [K in Kind]?: Taker<K> } = {
  visit_begun: (draft, _, line) => (draft.begun = line),
  place_confirmed: (draft, body) => (draft.place = body),
  weather_seen: (draft, body) => (draft.weather = body),
  colonies_counted: (draft, body) => (draft.present = body.present),
  kit_cleaned: (draft, body) => (draft.cleaned = body),
  colony_looked: (draft, body) => {
    const colony = draft.colony(body.colony);
    colony.state = body.state;
    colony.disease = body.disease;
  },
  sign_seen: (draft, body) => {
    const { signs } = draft.colony(body.colony);
    delete signs[body.sign];
    if (body.is_present !== null) signs[body.sign] = body.is_present;
  },
  test_done: (draft, body) => {
    draft.colony(body.colony);
    draft.tests.set(body.test, body);
  },
  evidence_weighed: (draft, body) => (draft.colony(body.colony).weighed = body),
  sample_taken: (draft, body) => void draft.samples.set(body.sample, body),
  sample_handed: (draft, body) => {
    draft.handed.set(body.sample, [...(draft.handed.get(body.sample) ?? []), body]);
  },
  photo_taken: (draft, body) => void draft.photos.set(body.photo, body),
  keeper_said: (draft, body) => void draft.reports.set(body.report, body),
  note_written: (draft, body) => void draft.notes.push(body.text),
  visit_signed: (draft, _, line) => (draft.signed = line),
  visit_dropped: (draft) => (draft.isDropped = true),
};

/* The visits that lines add up to, in order of their names; lines of no visit are passed over. */
export async function fold(lines: Iterable<Line>): Promise<VisitNow[]> {
  const byVisit = new Map<string, Map<string, Line>>();
  for (const line of lines) {
    if (line.visit === null) continue;
    const rows = byVisit.get(line.visit) ?? new Map<string, Line>();
    rows.set(line.line, line);
    byVisit.set(line.visit, rows);
  }
  const names = [...byVisit.keys()].sort();
  return Promise.all(names.map((visit) => foldVisit(visit, [...(byVisit.get(visit)?.values() ?? [])])));
}

/* One visit out of its lines, at least one. */
export async function foldVisit(visit: string, lines: readonly Line[]): Promise<VisitNow> {
  const ordered = lines.toSorted(inOrder);
  const first = ordered.find((line) => line.kind === 'visit_begun') ?? ordered[0];
  if (!first) throw new Error('Expected a visit to have a line.');
  const own = ordered.filter((line) => line.device === first.device);
  const draft = new Draft();
  const late: string[] = [];
  for (const line of own) {
    if (draft.signed && !AFTER_SIGNATURE.has(line.kind)) late.push(line.line);
    else draft.take(line);
  }
  const begun = draft.begun?.body ?? null;
  return {
    visit,
    device: first.device,
    apiary: draft.begun?.apiary ?? own.find((line) => line.apiary !== null)?.apiary ?? '',
    purpose: begun?.purpose ?? null,
    visited_on: begun?.visited_on ?? null,
    place: draft.place,
    weather: draft.weather,
    present: draft.present,
    colonies: coloniesOf(draft),
    samples: [...draft.samples].map(([name, body]) => ({ ...body, handed: draft.handed.get(name) ?? [] })),
    photos: [...draft.photos.values()],
    cleaned: draft.cleaned,
    reports: [...draft.reports.values()].filter((body) => !body.is_void),
    notes: draft.notes,
    signed: draft.signed?.body ?? null,
    amended: draft.amended,
    is_dropped: draft.isDropped,
    is_whole: draft.signed !== null && (await agrees(draft.signed, own)),
    late,
    foreign: ordered.filter((line) => line.device !== first.device).map((line) => line.line),
  };
}

function coloniesOf(draft: Draft): ColonyNow[] {
  for (const body of draft.tests.values()) if (!body.is_void) draft.colony(body.colony).tests.push(body);
  return [...draft.colonies.values()].sort((a, b) => a.colony - b.colony);
}

/* Whether the lines before the signature are those that it was put under. */
async function agrees(signed: Line<'visit_signed'>, own: readonly Line[]): Promise<boolean> {
  const before = own.filter((line) => inOrder(line, signed) < 0).map((line) => line.line);
  return before.length === signed.body.lines && (await visitDigest(before)) === signed.body.digest;
}

export interface FoundNow {
  apiary: string;
  device: string;
  found_at: string;
  body: Bodies['apiary_found'];
}

/* The apiaries found, in order of their keys; the newest line about each counts. */
export function foldFound(lines: Iterable<Line>): FoundNow[] {
  const ordered = [...lines].sort((a, b) => (a.device < b.device ? -1 : a.device > b.device ? 1 : inOrder(a, b)));
  const found = new Map<string, FoundNow>();
  for (const line of ordered) {
    if (line.kind !== 'apiary_found' || line.apiary === null) continue;
    const found_at = found.get(line.apiary)?.found_at ?? line.written_at;
    const body = line.body as Bodies['apiary_found'];
    found.set(line.apiary, { apiary: line.apiary, device: line.device, found_at, body });
  }
  return [...found.values()].sort((a, b) => (a.apiary < b.apiary ? -1 : 1));
}
