/* Why the answer is what it is: each finding left out in turn (broodsweep.diagnosis.reasons). */

import { marginals, stateWeights } from './evaluate';
import { type Message, say } from './message';
import type { Observations, Result } from './model';
import type { Network } from './network';

export interface Reason {
  finding: string;
  /** Weight of the finding for the answer, negative when it speaks against it. */
  bits: number;
  /** What was seen, not seen or tested, in words. */
  what: Message;
}

function logOdds(network: Network, observed: Observations, answer: number): number {
  const p = marginals(network, stateWeights(network, observed))[answer * network.rows]!;
  return Math.log2(Math.max(p, 1e-300)) - Math.log2(Math.max(1 - p, 1e-300));
}

/** A result in words: the test and what it said. */
export function resultText(result: Result): Message {
  return say('diagnosis.result', {
    test: say(`diagnosis.test.${result.test}`),
    outcome: say(`diagnosis.outcome.${result.outcome ?? 'invalid'}`),
  });
}

/** What each finding does to an answer, the heaviest first. Give it a network built with 0 draws: only row 0 is read. */
export function explain(network: Network, observed: Observations, condition: string): Reason[] {
  const answer = [...network.model.conditions, network.model.nothing].indexOf(condition);
  if (answer < 0) throw new Error(`unknown condition ${condition}`);
  const here = logOdds(network, observed, answer);
  const found: Reason[] = [];
  for (const [sign, isSeen] of Object.entries(observed.signs ?? {})) {
    const { [sign]: _left, ...signs } = observed.signs!;
    const what = say(isSeen ? 'diagnosis.seen' : 'diagnosis.not_seen', { sign: say(`diagnosis.sign.${sign}`) });
    found.push({ finding: sign, bits: here - logOdds(network, { ...observed, signs }, answer), what });
  }
  (observed.results ?? []).forEach((result, index) => {
    if (result.outcome == null) return;
    const results = observed.results!.filter((_, other) => other !== index);
    const bits = here - logOdds(network, { ...observed, results }, answer);
    found.push({ finding: result.test, bits, what: resultText(result) });
  });
  return found.sort((a, b) => Math.abs(b.bits) - Math.abs(a.bits));
}
