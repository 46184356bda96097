/*
 * What follows, on the phone as at the desk (broodsweep.diagnosis.decide): suspected, confirmed, look
 * further; the keys of the plain duty; what was not looked at. A low probability never clears a colony.
 */

import type { Belief, CompiledModel, Observations, Result, Thresholds } from './model';

export interface Decision {
  state: 'confirmed' | 'suspected' | 'look_further' | 'other_condition' | 'nothing_found';
  /** Conditions it is suspected or confirmed for, the confirmed first. */
  conditions: string[];
  confirmed: string[];
  /** Keys of the catalogue, in order. */
  duty: string[];
  /** Keys of the catalogue for what was not looked at. */
  notLookedAt: string[];
}

function missingLooks(model: CompiledModel, observed: Observations): string[] {
  const signs = observed.signs ?? {};
  const found = model.essential
    .filter(([, members]) => !members.some((sign) => sign in signs))
    .map(([name]) => `diagnosis.unseen.${name}`);
  const hasRope = (observed.results ?? []).some((result) => result.test === 'ropiness' && result.outcome);
  return hasRope ? found : [...found, 'diagnosis.unseen.rope'];
}

function methodOf(model: CompiledModel, result: Result): CompiledModel['methods'][number] {
  const method = model.methods.find((entry) => entry.name === result.test);
  if (!method) throw new Error(`unknown test ${result.test}`);
  return method;
}

/** Positive results for a condition. */
function positives(model: CompiledModel, observed: Observations, condition: string): Result[] {
  return (observed.results ?? []).filter((result) => {
    const method = methodOf(model, result);
    return (
      result.outcome != null &&
      model.conditions[method.target] === condition &&
      method.positives[method.outcomes.indexOf(result.outcome)]
    );
  });
}

function isConfirmedBy(model: CompiledModel, result: Result, condition: string, thresholds: Thresholds): boolean {
  const method = methodOf(model, result);
  const fits = method.confirms || (method.specific && method.evidence === 'signs');
  return fits && (thresholds.confirm_by[condition] ?? []).includes(method.evidence);
}

export function decide(
  model: CompiledModel,
  beliefs: Belief[],
  observed: Observations,
  thresholds: Thresholds = model.thresholds,
): Decision {
  const chance = new Map(beliefs.map((belief) => [belief.condition, belief.probability]));
  const foulbroods = model.foulbroods.map((index) => model.conditions[index]!);
  const exotics = model.exotics.map((index) => model.conditions[index]!);
  const notLookedAt = missingLooks(model, observed);
  const confirmed = foulbroods.filter(
    (name) =>
      chance.get(name)! >= thresholds.confirm_probability &&
      positives(model, observed, name).some(
        (result) => (result.evidential ?? true) && isConfirmedBy(model, result, name, thresholds),
      ),
  );
  const suspected = [...foulbroods, ...exotics].filter((name) => {
    const limit = exotics.includes(name) ? thresholds.exotic_probability : thresholds.suspect_probability;
    const isSpecific = positives(model, observed, name).some((result) => methodOf(model, result).specific);
    return !confirmed.includes(name) && (chance.get(name)! >= limit || isSpecific);
  });
  if (confirmed.length > 0 || suspected.length > 0) {
    const conditions = [...confirmed, ...suspected];
    const duty = ['notify', 'close_up', 'nothing_moves', 'wash', 'never_wait'];
    if (conditions.some((name) => foulbroods.includes(name))) duty.push('more_cells');
    if (conditions.some((name) => exotics.includes(name))) duty.push('keep_specimen');
    const accepted = suspected.some((name) => (thresholds.confirm_by[name] ?? []).length > 0);
    if (confirmed.length === 0 && accepted) duty.push('confirm');
    const state = confirmed.length > 0 ? 'confirmed' : 'suspected';
    return { state, conditions, confirmed, duty: keys(duty), notLookedAt };
  }
  const lead = beliefs[0]!.condition;
  const again = ['wash', 'look_again'];
  if (notLookedAt.length > 0)
    return { state: 'look_further', conditions: [], confirmed: [], duty: keys(['until_looked', ...again]), notLookedAt };
  if (lead !== model.nothing) {
    const first = lead === 'stonebrood' ? ['lungs', 'recheck'] : ['recheck'];
    return { state: 'other_condition', conditions: [], confirmed: [], duty: keys([...first, ...again]), notLookedAt };
  }
  return { state: 'nothing_found', conditions: [], confirmed: [], duty: keys(again), notLookedAt };
}

const keys = (names: string[]): string[] => names.map((name) => `diagnosis.duty.${name}`);
