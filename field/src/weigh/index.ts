/*
 * Weighing a comb without a server. Everything that a page outside this folder needs:
 *
 *   const weigher = await openWeigher();                       // once; loads and builds the tables
 *   const results = readings.map((row) => weigher.interpret(row, lots));
 *   const answer = weigher.weigh({ signs, results, season }, thresholds);
 *   const shown = tellWeighing(weigher.model, answer, results, t, thresholds);
 */

import type { CompiledModel } from './model';
import { Weigher } from './weigher';

export { type Assumption, numberSaid } from './assumptions';
export type { Decision } from './decide';
export { type Message, tell, type Translate } from './message';
export type { Belief, CompiledModel, Observations, Prior, Result, Thresholds } from './model';
export type { NextTest } from './next';
export { type Interpreted, type Lot, lotState, type LotState, type Reading, ReadingError } from './reading';
export type { Reason } from './reasons';
export { chanceText, guideTo, lookingFor, nameOf, tellWeighing, type Told } from './told';
export { Weigher, type Weighing } from './weigher';

let opened: Promise<Weigher> | null = null;

/** The weigher, loaded and built when it is first asked for. */
export function openWeigher(): Promise<Weigher> {
  opened ??= import('./model.json').then((file) => {
    const weigher = new Weigher(file.default as unknown as CompiledModel);
    warmUp(weigher, TURNS);
    return weigher;
  });
  return opened;
}

const TURNS = 6;
const PAUSE_MS = 60;

/* A browser compiles code that has run a few times: done before the first touch, the first answer is as quick as the rest. */
function warmUp(weigher: Weigher, turns: number): void {
  if (turns === 0) return;
  setTimeout(() => {
    const signs = Object.fromEntries(weigher.model.signs.slice(0, 8).map((sign, place) => [sign, place % 2 === 0]));
    weigher.weigh({ signs });
    warmUp(weigher, turns - 1);
  }, PAUSE_MS);
}
