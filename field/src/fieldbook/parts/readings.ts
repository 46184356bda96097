/* The readings of tests as the weigher takes them, and in words. */

import { type Interpreted, type Lot, type Reading, ReadingError, tell, type Weigher } from '../../weigh';
import { t } from '../../words/words';
import type { Book } from '../contract';
import { span } from './clock';
import { w } from './say';

export function lotsOf(book: Book): Lot[] | null {
  return book.satchel ? book.satchel.lots.map(({ lot, kit, expires_on }) => ({ lot, kit, expires_on })) : null;
}

/* What readings say; one that cannot be is told, not passed over in silence. */
export function interpretAll(
  weigher: Weigher,
  readings: Record<string, unknown>[],
  lots: Lot[] | null,
): { results: Interpreted[]; refused: string[] } {
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
    const { results, refused } = interpretAll(weigher, [reading], lotsOf(book));
    for (const result of results) {
      const outcome = result.outcome ?? 'invalid';
      if (!Array.isArray(reading['lines'])) said.push(t(`diagnosis.outcome.${outcome}`));
      said.push(...result.notes.map((note) => tell(note, t)));
    }
    said.push(...refused);
  }
  return said.join(' · ');
}
