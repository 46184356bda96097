/* Weigh the look in this window: no server is asked, so that the answer is there at once and without a signal. */

import { type Schemas, Trouble } from '../../api/client';
import { t } from '../../words/words';
import {
  chanceText,
  type Interpreted,
  type Lot,
  numberSaid,
  type Observations,
  ReadingError,
  tell,
  tellWeighing,
  type Told,
  type Weigher,
  type Weighing,
} from '../../weigh';
import { asked, type Form, type Look } from './look.svelte';

export type Place = Schemas['LookPlaceShape'];

/* What a page shows of an answer: as the server would give it, worked out here. */
export type Weighed = Told & {
  around: Schemas['AroundShape'] | null;
  rules: Schemas['ConfirmRuleShape'][];
};

export interface Here {
  row: Weighed;
  weighing: Weighing;
  observed: Observations;
}

export type Assumed = Schemas['AssumptionShape'];

/* What the record adds to a look; the same as desk.weighing.observations_of. */
function beside(look: Look, place: Place | null): Omit<Observations, 'signs' | 'results'> {
  const given = asked(look);
  const around = place?.around;
  const prior: Observations['prior'] = {};
  if (look.uses_hidden)
    for (const row of around?.hidden ?? []) {
      const unknown = given.bought_in && !around?.bought ? ['bought_in'] : [];
      if (given.fed_honey && row.disease === 'AFB') unknown.push('fed_honey');
      prior[row.disease] = { probability: row.probability, low: row.low, high: row.high, beside: unknown };
    }
  return {
    season: given.season ?? around?.season ?? null,
    prior,
    context: {
      outbreak_m: Object.fromEntries((around?.near ?? []).map((near) => [near.disease, near.nearest_m])),
      bought_in: given.bought_in ?? (around?.bought ? true : null),
      fed_honey: given.fed_honey ?? null,
    },
    observer: look.observer,
  };
}

/* The lots with their kit named as its test; where the register does not say, as it was used. */
function lotsOf(form: Form, look: Look): Lot[] {
  const used = new Map(look.tests.filter((entry) => entry.lot).map((entry) => [entry.lot, entry.test]));
  return form.kits.map((kit) => ({
    lot: kit.lot,
    kit: kit.test ?? used.get(kit.lot) ?? kit.kit,
    expires_on: kit.expires_on,
  }));
}

export function observe(look: Look, place: Place | null, results: Interpreted[]): Observations {
  return { ...beside(look, place), signs: { ...look.signs }, results };
}

/* Weigh a look. Throws a Trouble for a reading that cannot be. */
export function weighHere(weigher: Weigher, form: Form, look: Look, place: Place | null): Here {
  try {
    const lots = lotsOf(form, look);
    const tests = (asked(look).tests ?? []).map((row) => ({ ...row, done_on: row.done_on ?? look.looked_on }));
    const results = tests.map((row) => weigher.interpret(row, lots));
    const observed = observe(look, place, results);
    const thresholds = place?.thresholds ?? weigher.model.thresholds;
    const start = performance.now();
    const weighing = weigher.weigh(observed, thresholds);
    performance.clearMeasures('weigh.answer');
    performance.measure('weigh.answer', { start });
    const told = tellWeighing(weigher.model, weighing, results, t, thresholds);
    const priors = look.uses_hidden ? (place?.around.hidden ?? []).map((row) => row.text) : [];
    return {
      row: { ...told, notes: [...priors, ...told.notes], around: place?.around ?? null, rules: place?.rules ?? [] },
      weighing,
      observed,
    };
  } catch (error) {
    if (error instanceof ReadingError) throw new Trouble(error.sentence.key, tell(error.sentence, t), 400);
    throw error;
  }
}

/* Which assumptions matter most: worked out when the answer stands still. */
export function assumeHere(weigher: Weigher, here: Here): Assumed[] {
  return weigher.assumptions(here.observed, here.weighing.about).map((one) => {
    const [low, high] = [one.atLow, one.atHigh].toSorted((a, b) => a - b) as [number, number];
    return {
      text: tell(numberSaid(weigher.model, one.where), t),
      value: one.value,
      source: one.source,
      is_published: one.isPublished,
      low: tell(chanceText(low), t),
      high: tell(chanceText(high), t),
    };
  });
}
