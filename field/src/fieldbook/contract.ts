/* What phone and desk say to each other: docs/fieldbook.md, as types. */

export type Purpose = 'sweep' | 'reinspection' | 'surveillance' | 'call' | 'training';
export type Disease = 'AFB' | 'EFB';
export type ColonyState = 'clean' | 'not_opened' | 'suspect';
export type Strokes = [number, number][][];

export interface Bodies {
  visit_begun: { purpose: Purpose; visited_on: string };
  place_confirmed: {
    longitude: number;
    latitude: number;
    accuracy_m: number;
    by: 'gps' | 'hand';
    is_here: boolean;
  };
  weather_seen: {
    temperature_c: number | null;
    wind: 'calm' | 'light' | 'moderate' | 'strong' | null;
    rain: 'none' | 'drizzle' | 'rain' | null;
    are_flying: boolean | null;
  };
  colonies_counted: { present: number };
  colony_looked: { colony: number; state: ColonyState; disease: Disease | null };
  sign_seen: { colony: number; sign: string; is_present: boolean | null };
  test_done: { test: string; colony: number; reading: Record<string, unknown>; is_void: boolean };
  sample_taken: {
    sample: string;
    colony: number;
    of: 'brood_comb' | 'larva' | 'bees' | 'honey' | 'debris';
    note: string;
  };
  sample_handed: { sample: string; to: string; handed_at: string; note: string };
  photo_taken: {
    photo: string;
    bytes: number;
    media_type: string;
    width: number;
    height: number;
    colony: number | null;
    note: string;
  };
  kit_cleaned: { what: string[]; how: string };
  keeper_said: {
    report: string;
    direction: 'in' | 'out';
    goods: string;
    quantity: number | null;
    moved_on: string | null;
    other: string | null;
    other_said: string;
    is_void: boolean;
  };
  evidence_weighed: {
    colony: number;
    conditions: Record<string, number>;
    verdict: string;
    model: string;
  };
  note_written: { text: string };
  apiary_found: {
    longitude: number;
    latitude: number;
    accuracy_m: number;
    colonies: number;
    keeper_name: string;
    keeper_phone: string;
    note: string;
  };
  visit_signed: {
    by: string;
    role: string;
    keeper_was_there: boolean;
    keeper_name: string;
    strokes: Strokes;
    keeper_strokes: Strokes;
    lines: number;
    digest: string;
  };
  visit_amended: { reason: string; kind: Kind; body: Record<string, unknown> };
  visit_dropped: { reason: string };
}

export type Kind = keyof Bodies;

export interface Line<K extends Kind = Kind> {
  line: string;
  device: string;
  number: number;
  visit: string | null;
  apiary: string | null;
  kind: K;
  written_at: string;
  body: Bodies[K];
}

export interface LineAnswer {
  line: string;
  is: 'kept' | 'already' | 'set_aside';
  why: string | null;
}

/* A visit as its lines add up to it: docs/fieldbook.md, "What lines add up to". */
export interface ColonyNow {
  colony: number;
  state: ColonyState | null;
  disease: Disease | null;
  signs: Record<string, boolean>;
  tests: Bodies['test_done'][];
  weighed: Bodies['evidence_weighed'] | null;
}

export interface VisitNow {
  visit: string;
  device: string;
  apiary: string;
  /* null only while the line that began the visit is not there (at the desk, or in the vectors). */
  purpose: Purpose | null;
  visited_on: string | null;
  place: Bodies['place_confirmed'] | null;
  weather: Bodies['weather_seen'] | null;
  present: number | null;
  colonies: ColonyNow[];
  samples: (Bodies['sample_taken'] & { handed: Bodies['sample_handed'][] })[];
  photos: Bodies['photo_taken'][];
  cleaned: Bodies['kit_cleaned'] | null;
  reports: Bodies['keeper_said'][];
  notes: string[];
  signed: Bodies['visit_signed'] | null;
  amended: { number: number; reason: string; kind: Kind }[];
  is_dropped: boolean;
  is_whole: boolean;
  late: string[];
  foreign: string[];
}

export interface Stop {
  apiary: string;
  order: number;
  arrive: string | null;
  leave: string | null;
  why: string[];
  bring: string[];
  purpose: Purpose;
}

export interface SatchelApiary {
  apiary: string;
  longitude: number;
  latitude: number;
  precision_m: number;
  colonies: number;
  keeper: string | null;
  notes: string | null;
  case_state: string | null;
  last_visited_on: string | null;
  history: { on: string; text: string }[];
}

export interface Satchel {
  satchel: string;
  made_at: string;
  on: string;
  /* Where the desk stands at a fixed day (the demonstration): the day of the phone too. */
  stands_on?: string | null;
  who: string;
  inspector: string | null;
  role: string;
  stops: Stop[];
  candidates: { apiary: string; score: number; reasons: string[] }[];
  apiaries: SatchelApiary[];
  keepers: { keeper: string; name: string | null; phone: string | null; address: string | null }[];
  outbreaks: {
    outbreak: string;
    disease: Disease;
    radii_m: number[];
    cases: { apiary: string; state: string; longitude: number; latitude: number }[];
  }[];
  lots: { lot: string; kit: string; expires_on: string; count: number | null }[];
  rules: { key: string; text: string; source: string }[];
  limits: Record<string, unknown>;
  words_locale: string;
}

/* What the phone's book offers to its screens (core/book.svelte.ts makes it; screens know nothing else). */
export interface Book {
  readonly device: string;
  readonly satchel: Satchel | null;
  /* Every visit on this phone, newest first; changes are seen by Svelte. */
  readonly visits: VisitNow[];
  /* Apiaries found on the way, on this phone. */
  readonly found: (Bodies['apiary_found'] & { apiary: string })[];
  /* Lines and photos that are on this phone only, and since when. */
  readonly unsent: { lines: number; photos: number; oldest_at: string | null };
  /* Visits of which something is on this phone only. */
  readonly unsentVisits?: ReadonlySet<string>;
  /* Resolves when the line is on the disk: until then nothing may be shown as recorded. */
  write<K extends Kind>(
    kind: K,
    body: Bodies[K],
    of: { visit: string | null; apiary: string | null },
  ): Promise<Line<K>>;
  begin(apiary: string, purpose: Purpose): Promise<string>;
  /* Takes a picture's bytes (already without metadata), keeps them, writes photo_taken. */
  keepPhoto(
    picture: Blob,
    about: { visit: string; apiary: string; colony: number | null; note: string; width: number; height: number },
  ): Promise<string>;
  photo(name: string): Promise<Blob | null>;
  /* Counts the lines, makes the digest, writes visit_signed. */
  sign(
    visit: string,
    signed: Omit<Bodies['visit_signed'], 'lines' | 'digest'>,
  ): Promise<void>;
  /* Words half written, kept through a kill; null forgets them. */
  keepDraft(key: string, text: string | null): Promise<void>;
  draft(key: string): Promise<string | null>;
}
