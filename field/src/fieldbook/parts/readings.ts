/* The readings of tests as the weigher takes them, and in words. */

import { type Interpreted, type Lot, type Reading, ReadingError, tell, type Weigher } from '../../weigh';
import { t } from '../../words/words';
import type { Book } from '../contract';
import { span } from './clock';
import { w } from './say';

/* The test that a kit in the register's free words is for (as broodsweep.desk.weighing.kit_test), null where they do not say. */
export function kitTest(kit: string, methods: readonly string[]): string | null {
  if (methods.includes(kit)) return kit;
  const words = new Set(kit.toLowerCase().match(/[a-z]+/g) ?? []);
  const has = (...names: string[]): boolean => names.some((name) => words.has(name));
  const isAfb = has('afb', 'american');
  if (isAfb === has('efb', 'european')) return null;
  if (isAfb && has('dna', 'isothermal', 'lamp')) return 'isothermal_afb';
  return isAfb ? 'lateral_flow_afb' : 'lateral_flow_efb';
}

/* The register of lots, each kit named as its test; where the register does not say, as it was used. */
function lotsFor(weigher: Weigher, book: Book, readings: Record<string, unknown>[]): Lot[] | null {
  if (!book.satchel) return null;
  const methods = weigher.model.methods.map((row) => row.name);
  const used = new Map(readings.map((row) => [row['lot'], String(row['test'])]));
  return book.satchel.lots.map(({ lot, kit, expires_on }) => ({
    lot,
    kit: kitTest(kit, methods) ?? used.get(lot) ?? kit,
    expires_on,
  }));
}

/* What readings say; one that cannot be is told, not passed over in silence. */
export function interpretAll(
  weigher: Weigher,
  readings: Record<string, unknown>[],
  book: Book,
): { results: Interpreted[]; refused: string[] } {
  const lots = lotsFor(weigher, book, readings);
  const results: Interpreted[] = [];
  const refused: string[] = [];
  for (const reading of readings) {
    try {
      results.push(weigher.interpret(reading as unknown as Reading, lots));
    } catch (error) {
      if (!(error instanceof ReadingError)) throw error;
      refused.push(tell(error.sentence, t));
    }
  }
  return { results, refused };
}

/* A reading in a few words: what was seen, and what it says. */
export function readingText(weigher: Weigher | null, reading: Record<string, unknown>, book: Book): string {
  const said: string[] = [];
  if (typeof reading['length_mm'] === 'number') said.push(w('rope_mm', { length: reading['length_mm'] }));
  if (Array.isArray(reading['lines'])) {
    const lines = (reading['lines'] as string[]).join('') || 'none';
    said.push(t(`weigh.lines_${lines === 'TC' ? 'CT' : lines}`));
  }
  if (typeof reading['read_after_min'] === 'number') said.push(w('read_after', { time: span(reading['read_after_min'] * 60) }));
  if (reading['lot']) said.push(w('lot_is', { lot: reading['lot'] }));
  if (weigher) {
    const { results, refused } = interpretAll(weigher, [reading], book);
    for (const result of results) {
      const outcome = result.outcome ?? 'invalid';
      if (!Array.isArray(reading['lines'])) said.push(t(`diagnosis.outcome.${outcome}`));
      said.push(...result.notes.map((note) => tell(note, t)));
    }
    said.push(...refused);
  }
  return said.join(' · ');
}
