/* What is known before the comb is seen, what was seen and what was tested, as factors of the states. */

import type { Observations, Prior, Result } from './model';
import { logit, type Network, normal, outcomesOf, PRIOR_SLOT } from './network';

/**
 * A sign as it enters a state: 1 less the product of `first` and the table of each part present. For a trained eye
 * that product is the chance that nothing causes the sign; with misreadings, (1 - m) - (1 - 2m) times it, divided by
 * the part that is the same in every state.
 */
export interface SignLine {
  first: Float64Array;
  /** [column * rows + row] */
  table: Float64Array;
}

/** The context numbers in their order. */
const CONTEXTS = ['near', 'neighbourhood', 'bought_in', 'fed_honey'];

/** Prior odds of each column, column 0 is 1. [column * rows + row] */
export function priorOdds(network: Network, observed: Observations): Float64Array {
  const { model, rows, values } = network;
  const starts = model.numbers.starts;
  const season = observed.season ? model.seasons.indexOf(observed.season) : -1;
  if (observed.season && season < 0) throw new Error(`unknown season ${observed.season}`);
  const out = new Float64Array(network.columns * rows).fill(1);
  const odds = new Float64Array(model.conditions.length * rows);
  model.conditions.forEach((name, condition) => {
    const given = observed.prior?.[name];
    const factors = given ? (given.beside ?? []).map((known) => CONTEXTS.indexOf(known)) : contextFactors(network, name, observed);
    for (let row = 0; row < rows; row++) {
      let value: number;
      if (given) value = givenOdds(given, row, condition, model.numbers);
      else {
        const prior = values[(starts['priors']! + condition) * rows + row]!;
        value = prior / (1 - prior);
        if (season >= 0)
          value *= values[(starts['seasons']! + condition * model.seasons.length + season) * rows + row]!;
      }
      for (const factor of factors) value *= values[(starts['contexts']! + factor) * rows + row]!;
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
 * The signs as they enter the states. Those that a trained eye looked for and did not see factorise over the parts:
 * they go into `factors` [column * rows + row]; each of the others is a line.
 */
export function signLines(
  network: Network,
  observed: Observations,
  factors: Float64Array,
): { factors: Float64Array; lines: SignLine[] } {
  const { rows, columns, notCaused, model } = network;
  const start = model.numbers.starts['misread']! * rows;
  const isUntrained = observed.observer === 'untrained';
  const lines: SignLine[] = [];
  for (const [sign, isSeen] of Object.entries(observed.signs ?? {})) {
    const index = model.signs.indexOf(sign);
    if (index < 0) throw new Error(`unknown sign ${sign}`);
    const table = notCaused.subarray(index * columns * rows, (index + 1) * columns * rows);
    if (!isSeen && !isUntrained) {
      for (let i = 0; i < factors.length; i++) factors[i]! *= table[i]!;
      continue;
    }
    const first = new Float64Array(rows);
    for (let row = 0; row < rows; row++) {
      const misread = isUntrained ? network.values[start + row]! : 0;
      first[row] = (table[row]! * (1 - 2 * misread)) / (isSeen ? 1 - misread : -misread);
    }
    lines.push({ first, table });
  }
  return { factors, lines };
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

/** The chance of the results on one sample by stage of their target and whether the confuser is there. */
export function groupTable(
  network: Network,
  group: Result[],
): { target: number; confuser: number; table: Float64Array } {
  const { model, rows, absent, values } = network;
  const methods = group.map((result) => model.methods.findIndex((entry) => entry.name === result.test));
  const first = model.methods[methods[0]!]!;
  const confuser = methods.map((m) => model.methods[m]!.confuser).find((c) => c >= 0) ?? -1;
  const keys = absent + 1;
  const table = new Float64Array(keys * 2 * rows);
  const outcomes = group.map((result, place) => {
    const outcome = model.methods[methods[place]!]!.outcomes.indexOf(result.outcome!);
    if (outcome < 0) throw new Error(`${result.test} cannot answer ${result.outcome}`);
    return outcome;
  });
  for (let key = 0; key < keys; key++) {
    for (let confused = 0; confused < 2; confused++) {
      for (let row = 0; row < rows; row++) {
        const holds = values[(model.numbers.starts['pools']! + first.pool * keys + key) * rows + row]!;
        let withAgent = 1;
        let without = 1;
        for (let place = 0; place < group.length; place++) {
          const steps = network.steps[methods[place]!]!;
          const n = model.methods[methods[place]!]!.outcomes.length;
          const outcome = outcomes[place]!;
          const trust = group[place]!.trust ?? 1;
          const even = (1 - trust) / n;
          withAgent *= trust * steps.held[(key * n + outcome) * rows + row]! + even;
          without *= trust * steps.free[(confused * n + outcome) * rows + row]! + even;
        }
        table[(key * 2 + confused) * rows + row] = holds * withAgent + (1 - holds) * without;
      }
    }
  }
  return { target: first.target, confuser, table };
}
