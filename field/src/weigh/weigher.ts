/* The whole answer in one place: what was seen and tested in; probabilities, reasons, next tests, duty out. */

import { type Assumption, assumptions } from './assumptions';
import { decide, type Decision } from './decide';
import { evaluate, stateWeights } from './evaluate';
import type { Belief, CompiledModel, Observations, Thresholds } from './model';
import { buildNetwork, type Network } from './network';
import { isEnough, nextTests, type NextTest } from './next';
import { nextQuestion } from './questions';
import { interpret, type Interpreted, type Lot, type Reading } from './reading';
import { explain, type Reason } from './reasons';

/** Everything that can be said about a colony from what was seen and tested. */
export interface Weighing {
  /** Every condition with its interval, the most probable first. */
  beliefs: Belief[];
  decision: Decision;
  /** The condition that the reasons are about: what it is suspected for, else the most probable. */
  about: string;
  reasons: Reason[];
  next: NextTest[];
  isEnough: boolean;
  /** For each foulbrood how likely each stage is if the disease is present. */
  stages: Record<string, Record<string, number>>;
}

const MEASURE = 'weigh.posterior';

function stageShares(network: Network, weights: Float64Array): Weighing['stages'] {
  const { model, rows, stateCount, stageKey } = network;
  const found: Weighing['stages'] = {};
  for (const condition of model.foulbroods) {
    const sums = new Float64Array(model.stages.length + 1);
    for (let state = 0; state < stateCount; state++)
      sums[stageKey[condition * stateCount + state]!]! += weights[state * rows]!;
    const total = model.stages.reduce((sum, _, stage) => sum + sums[stage]!, 0);
    found[model.conditions[condition]!] = Object.fromEntries(
      model.stages.map((name, stage) => [name, sums[stage]! / total]),
    );
  }
  return found;
}

/** Weighs combs without a server. Build one and keep it: building takes longer than weighing. */
export class Weigher {
  readonly model: CompiledModel;
  readonly #drawn: Network;
  readonly #point: Network;

  constructor(model: CompiledModel) {
    this.model = model;
    this.#drawn = buildNetwork(model);
    this.#point = buildNetwork(model, 0);
  }

  /** Only the probabilities with their intervals: the quickest answer. */
  believe(observed: Observations): Belief[] {
    const start = performance.now();
    const found = evaluate(this.#drawn, observed);
    performance.clearMeasures(MEASURE);
    performance.measure(MEASURE, { start }); // what it took stands in the browser's timeline (bench/weigh_phone.py)
    return found;
  }

  /** The whole answer. `thresholds` come from the rulebook; without them the project's own count. */
  weigh(observed: Observations, thresholds: Thresholds = this.model.thresholds): Weighing {
    const beliefs = this.believe(observed);
    const weights = stateWeights(this.#point, observed);
    const decision = decide(this.model, beliefs, observed, thresholds);
    const next = nextTests(this.#point, weights, observed, decision, thresholds);
    const about = decision.conditions[0] ?? beliefs[0]!.condition;
    return {
      beliefs,
      decision,
      about,
      reasons: explain(this.#point, observed, about),
      next,
      isEnough: isEnough(this.#point, decision, next),
      stages: stageShares(this.#point, weights),
    };
  }

  /** The numbers of the model that matter most to the answer about a condition, the widest swing first. */
  assumptions(observed: Observations, about: string): Assumption[] {
    return assumptions(this.#point, observed, about);
  }

  /** The sign that a keeper on the telephone is asked about next, null when it is enough. */
  question(observed: Observations, asked: readonly string[]): string | null {
    return nextQuestion(this.#point, observed, asked);
  }

  /** What a reading says; put it into `results` of the observations. `lots` null: no register to look in. */
  interpret(reading: Reading, lots: readonly Lot[] | null): Interpreted {
    return interpret(this.model, reading, lots);
  }
}
