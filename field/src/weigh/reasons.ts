/* Why the answer is what it is: each finding left out in turn (broodsweep.diagnosis.reasons). */

import { marginals, stateWeights } from './evaluate';
import type { Observations } from './model';
import type { Network } from './network';

export interface Reason {
  finding: string;
  /** Weight of the finding for the answer, negative when it speaks against it. */
  bits: number;
}

function logOdds(network: Network, observed: Observations, answer: number): number {
  const p = marginals(network, stateWeights(network, observed))[answer * network.rows]!;
  return Math.log2(Math.max(p, 1e-300)) - Math.log2(Math.max(1 - p, 1e-300));
}

/** What each finding does to an answer, the heaviest first. Give it a network built with 0 draws: only row 0 is read. */
export function explain(network: Network, observed: Observations, condition: string): Reason[] {
  const answer = [...network.model.conditions, network.model.nothing].indexOf(condition);
  if (answer < 0) throw new Error(`unknown condition ${condition}`);
  const here = logOdds(network, observed, answer);
  const found: Reason[] = [];
  for (const sign of Object.keys(observed.signs ?? {})) {
    const { [sign]: _left, ...signs } = observed.signs!;
    found.push({ finding: sign, bits: here - logOdds(network, { ...observed, signs }, answer) });
  }
  (observed.results ?? []).forEach((result, index) => {
    if (result.outcome == null) return;
    const results = observed.results!.filter((_, other) => other !== index);
    found.push({ finding: result.test, bits: here - logOdds(network, { ...observed, results }, answer) });
  });
  return found.sort((a, b) => Math.abs(b.bits) - Math.abs(a.bits));
}
