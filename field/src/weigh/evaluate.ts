/*
 * Exact inference on the phone: the weight of every state, and from it the probability of every condition
 * with its interval. The same computation as broodsweep.diagnosis.infer, on the same numbers.
 */

import type { Belief, Observations, Prior, Result } from './model';
import { logit, type Network, normal, outcomesOf, PRIOR_SLOT } from './network';

/** Prior odds of each column, column 0 is 1. [column * rows + row] */
function priorOdds(network: Network, observed: Observations): Float64Array {
  const { model, rows, values } = network;
  const starts = model.numbers.starts;
  const season = observed.season ? model.seasons.indexOf(observed.season) : -1;
  if (observed.season && season < 0) throw new Error(`unknown season ${observed.season}`);
  const out = new Float64Array(network.columns * rows).fill(1);
  const odds = new Float64Array(model.conditions.length * rows);
  model.conditions.forEach((name, condition) => {
    const given = observed.prior?.[name];
    const factors = given ? [] : contextFactors(network, name, observed);
    for (let row = 0; row < rows; row++) {
      let value: number;
      if (given) value = givenOdds(given, row, condition, model.numbers);
      else {
        const prior = values[(starts['priors']! + condition) * rows + row]!;
        value = prior / (1 - prior);
        if (season >= 0)
          value *= values[(starts['seasons']! + condition * model.seasons.length + season) * rows + row]!;
        for (const factor of factors) value *= values[(starts['contexts']! + factor) * rows + row]!;
      }
      odds[condition * rows + row] = value;
    }
  });
  const chainLength = model.stages.length - 1;
  model.parts.forEach(([condition, stage], index) => {
    for (let row = 0; row < rows; row++) {
      let value = odds[condition! * rows + row]!;
      if (stage! >= 0) {
        const disease = model.foulbroods.indexOf(condition!);
        const first = (disease * (model.seasons.length + 1) + season + 1) * chainLength;
        const chain = Array.from(
          { length: chainLength },
          (_, step) => values[(starts['stages']! + first + step) * rows + row]!,
        );
        value *= outcomesOf(chain)[stage!]!;
      }
      out[(index + 1) * rows + row] = value;
    }
  });
  return out;
}

function givenOdds(prior: Prior, row: number, condition: number, numbers: Network['model']['numbers']): number {
  const odds = prior.probability / (1 - prior.probability);
  if (row === 0 || prior.low == null || prior.high == null) return odds;
  const spread = (logit(prior.high) - logit(prior.low)) / (2 * numbers.interval_z);
  return odds * Math.exp(spread * normal(numbers.seed, row - 1, PRIOR_SLOT + condition));
}

/** Which of the context numbers (near, neighbourhood, bought in, fed honey) multiply the odds of a condition. */
function contextFactors(network: Network, name: string, observed: Observations): number[] {
  const { model } = network;
  const place = model.foulbroods.indexOf(model.conditions.indexOf(name));
  if (place < 0) return [];
  const found: number[] = [];
  const distance = observed.context?.outbreak_m?.[name];
  if (distance != null && distance <= model.context.near_m) found.push(0);
  else if (distance != null && distance <= model.context.neighbourhood_m) found.push(1);
  if (observed.context?.bought_in) found.push(2);
  if (observed.context?.fed_honey && place === 0) found.push(3);
  return found;
}

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

/** Prior and signs looked for and absent factorise over the parts: one pass for all of them. */
function startingWeights(network: Network, observed: Observations): Float64Array {
  const { rows, columns, notCaused, model } = network;
  const factors = priorOdds(network, observed);
  if (observed.observer !== 'untrained')
    for (const [sign, isSeen] of Object.entries(observed.signs ?? {})) {
      const index = model.signs.indexOf(sign);
      if (index < 0) throw new Error(`unknown sign ${sign}`);
      if (isSeen) continue;
      const from = index * columns * rows;
      for (let i = 0; i < factors.length; i++) factors[i]! *= notCaused[from + i]!;
    }
  return productOver(network, factors, factors);
}

function multiplySigns(network: Network, observed: Observations, weights: Float64Array): void {
  const { rows, columns, notCaused, model } = network;
  const start = model.numbers.starts['misread']! * rows;
  const isUntrained = observed.observer === 'untrained';
  const scratch = new Float64Array(weights.length);
  for (const [sign, isSeen] of Object.entries(observed.signs ?? {})) {
    const index = model.signs.indexOf(sign);
    if (index < 0) throw new Error(`unknown sign ${sign}`);
    if (!isSeen && !isUntrained) continue;
    // the chance of what was reported is offset + slope times the chance that nothing causes the sign
    const offset = new Float64Array(rows);
    const slope = new Float64Array(rows);
    for (let row = 0; row < rows; row++) {
      const misread = isUntrained ? network.values[start + row]! : 0;
      offset[row] = isSeen ? 1 - misread : misread;
      slope[row] = isSeen ? 2 * misread - 1 : 1 - 2 * misread;
    }
    const table = notCaused.subarray(index * columns * rows, (index + 1) * columns * rows);
    multiplySign(network, table, offset, slope, scratch, weights);
  }
}

/** One pass over all states: the chance that nothing causes the sign goes into `scratch`, the weights are multiplied. */
function multiplySign(
  network: Network,
  table: Float64Array,
  offset: Float64Array,
  slope: Float64Array,
  scratch: Float64Array,
  weights: Float64Array,
): void {
  const { rows, prefix, last, stateCount } = network;
  for (let row = 0; row < rows; row++) {
    scratch[row] = table[row]!;
    weights[row] = weights[row]! * (offset[row]! + slope[row]! * table[row]!);
  }
  for (let state = 1; state < stateCount; state++) {
    const from = prefix[state]! * rows;
    const factor = last[state]! * rows;
    const to = state * rows;
    for (let row = 0; row < rows; row++) {
      const quiet = scratch[from + row]! * table[factor + row]!;
      scratch[to + row] = quiet;
      weights[to + row] = weights[to + row]! * (offset[row]! + slope[row]! * quiet);
    }
  }
}

/** Results that share a sample stand together; one without a sample stands alone, an invalid one falls out. */
export function groupResults(network: Network, results: Result[]): Result[][] {
  const groups = new Map<string, Result[]>();
  results.forEach((result, index) => {
    if (result.outcome == null) return;
    const method = network.model.methods.find((entry) => entry.name === result.test);
    if (!method) throw new Error(`unknown test ${result.test}`);
    const own = result.sample == null ? `#${index}` : `=${result.sample}`;
    const key = `${method.pool}|${own}`;
    groups.set(key, [...(groups.get(key) ?? []), result]);
  });
  return [...groups.values()];
}

function multiplyGroup(network: Network, group: Result[], weights: Float64Array): void {
  const { model, rows, stateCount, absent, stageKey, values } = network;
  const methods = group.map((result) => model.methods.findIndex((entry) => entry.name === result.test));
  const first = model.methods[methods[0]!]!;
  const confuser = methods.map((m) => model.methods[m]!.confuser).find((c) => c >= 0) ?? -1;
  const keys = absent + 1;
  const table = new Float64Array(keys * 2 * rows);
  for (let key = 0; key < keys; key++) {
    for (let confused = 0; confused < 2; confused++) {
      for (let row = 0; row < rows; row++) {
        const holds = values[(model.numbers.starts['pools']! + first.pool * keys + key) * rows + row]!;
        let withAgent = 1;
        let without = 1;
        group.forEach((result, place) => {
          const method = model.methods[methods[place]!]!;
          const steps = network.steps[methods[place]!]!;
          const n = method.outcomes.length;
          const outcome = method.outcomes.indexOf(result.outcome!);
          if (outcome < 0) throw new Error(`${result.test} cannot answer ${result.outcome}`);
          const trust = result.trust ?? 1;
          const even = (1 - trust) / n;
          withAgent *= trust * steps.held[(key * n + outcome) * rows + row]! + even;
          without *= trust * steps.free[(confused * n + outcome) * rows + row]! + even;
        });
        table[(key * 2 + confused) * rows + row] = holds * withAgent + (1 - holds) * without;
      }
    }
  }
  for (let state = 0; state < stateCount; state++) {
    const key = stageKey[first.target * stateCount + state]!;
    const confused = confuser >= 0 && stageKey[confuser * stateCount + state]! !== absent ? 1 : 0;
    const from = (key * 2 + confused) * rows;
    for (let row = 0; row < rows; row++) weights[state * rows + row]! *= table[from + row]!;
  }
}

/** Posterior weight of every state, each row summing to 1. [state * rows + row] */
export function stateWeights(network: Network, observed: Observations): Float64Array {
  const { rows } = network;
  const weights = startingWeights(network, observed);
  multiplySigns(network, observed, weights);
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
  const table = marginals(network, stateWeights(network, observed));
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
