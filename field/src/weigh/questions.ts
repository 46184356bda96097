/* Which question a keeper on the telephone is asked next (broodsweep.diagnosis.questions). */

import { decide } from './decide';
import { evaluate, stateWeights } from './evaluate';
import type { Observations } from './model';
import type { Network } from './network';
import { nextTests } from './next';

/**
 * The sign to ask about next, null when the rest would tell next to nothing. `asked` are the signs already asked
 * about, answered or not. Give it a network built with 0 draws.
 */
export function nextQuestion(network: Network, observed: Observations, asked: readonly string[]): string | null {
  const { model } = network;
  const { opening, most, worth_bits, at_once_min } = model.questions;
  if (new Set(asked).size >= most) return null;
  const done = new Set([...asked, ...Object.keys(observed.signs ?? {})]);
  const first = opening.find((sign) => !done.has(sign));
  if (first) return first;
  const essential = model.essential.find(([, members]) => !members.some((sign) => done.has(sign)));
  if (essential) return essential[1][0]!;
  const decision = decide(model, evaluate(network, observed), observed);
  const further = nextTests(network, stateWeights(network, observed), observed, decision, model.thresholds);
  const next = further.find((test) => !test.isTest && !done.has(test.name) && test.minutes <= at_once_min);
  return next && next.bits >= worth_bits ? next.name : null;
}
