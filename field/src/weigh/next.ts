/* What to look at or test next: expected information on the notifiable conditions, and what it costs. */

import type { CompiledMethod, Observations, Thresholds } from './model';
import type { Decision } from './decide';
import type { Network } from './network';

export interface NextTest {
  name: string;
  isTest: boolean;
  /** Expected information on which of the notifiable conditions are present. */
  bits: number;
  /** Chance that what must be done changes. */
  change: number;
  minutes: number;
  /** In field kits. */
  cost: number;
  waitingDays: number;
  /** Bits for the effort: waiting and cost counted in minutes, times a hundred. */
  worth: number;
}

/** The notifiable conditions, the foulbroods first. */
function notifiable(network: Network): number[] {
  return [...network.model.foulbroods, ...network.model.exotics];
}

/** Which of the notifiable conditions are present in each state, a bit for each. */
function codes(network: Network): Uint8Array {
  const { stateCount, stageKey, absent } = network;
  const out = new Uint8Array(stateCount);
  notifiable(network).forEach((condition, place) => {
    for (let state = 0; state < stateCount; state++)
      if (stageKey[condition * stateCount + state]! !== absent) out[state]! |= 1 << place;
  });
  return out;
}

/** Entropy of the classes American, European, any exotic pest. [bit] */
function entropy(shares: Float64Array, foulbroods: number): number {
  const own = (1 << foulbroods) - 1;
  const merged = new Float64Array(2 << foulbroods);
  shares.forEach((share, code) => (merged[(code & own) | (code > own ? own + 1 : 0)]! += share));
  let bits = 0;
  for (const share of merged) if (share > 0) bits -= share * Math.log2(share);
  return bits;
}

/** Chance that a sign is reported in every state, by the numbers as they stand. */
function signChances(network: Network, sign: number, isUntrained: boolean): Float64Array[] {
  const { model, rows, columns, notCaused, prefix, last, stateCount } = network;
  const misread = isUntrained ? network.values[model.numbers.starts['misread']! * rows]! : 0;
  const at = sign * columns;
  const quiet = new Float64Array(stateCount);
  const seen = new Float64Array(stateCount);
  for (let state = 0; state < stateCount; state++) {
    const factor = notCaused[(at + last[state]!) * rows]!;
    quiet[state] = state === 0 ? factor : quiet[prefix[state]!]! * factor;
    seen[state] = misread + (1 - 2 * misread) * (1 - quiet[state]!);
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

/** Would another set of conditions be suspected, or a suspected one confirmed? `held` are suspected on a positive test. */
function wouldChange(
  network: Network,
  decision: Decision,
  held: Set<number>,
  shares: Float64Array,
  method: CompiledMethod | null,
  outcome: number,
  thresholds: Thresholds,
): boolean {
  const { model } = network;
  const isPositive = method !== null && method.positives[outcome]!;
  const chances = notifiable(network).map((_, place) =>
    shares.reduce((sum, share, code) => (code & (1 << place) ? sum + share : sum), 0),
  );
  const wanted = notifiable(network).filter((condition, place) => {
    const isExotic = place >= model.foulbroods.length;
    const limit = isExotic ? thresholds.exotic_probability : thresholds.suspect_probability;
    return held.has(condition) || chances[place]! >= limit || (isPositive && method!.specific && method!.target === condition);
  });
  const named = wanted.map((condition) => model.conditions[condition]!);
  if (named.length !== decision.conditions.length || named.some((name) => !decision.conditions.includes(name)))
    return true;
  if (!isPositive || decision.state === 'confirmed') return false;
  const target = model.conditions[method!.target]!;
  const fits = method!.confirms || (method!.specific && method!.evidence === 'signs');
  return (
    fits &&
    (thresholds.confirm_by[target] ?? []).includes(method!.evidence) &&
    chances[notifiable(network).indexOf(method!.target)]! >= thresholds.confirm_probability
  );
}

/**
 * The looks and tests not done yet, the most worth first. Give it a network built with 0 draws (only row 0 is read)
 * and the weights of `stateWeights`.
 */
export function nextTests(
  network: Network,
  weights: Float64Array,
  observed: Observations,
  decision: Decision,
  thresholds: Thresholds,
): NextTest[] {
  const { model, rows, stateCount } = network;
  const code = codes(network);
  const classes = 1 << notifiable(network).length;
  const foulbroods = model.foulbroods.length;
  const now = new Float64Array(classes);
  for (let state = 0; state < stateCount; state++) now[code[state]!]! += weights[state * rows]!;
  const before = entropy(now, foulbroods);
  const found: NextTest[] = [];
  const positive = (observed.results ?? []).flatMap((result) => {
    const method = model.methods.find((entry) => entry.name === result.test);
    const isPositive = result.outcome != null && method?.positives[method.outcomes.indexOf(result.outcome)];
    return isPositive && method.specific ? [method.target] : [];
  });
  const held = new Set(positive);

  const add = (name: string, method: CompiledMethod | null, chances: Float64Array[], minutes: number): void => {
    let after = 0;
    let change = 0;
    chances.forEach((chance, outcome) => {
      const joint = new Float64Array(classes);
      for (let state = 0; state < stateCount; state++)
        joint[code[state]!]! += chance[state]! * weights[state * rows]!;
      const total = joint.reduce((sum, share) => sum + share, 0);
      if (total <= 0) return;
      const shares = joint.map((share) => share / total);
      after += total * entropy(shares, foulbroods);
      if (wouldChange(network, decision, held, shares, method, outcome, thresholds)) change += total;
    });
    const bits = Math.max(before - after, 0);
    const { cost, waiting_days: waitingDays } = method ?? { cost: 0, waiting_days: 0 };
    const effort =
      minutes + cost * model.effort.minutes_per_cost + waitingDays * model.effort.minutes_per_waiting_day;
    const worth = (100 * bits) / effort;
    found.push({ name, isTest: method !== null, bits, change: Math.min(change, 1), minutes, cost, waitingDays, worth });
  };
  model.signs.forEach((sign, index) => {
    if (sign in (observed.signs ?? {}) || model.not_to_look_for.includes(sign)) return;
    add(sign, null, signChances(network, index, observed.observer === 'untrained'), model.sign_minutes[index]!);
  });
  model.methods.forEach((method, index) => {
    const isSettled = (observed.results ?? []).some(
      (result) =>
        result.test === method.name &&
        result.outcome != null &&
        method.positives[method.outcomes.indexOf(result.outcome)],
    );
    if (!isSettled) add(method.name, method, outcomeChances(network, index, method), method.minutes);
  });
  return found.sort((a, b) => b.worth - a.worth || (a.name < b.name ? -1 : 1));
}

/** Act without another look? Suspected or confirmed, and nothing that can be done on the spot would change that. */
export function isEnough(network: Network, decision: Decision, tests: NextTest[]): boolean {
  if (decision.state !== 'suspected' && decision.state !== 'confirmed') return false;
  const here = tests.filter((test) => test.waitingDays === 0).map((test) => test.change);
  return Math.max(0, ...here) < network.model.effort.settled;
}
