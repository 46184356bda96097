/*
 * Exact inference on the phone: the weight of every state, and from it the probability of every condition
 * with its interval. The same computation as broodsweep.diagnosis.infer, on the same numbers.
 */

import { groupResults, groupTable, priorOdds, type SignLine, signLines } from './evidence';
import type { Belief, Observations, Result } from './model';
import type { Network } from './network';
import { sweep } from './sweep';

/**
 * The product of a factor of each part over the parts present, times `first` in every state.
 * [state * rows + row] A state is its prefix and one more part, so that each costs one multiplication.
 */
function productOver(network: Network, byColumn: Float64Array, first: Float64Array): Float64Array {
  const { rows, prefix, last, stateCount } = network;
  const out = new Float64Array(stateCount * rows);
  out.set(first.subarray(0, rows));
  for (let state = 1; state < stateCount; state++) {
    const from = prefix[state]! * rows;
    const factor = last[state]! * rows;
    const to = state * rows;
    for (let row = 0; row < rows; row++) out[to + row] = out[from + row]! * byColumn[factor + row]!;
  }
  return out;
}

/** One pass over all states: what is taken from 1 goes into `scratch`, the weights are multiplied. */
function multiplySign(
  network: Network,
  { first, table }: SignLine,
  scratch: Float64Array,
  weights: Float64Array,
): void {
  const { rows, prefix, last, stateCount } = network;
  for (let row = 0; row < rows; row++) {
    scratch[row] = first[row]!;
    weights[row]! *= 1 - first[row]!;
  }
  for (let state = 1; state < stateCount; state++) {
    const from = prefix[state]! * rows;
    const factor = last[state]! * rows;
    const to = state * rows;
    for (let row = 0; row < rows; row++) {
      const caused = scratch[from + row]! * table[factor + row]!;
      scratch[to + row] = caused;
      weights[to + row]! *= 1 - caused;
    }
  }
}

function multiplyGroup(network: Network, group: Result[], weights: Float64Array): void {
  const { rows, stateCount, absent, stageKey } = network;
  const { target, confuser, table } = groupTable(network, group);
  for (let state = 0; state < stateCount; state++) {
    const key = stageKey[target * stateCount + state]!;
    const confused = confuser >= 0 && stageKey[confuser * stateCount + state]! !== absent ? 1 : 0;
    const from = (key * 2 + confused) * rows;
    for (let row = 0; row < rows; row++) weights[state * rows + row]! *= table[from + row]!;
  }
}

/** Posterior weight of every state, each row summing to 1. [state * rows + row] */
export function stateWeights(network: Network, observed: Observations): Float64Array {
  const { rows } = network;
  const { factors, lines } = signLines(network, observed, priorOdds(network, observed));
  const weights = productOver(network, factors, factors);
  const scratch = new Float64Array(weights.length);
  for (const line of lines) multiplySign(network, line, scratch, weights);
  for (const group of groupResults(network, observed.results ?? [])) multiplyGroup(network, group, weights);
  const sums = new Float64Array(rows);
  for (let i = 0, row = 0; i < weights.length; i++, row = row + 1 === rows ? 0 : row + 1)
    sums[row]! += weights[i]!;
  for (let i = 0, row = 0; i < weights.length; i++, row = row + 1 === rows ? 0 : row + 1)
    weights[i]! /= sums[row]!;
  return weights;
}

/** Probability of each condition, and last of nothing wrong. [answer * rows + row] */
export function marginals(network: Network, weights: Float64Array): Float64Array {
  const { rows, stateCount, model, states } = network;
  const most = model.most_together;
  const out = new Float64Array((model.conditions.length + 1) * rows);
  for (let state = 0; state < stateCount; state++) {
    for (let place = 0; place < most; place++) {
      const column = states[state * most + place]!;
      if (column === 0) break;
      const condition = model.parts[column - 1]![0]!;
      for (let row = 0; row < rows; row++) out[condition * rows + row]! += weights[state * rows + row]!;
    }
  }
  for (let row = 0; row < rows; row++) out[model.conditions.length * rows + row] = weights[row]!;
  return out;
}

/** A quantile of sorted numbers, between neighbours in proportion. */
function quantile(sorted: Float64Array, share: number): number {
  const place = share * (sorted.length - 1);
  const below = Math.floor(place);
  const low = sorted[below]!;
  return low + (place - below) * ((sorted[below + 1] ?? low) - low);
}

/** Every answer with its interval, the most probable first. */
export function evaluate(network: Network, observed: Observations): Belief[] {
  const { model, rows } = network;
  const table = sweep(network, observed);
  const found = [...model.conditions, model.nothing].map((condition, answer) => {
    const point = Math.min(Math.max(table[answer * rows]!, 0), 1);
    const first = rows > 1 ? 1 : 0;
    const drawn = table.slice(answer * rows + first, (answer + 1) * rows).sort();
    return {
      condition,
      probability: point,
      low: Math.min(Math.max(quantile(drawn, model.numbers.low), 0), point),
      high: Math.max(Math.min(quantile(drawn, model.numbers.high), 1), point),
    };
  });
  return found.sort((a, b) => b.probability - a.probability);
}
