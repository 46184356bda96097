/*
 * Which number of the model matters most to an answer: each number that this evidence touches is moved to the ends of
 * its interval (broodsweep.diagnosis.reasons.assumptions). Give it a network built with 0 draws.
 */

import { marginals, stateWeights } from './evaluate';
import { type Message, say } from './message';
import type { CompiledModel, Observations } from './model';
import { type Network, stepTables } from './network';
import { nameOf } from './told';

export interface Assumption {
  /** Which number, as Python names it: `sign/coffee_brown/AFB.early`. */
  where: string;
  source: string;
  isPublished: boolean;
  value: number;
  /** The answer at the two ends of the number's interval. */
  atLow: number;
  atHigh: number;
}

const CONTEXTS = ['near', 'neighbourhood', 'bought_in', 'fed_honey'];
const SHOWN = 5;
const HIGHEST = 0.999;

/** The name of every number, in the order of the slots. */
export function numberNames(model: CompiledModel): string[] {
  const { conditions, stages, seasons, foulbroods } = model;
  const parts = model.parts.map(([condition, stage]) =>
    stage! < 0 ? conditions[condition!]! : `${conditions[condition!]!}.${stages[stage!]!}`,
  );
  const steps = ['early', 'advanced_of_rest', 'dried_of_rest'];
  return [
    ...model.signs.flatMap((sign) => ['healthy', ...parts].map((place) => `sign/${sign}/${place}`)),
    ...conditions.map((name) => `prior/${name}`),
    ...conditions.flatMap((name) => seasons.map((season) => `season/${name}/${season}`)),
    ...foulbroods.flatMap((index) =>
      ['any', ...seasons].flatMap((season) => steps.map((step) => `stage/${conditions[index]!}/${season}/${step}`)),
    ),
    ...CONTEXTS.map((name) => `context/${name}`),
    ...model.pools.flatMap(([target, sample]) =>
      [...stages, 'without'].map((stage) => `sample/${conditions[target as number]!}/${sample}/${stage}`),
    ),
    ...model.methods.flatMap((method) => {
      const count = Array.from({ length: method.outcomes.length - 1 }, (_, step) => step);
      return [
        ...count.flatMap((step) => stages.map((stage) => `test/${method.name}/held/${step}/${stage}`)),
        ...count.map((step) => `test/${method.name}/not_held/${step}`),
        ...(method.confuser < 0 ? [] : count.map((step) => `test/${method.name}/confused/${step}`)),
      ];
    }),
    'misread',
  ];
}

function isTouched(model: CompiledModel, where: string, observed: Observations): boolean {
  const [kind, first = '', place = ''] = where.split('/');
  const results = (observed.results ?? []).filter((result) => result.outcome != null);
  const methods = results.map((result) => model.methods.find((entry) => entry.name === result.test)!);
  switch (kind) {
    case 'sign':
      return first in (observed.signs ?? {});
    case 'prior':
      return !(first in (observed.prior ?? {}));
    case 'season':
      return observed.season != null && place === observed.season;
    case 'stage':
      return place === (observed.season ?? 'any');
    case 'context':
      return true; // one that plays no part does not move the answer
    case 'sample':
      return methods.some((method) => model.conditions[method.target] === first && method.sample === place);
    case 'test':
      return methods.some((method) => method.name === first);
    default:
      return observed.observer === 'untrained';
  }
}

/** The answer with one number changed, everything computed anew. */
function answerWith(network: Network, observed: Observations, answer: number, slot: number, value: number): number {
  const values = network.values.slice();
  values[slot] = value;
  const isTest = slot >= network.model.numbers.starts['methods']!;
  const steps = isTest ? stepTables(network.model, values, 1) : network.steps;
  const changed = { ...network, values, steps };
  return marginals(changed, stateWeights(changed, observed))[answer]!;
}

/** The answer with one number of one sign changed: only that sign's factor is computed anew. */
function signAnswers(
  network: Network,
  observed: Observations,
  weights: Float64Array,
  has: Uint8Array,
  sign: number,
): (column: number, value: number) => number {
  const { model, columns, values, prefix, last, stateCount } = network;
  const isSeen = observed.signs![model.signs[sign]!]!;
  const misread = observed.observer === 'untrained' ? values[model.numbers.starts['misread']!]! : 0;
  const start = model.numbers.starts['signs']! + sign * columns;
  const own = values.slice(start, start + columns);
  const quiet = new Float64Array(stateCount);
  const factors = (numbers: Float64Array): Float64Array => {
    const background = 1 - numbers[0]!;
    const table = numbers.map((number, column) => (column ? Math.min((1 - number) / background, 1) : background));
    const out = new Float64Array(stateCount);
    for (let state = 0; state < stateCount; state++) {
      quiet[state] = (state ? quiet[prefix[state]!]! : 1) * table[last[state]!]!;
      const reported = misread + (1 - 2 * misread) * (1 - quiet[state]!);
      out[state] = isSeen ? reported : 1 - reported;
    }
    return out;
  };
  const now = factors(own);
  return (column, value) => {
    const numbers = own.slice();
    numbers[column] = value;
    const then = factors(numbers);
    let total = 0;
    let present = 0;
    for (let state = 0; state < stateCount; state++) {
      const weight = (weights[state]! * then[state]!) / now[state]!;
      total += weight;
      if (has[state]) present += weight;
    }
    return present / total;
  };
}

/** The numbers that matter most to the answer about a condition, the widest swing first. */
export function assumptions(network: Network, observed: Observations, condition: string): Assumption[] {
  const { model, columns, stateCount, stageKey, absent } = network;
  const { kinds, slots, sources } = model.numbers;
  const answer = [...model.conditions, model.nothing].indexOf(condition);
  const weights = stateWeights(network, observed);
  const has = new Uint8Array(stateCount);
  for (let state = 0; state < stateCount; state++)
    has[state] =
      answer === model.conditions.length ? Number(state === 0) : Number(stageKey[answer * stateCount + state]! !== absent);
  const bySign = new Map<number, (column: number, value: number) => number>();
  const found: Assumption[] = [];
  numberNames(model).forEach((where, slot) => {
    const [value, , isRatio, , low, high, source, published] = kinds[slots[slot]!] as number[];
    if (!(high! > low!) || !isTouched(model, where, observed)) return;
    const highest = isRatio ? high! : Math.min(high!, HIGHEST);
    let at = (number: number): number => answerWith(network, observed, answer, slot, number);
    if (where.startsWith('sign/')) {
      const sign = Math.floor(slot / columns);
      const answers = bySign.get(sign) ?? signAnswers(network, observed, weights, has, sign);
      bySign.set(sign, answers);
      at = (number) => answers(slot % columns, number);
    }
    found.push({
      where,
      source: sources[source!]!,
      isPublished: published === 1,
      value: value!,
      atLow: at(low!),
      atHigh: at(highest),
    });
  });
  const swing = (row: Assumption): number => Math.abs(row.atHigh - row.atLow);
  return found.sort((a, b) => swing(b) - swing(a)).slice(0, SHOWN);
}

/** In words, which number of the model is meant. */
export function numberSaid(model: CompiledModel, where: string): Message {
  const [kind = '', first = '', ...places] = where.split('/');
  const place = places.join('/');
  switch (kind) {
    case 'sign': {
      const [condition = '', stage] = place.split('.');
      const sign = say(`diagnosis.sign.${first}`);
      if (condition === 'healthy') return say('weigh.number_sign_healthy', { sign, condition: '' });
      const name = nameOf(model, condition);
      const at = stage ? say('weigh.number_stage', { condition: name, stage: say(`weigh.stage_${stage}`) }) : name;
      return say('weigh.number_sign', { sign, condition: at });
    }
    case 'stage':
      return say('weigh.number_stage_share', { condition: nameOf(model, first) });
    case 'prior':
    case 'season':
      return say(`weigh.number_${kind}`, { condition: nameOf(model, first) });
    case 'context':
      return say(`weigh.number_context_${first}`);
    case 'sample': {
      const [sample = '', stage] = place.split('/');
      const key = stage === 'without' ? 'weigh.number_sample_without' : 'weigh.number_sample';
      return say(key, { condition: nameOf(model, first), sample: say(`weigh.sample_${sample}`) });
    }
    case 'test':
      return say(place.startsWith('held') ? 'weigh.number_test_held' : 'weigh.number_test_free', {
        test: say(`diagnosis.test.${first}`),
      });
    default:
      return say(kind === 'misread' ? 'weigh.number_misread' : 'weigh.number_other');
  }
}
