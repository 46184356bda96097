/* A test as a physical thing: what was measured or seen becomes a result, or none (broodsweep.diagnosis.reading). */

import { type Message, say } from './message';
import type { CompiledMethod, CompiledModel, Result } from './model';

/** What was measured or seen on one test; only what applies to the test is given. */
export interface Reading {
  test: string;
  /** Which larva, jar or bag: results on one share it. None is a sample of its own. */
  sample?: string | null;
  outcome?: string | null;
  length_mm?: number | null;
  lines?: readonly string[] | null;
  read_after_min?: number | null;
  lot?: string | null;
  done_on?: string | null;
  log10_cells?: number | null;
  mites?: number | null;
  bees?: number | null;
}

/** A lot of test kits; `kit` is the name of its test. */
export interface Lot {
  lot: string;
  kit: string;
  expires_on: string;
}

export type LotState = 'good' | 'expired' | 'unknown' | 'wrong_kit' | 'not_recorded' | 'not_checked';

/** A result, and what must be said of it. */
export type Interpreted = Required<Omit<Result, 'sample'>> & { sample: string | null; notes: Message[] };

/** A reading that cannot be: `message` says what is wrong and the way out. */
export class ReadingError extends Error {
  readonly sentence: Message;

  constructor(sentence: Message) {
    super(sentence.key);
    this.sentence = sentence;
  }
}

const LOADS: Record<string, string> = {
  pcr_bees_afb: 'bees_half_clinical_log10',
  pcr_debris_afb: 'debris_half_clinical_log10',
};

/** What a rope of that length says; 0 is no rope, or one that broke clean. [mm] */
export function ropeOutcome(model: CompiledModel, lengthMm: number): string {
  const limits = model.reading;
  const most = limits['rope_longest_mm']!;
  if (!(lengthMm >= 0 && lengthMm <= most))
    throw new ReadingError(say('diagnosis.error_rope', { length: lengthMm, most }));
  if (lengthMm >= limits['rope_long_mm']!) return 'long';
  if (lengthMm >= limits['rope_positive_mm']!) return 'positive';
  return lengthMm >= limits['rope_doubtful_mm']! ? 'doubtful' : 'negative';
}

/** What a lot is worth on the day of the test; `lots` null when there is no register to look in. */
export function lotState(
  lot: string | null | undefined,
  lots: readonly Lot[] | null,
  test: string,
  on: string | null | undefined,
): LotState {
  if (!lot?.trim()) return 'not_recorded';
  if (!lots) return 'not_checked';
  const found = lots.find((entry) => entry.lot === lot);
  if (!found) return 'unknown';
  if (found.kit !== test) return 'wrong_kit';
  if (!on) return 'not_checked';
  return on > found.expires_on ? 'expired' : 'good';
}

const LOT_NOTES: Partial<Record<LotState, [string, string, boolean]>> = {
  expired: ['trust_expired', 'diagnosis.note_expired', false],
  wrong_kit: ['trust_unknown_lot', 'diagnosis.note_wrong_kit', false],
  not_recorded: ['trust_unknown_lot', 'diagnosis.note_no_lot', false],
  unknown: ['trust_unknown_lot', 'diagnosis.note_unknown_lot', false],
  not_checked: ['', 'diagnosis.note_lot_not_checked', true],
};

function methodOf(model: CompiledModel, test: string): CompiledMethod {
  const method = model.methods.find((entry) => entry.name === test);
  if (!method)
    throw new ReadingError(
      say('diagnosis.error_unknown_test', { test, known: model.methods.map((entry) => entry.name).toSorted() }),
    );
  return method;
}

/** What a lateral-flow device says of itself: too early, too late, from which lot. */
function trusted(model: CompiledModel, reading: Reading, result: Interpreted, state: LotState): Interpreted {
  const limits = model.reading;
  const test = say(`diagnosis.test.${reading.test}`);
  const less = (limit: string, key: string, stays: boolean): void => {
    result.trust *= limit ? limits[limit]! : 1;
    result.evidential &&= stays;
    result.notes.push(say(key, { test, lot: reading.lot ?? null }));
  };
  if (reading.lines != null) {
    const minutes = reading.read_after_min;
    if (minutes == null) less('trust_time_unknown', 'diagnosis.note_time_unknown', true);
    else if (minutes < limits['read_not_before_min']!) less('trust_read_early', 'diagnosis.note_read_early', false);
    else if (minutes > limits['read_not_after_min']!) less('trust_read_late', 'diagnosis.note_read_late', false);
  }
  const lot = LOT_NOTES[state];
  if (lot) less(...lot);
  return result;
}

function outcomeOf(model: CompiledModel, reading: Reading, method: CompiledMethod): string | null | undefined {
  if (reading.test === 'ropiness' && reading.length_mm != null) return ropeOutcome(model, reading.length_mm);
  const half = LOADS[reading.test];
  if (half && reading.log10_cells != null) return reading.log10_cells >= model.reading[half]! ? 'high' : 'low';
  if (reading.test === 'sugar_roll' && reading.mites != null) {
    const { mites, bees } = reading;
    if (bees == null || mites < 0 || bees <= 0)
      throw new ReadingError(say('diagnosis.error_mites', { mites, bees: bees ?? '–' }));
    return (100 * mites) / bees >= model.reading['mites_treat_per_100']! ? 'positive' : 'negative';
  }
  if (reading.outcome === 'positive' && !method.outcomes.includes('positive')) return 'low'; // found, without a count
  return reading.outcome;
}

/**
 * What a reading says, how far it is trusted, and what must be said of it.
 * `lots` is the register of lots, null when there is none to look in.
 */
export function interpret(model: CompiledModel, reading: Reading, lots: readonly Lot[] | null): Interpreted {
  const method = methodOf(model, reading.test);
  const isFlow = method.entry === 'lines';
  const base = { test: reading.test, sample: reading.sample ?? null, trust: 1, evidential: true };
  const invalid = say('diagnosis.note_invalid', { test: say(`diagnosis.test.${reading.test}`) });
  const state = lotState(reading.lot, lots, reading.test, reading.done_on);
  if (isFlow && reading.lines != null) {
    if (reading.lines.some((line) => line !== 'C' && line !== 'T'))
      throw new ReadingError(say('diagnosis.error_lines', { lines: [...reading.lines].toSorted() }));
    if (!reading.lines.includes('C')) return { ...base, outcome: null, evidential: false, notes: [invalid] };
    const outcome = reading.lines.includes('T') ? 'positive' : 'negative';
    return trusted(model, reading, { ...base, outcome, notes: [] }, state);
  }
  if (reading.outcome === 'invalid') return { ...base, outcome: null, notes: [invalid] };
  const outcome = outcomeOf(model, reading, method);
  if (!outcome || !method.outcomes.includes(outcome))
    throw new ReadingError(
      say('diagnosis.error_outcome', { test: reading.test, outcome: outcome || '–', known: method.outcomes }),
    );
  const result = { ...base, outcome, notes: [] };
  return isFlow ? trusted(model, reading, result, state) : result;
}
