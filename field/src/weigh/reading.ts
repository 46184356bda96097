/* A test as a physical thing: what was measured or seen becomes an outcome, or no result at all. */

import type { CompiledModel, Result } from './model';

/** What a rope of that length says; 0 is no rope, or one that broke clean. [mm] */
export function ropeOutcome(model: CompiledModel, lengthMm: number): string {
  const limits = model.reading;
  if (!(lengthMm >= 0 && lengthMm <= limits['rope_longest_mm']!)) throw new RangeError(`rope of ${lengthMm} mm`);
  if (lengthMm >= limits['rope_long_mm']!) return 'long';
  if (lengthMm >= limits['rope_positive_mm']!) return 'positive';
  return lengthMm >= limits['rope_doubtful_mm']! ? 'doubtful' : 'negative';
}

export interface FlowReading {
  test: string;
  lines: string[];
  readAfterMin?: number | null;
  sample?: string | null;
  /** What is known of the lot: good, not_checked, expired, unknown, wrong_kit or not_recorded. */
  lotState: string;
}

/** What a lateral-flow device says, how far it is trusted, and which keys of the catalogue must be said. */
export function readFlow(model: CompiledModel, reading: FlowReading): Result & { notes: string[] } {
  const limits = model.reading;
  const base = { test: reading.test, sample: reading.sample ?? null };
  if (!reading.lines.includes('C'))
    return { ...base, outcome: null, trust: 1, evidential: false, notes: ['diagnosis.note_invalid'] };
  const notes: string[] = [];
  let trust = 1;
  let evidential = true;
  const less = (by: number, note: string, stays = false): void => {
    trust *= by;
    evidential = evidential && stays;
    notes.push(note);
  };
  const minutes = reading.readAfterMin;
  if (minutes == null) less(limits['trust_time_unknown']!, 'diagnosis.note_time_unknown', true);
  else if (minutes < limits['read_not_before_min']!)
    less(limits['trust_read_early']!, 'diagnosis.note_read_early');
  else if (minutes > limits['read_not_after_min']!) less(limits['trust_read_late']!, 'diagnosis.note_read_late');
  if (reading.lotState === 'expired') less(limits['trust_expired']!, 'diagnosis.note_expired');
  else if (reading.lotState === 'wrong_kit') less(limits['trust_unknown_lot']!, 'diagnosis.note_wrong_kit');
  else if (reading.lotState === 'not_recorded') less(limits['trust_unknown_lot']!, 'diagnosis.note_no_lot');
  else if (reading.lotState === 'unknown') less(limits['trust_unknown_lot']!, 'diagnosis.note_unknown_lot');
  else if (reading.lotState === 'not_checked') less(1, 'diagnosis.note_lot_not_checked', true);
  return { ...base, outcome: reading.lines.includes('T') ? 'positive' : 'negative', trust, evidential, notes };
}
