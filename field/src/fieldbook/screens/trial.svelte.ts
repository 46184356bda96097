/* A book in memory, only to look at the screens with while they are made: it keeps nothing and sends nothing. */

import { uuidv7 } from 'uuidv7';
import type { Bodies, Book, Kind, Line, Satchel, VisitNow } from '../contract';
import { today } from '../parts/clock';
import { colonyOf } from '../parts/visit';

type Written = Line<Kind>;

function begun(line: Written): VisitNow {
  const body = line.body as Bodies['visit_begun'];
  return {
    visit: line.visit!, device: line.device, apiary: line.apiary!, purpose: body.purpose, visited_on: body.visited_on,
    place: null, weather: null, present: null, colonies: [], samples: [], photos: [], cleaned: null, reports: [],
    notes: [], signed: null, amended: [], is_dropped: false, is_whole: false, late: [], foreign: [],
  };
}

function apply(visit: VisitNow, line: { kind: Kind; number: number; body: unknown }): VisitNow {
  const body = line.body as never;
  const colony = (number: number, change: object): VisitNow => ({
    ...visit,
    colonies: [...visit.colonies.filter((row) => row.colony !== number), { ...colonyOf(visit, number), ...change }],
  });
  switch (line.kind) {
    case 'place_confirmed':
      return { ...visit, place: body };
    case 'weather_seen':
      return { ...visit, weather: body };
    case 'colonies_counted':
      return { ...visit, present: (body as Bodies['colonies_counted']).present };
    case 'colony_looked': {
      const { colony: number, state, disease } = body as Bodies['colony_looked'];
      return colony(number, { state, disease });
    }
    case 'sign_seen': {
      const { colony: number, sign, is_present } = body as Bodies['sign_seen'];
      const { [sign]: _, ...rest } = colonyOf(visit, number).signs;
      return colony(number, { signs: is_present === null ? rest : { ...rest, [sign]: is_present } });
    }
    case 'test_done': {
      const test = body as Bodies['test_done'];
      const others = colonyOf(visit, test.colony).tests.filter((row) => row.test !== test.test);
      return colony(test.colony, { tests: [...others, test] });
    }
    case 'evidence_weighed':
      return colony((body as Bodies['evidence_weighed']).colony, { weighed: body });
    case 'sample_taken':
      return { ...visit, samples: [...visit.samples, { ...(body as Bodies['sample_taken']), handed: [] }] };
    case 'sample_handed': {
      const handed = body as Bodies['sample_handed'];
      const samples = visit.samples.map((row) =>
        row.sample === handed.sample ? { ...row, handed: [...row.handed, handed] } : row,
      );
      return { ...visit, samples };
    }
    case 'photo_taken':
      return { ...visit, photos: [...visit.photos, body] };
    case 'kit_cleaned':
      return { ...visit, cleaned: body };
    case 'keeper_said': {
      const said = body as Bodies['keeper_said'];
      return { ...visit, reports: [...visit.reports.filter((row) => row.report !== said.report), said] };
    }
    case 'note_written':
      return { ...visit, notes: [...visit.notes, (body as Bodies['note_written']).text] };
    case 'visit_signed':
      return { ...visit, signed: body, is_whole: true };
    case 'visit_amended': {
      const amended = body as Bodies['visit_amended'];
      const changed = apply(visit, { kind: amended.kind, number: line.number, body: amended.body });
      return {
        ...changed,
        amended: [...visit.amended, { number: line.number, reason: amended.reason, kind: amended.kind }],
      };
    }
    case 'visit_dropped':
      return { ...visit, is_dropped: true };
    default:
      return visit;
  }
}

export class TrialBook implements Book {
  readonly device = 'trial';
  satchel = $state.raw<Satchel | null>(null);
  visits = $state.raw<VisitNow[]>([]);
  found = $state.raw<(Bodies['apiary_found'] & { apiary: string })[]>([]);
  unsent = $state.raw({ lines: 0, photos: 0, oldest_at: null as string | null });
  lines: Written[] = [];
  /* How long a line takes to the disk, and whether the disk is full. */
  delayMs = 5;
  isFull = false;
  readonly #photos = new Map<string, Blob>();
  readonly #drafts = new Map<string, string>();

  constructor(satchel: Satchel | null) {
    this.satchel = satchel;
  }

  async write<K extends Kind>(kind: K, body: Bodies[K], of: { visit: string | null; apiary: string | null }): Promise<Line<K>> {
    await new Promise((done) => setTimeout(done, this.delayMs));
    if (this.isFull) throw new Error('The storage of this phone is full.');
    const line: Line<K> = {
      line: uuidv7(), device: this.device, number: this.lines.length + 1, visit: of.visit, apiary: of.apiary, kind,
      written_at: new Date().toISOString(), body,
    };
    this.#take(line as unknown as Written);
    return line;
  }

  #take(line: Written): void {
    this.lines.push(line);
    this.unsent = { ...this.unsent, lines: this.lines.length, oldest_at: this.lines[0]!.written_at };
    if (line.kind === 'apiary_found')
      this.found = [...this.found, { ...(line.body as Bodies['apiary_found']), apiary: line.apiary! }];
    else if (line.kind === 'visit_begun') this.visits = [begun(line), ...this.visits];
    else this.visits = this.visits.map((row) => (row.visit === line.visit ? apply(row, line) : row));
  }

  async begin(apiary: string, purpose: Bodies['visit_begun']['purpose']): Promise<string> {
    const visit = uuidv7();
    await this.write('visit_begun', { purpose, visited_on: today() }, { visit, apiary });
    return visit;
  }

  async keepPhoto(
    picture: Blob,
    about: { visit: string; apiary: string; colony: number | null; note: string; width: number; height: number },
  ): Promise<string> {
    const bytes = await picture.arrayBuffer();
    const digest = new Uint8Array(await crypto.subtle.digest('SHA-256', bytes));
    const name = [...digest].map((byte) => byte.toString(16).padStart(2, '0')).join('');
    this.#photos.set(name, picture);
    const { visit, apiary, ...rest } = about;
    const body = { photo: name, bytes: picture.size, media_type: picture.type, ...rest };
    await this.write('photo_taken', body, { visit, apiary });
    return name;
  }

  async keepDraft(key: string, text: string | null): Promise<void> {
    if (text === null) this.#drafts.delete(key);
    else this.#drafts.set(key, text);
  }

  async draft(key: string): Promise<string | null> {
    return this.#drafts.get(key) ?? null;
  }

  async photo(name: string): Promise<Blob | null> {
    return this.#photos.get(name) ?? null;
  }

  async sign(visit: string, signed: Omit<Bodies['visit_signed'], 'lines' | 'digest'>): Promise<void> {
    const apiary = this.visits.find((row) => row.visit === visit)?.apiary ?? null;
    const lines = this.lines.filter((row) => row.visit === visit).length;
    await this.write('visit_signed', { ...signed, lines, digest: '' }, { visit, apiary });
  }
}
