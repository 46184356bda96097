/* What to look at or test next: expected information on the notifiable conditions, and what it costs. */

import type { CompiledMethod, Observations } from './model';
import type { Network } from './network';

export interface NextTest {
  name: string;
  isTest: boolean;
  bits: number;
  minutes: number;
  cost: number;
  waitingDays: number;
  worth: number;
}

/** The notifiable conditions present in each state, as one class of eight. */
function classes(network: Network): Uint8Array {
  const { model, stateCount, stageKey, absent } = network;
  const out = new Uint8Array(stateCount);
  const has = (condition: number, state: number): boolean => stageKey[condition * stateCount + state]! !== absent;
  for (let state = 0; state < stateCount; state++) {
    const [afb, efb] = model.foulbroods.map((condition) => has(condition, state));
    const isExotic = model.exotics.some((condition) => has(condition, state));
    out[state] = (afb ? 1 : 0) + (efb ? 2 : 0) + (isExotic ? 4 : 0);
  }
  return out;
}

function entropy(shares: Float64Array): number {
  let bits = 0;
  for (const share of shares) if (share > 0) bits -= share * Math.log2(share);
  return bits;
}

/** Chance that a sign is reported in every state, by the numbers as they stand. */
function signChances(network: Network, sign: number, isUntrained: boolean): Float64Array[] {
  const { model, rows, columns, notCaused, states, stateCount } = network;
  const misread = isUntrained ? network.values[model.numbers.starts['misread']! * rows]! : 0;
  const seen = new Float64Array(stateCount);
  const most = model.most_together;
  for (let state = 0; state < stateCount; state++) {
    let quiet = notCaused[sign * columns * rows]!;
    for (let place = 0; place < most; place++) {
      const column = states[state * most + place]!;
      if (column === 0) break;
      quiet *= notCaused[(sign * columns + column) * rows]!;
    }
    seen[state] = misread + (1 - 2 * misread) * (1 - quiet);
  }
  return [seen, seen.map((p) => 1 - p)];
}

/** Chance of each outcome on a fresh sample in every state, by the numbers as they stand. */
function outcomeChances(network: Network, index: number, method: CompiledMethod): Float64Array[] {
  const { model, rows, stateCount, stageKey, absent, values } = network;
  const steps = network.steps[index]!;
  const n = method.outcomes.length;
  return method.outcomes.map((_, outcome) => {
    const out = new Float64Array(stateCount);
    for (let state = 0; state < stateCount; state++) {
      const key = stageKey[method.target * stateCount + state]!;
      const isConfused = method.confuser >= 0 && stageKey[method.confuser * stateCount + state]! !== absent;
      const holds = values[(model.numbers.starts['pools']! + method.pool * (absent + 1) + key) * rows]!;
      const held = steps.held[(key * n + outcome) * rows]!;
      const free = steps.free[((isConfused ? 1 : 0) * n + outcome) * rows]!;
      out[state] = holds * held + (1 - holds) * free;
    }
    return out;
  });
}

/** The looks and tests not done yet, the most worth first. `weights` are those of `stateWeights`. */
export function nextTests(network: Network, weights: Float64Array, observed: Observations): NextTest[] {
  const { model, rows, stateCount } = network;
  const code = classes(network);
  const now = new Float64Array(8);
  for (let state = 0; state < stateCount; state++) now[code[state]!]! += weights[state * rows]!;
  const before = entropy(now);

  const bitsOf = (chances: Float64Array[]): number => {
    let after = 0;
    for (const chance of chances) {
      const joint = new Float64Array(8);
      let total = 0;
      for (let state = 0; state < stateCount; state++) {
        const weight = chance[state]! * weights[state * rows]!;
        joint[code[state]!]! += weight;
        total += weight;
      }
      if (total > 0) after += total * entropy(joint.map((share) => share / total));
    }
    return Math.max(before - after, 0);
  };

  const found: NextTest[] = [];
  const add = (name: string, isTest: boolean, bits: number, minutes: number, cost = 0, waitingDays = 0): void => {
    const effort =
      minutes + cost * model.effort.minutes_per_cost + waitingDays * model.effort.minutes_per_waiting_day;
    found.push({ name, isTest, bits, minutes, cost, waitingDays, worth: (100 * bits) / effort });
  };
  model.signs.forEach((sign, index) => {
    if (sign in (observed.signs ?? {}) || model.not_to_look_for.includes(sign)) return;
    const chances = signChances(network, index, observed.observer === 'untrained');
    add(sign, false, bitsOf(chances), model.sign_minutes[index]!);
  });
  model.methods.forEach((method, index) => {
    const isSettled = (observed.results ?? []).some(
      (result) =>
        result.test === method.name &&
        result.outcome != null &&
        method.positives[method.outcomes.indexOf(result.outcome)],
    );
    if (isSettled) return;
    const bits = bitsOf(outcomeChances(network, index, method));
    add(method.name, true, bits, method.minutes, method.cost, method.waiting_days);
  });
  return found.sort((a, b) => b.worth - a.worth || (a.name < b.name ? -1 : 1));
}
