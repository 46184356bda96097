/* The whole answer put into words, in the shape in which the desk's server gives it too (WeighedShape). */

import { type Message, say, tell, type Translate } from './message';
import type { Belief, CompiledModel, Thresholds } from './model';
import type { Interpreted } from './reading';
import { type Reason, resultText } from './reasons';
import type { Weighing } from './weigher';

const SHOWN_FOR = 3;
const SHOWN_AGAINST = 1;
const SHOWN_NEXT = 6;
/** A look that promises less is not offered. */
const LEAST_BITS = 0.01;
const SURE = 0.99;

export interface Told {
  state: Weighing['decision']['state'];
  text: string;
  conditions: string[];
  is_enough: boolean;
  chances: (Belief & { name: string; said: string; said_low: string; said_high: string })[];
  stages: { disease: string; name: string; shares: { stage: string; name: string; said: string }[] }[];
  about: string;
  carrying: { finding: string; text: string; bits: number }[];
  against: { finding: string; text: string; bits: number }[];
  next_tests: {
    name: string;
    is_test: boolean;
    text: string;
    how: string | null;
    bits: number;
    change_probability: number;
    change_said: string;
    minutes: number;
    cost: number;
    waiting_days: number;
  }[];
  duty: string[];
  not_looked_at: string[];
  results: { test: string; outcome: string | null; is_evidential: boolean; trust: number; text: string }[];
  notes: string[];
}

/** A probability as it is written: never as certainty. */
export function chanceText(probability: number): Message {
  if (probability > SURE) return say('diagnosis.chance.over');
  if (probability < 1 - SURE) return say('diagnosis.chance.under');
  return say('diagnosis.chance.about', { value_probability: probability });
}

/** The name of a condition. */
export function nameOf(model: CompiledModel, condition: string): Message {
  const isFoulbrood = model.foulbroods.some((index) => model.conditions[index] === condition);
  return say(isFoulbrood ? `disease.${condition}` : `diagnosis.condition.${condition}`);
}

function decisionText(model: CompiledModel, weighing: Weighing): Message {
  const { decision, beliefs } = weighing;
  const chance = (name: string): number => beliefs.find((belief) => belief.condition === name)?.probability ?? 0;
  const key = `diagnosis.state.${decision.state}`;
  const shown = decision.confirmed.length ? decision.confirmed : decision.conditions;
  if (shown.length) {
    const lead = Math.max(...shown.map(chance));
    return say(key, { conditions: shown.map((name) => nameOf(model, name)), lead: chanceText(lead) });
  }
  return say(key, {
    unseen: decision.notLookedAt.map((unseen) => say(unseen)),
    condition: nameOf(model, beliefs[0]!.condition),
    afb: chanceText(chance('AFB')),
    efb: chanceText(chance('EFB')),
  });
}

function dutyText(key: string, weighing: Weighing, thresholds: Thresholds): Message {
  if (key !== 'diagnosis.duty.confirm') return say(key);
  const kinds = new Set(weighing.decision.conditions.flatMap((name) => thresholds.confirm_by[name] ?? []));
  return say(key, { evidence: [...kinds].toSorted().map((kind) => say(`diagnosis.evidence.${kind}`)) });
}

function notes(model: CompiledModel, results: Interpreted[]): Message[] {
  const found = results.flatMap((result) => result.notes);
  const kept = results.filter((result) => result.outcome && !result.evidential);
  if (kept.length) found.push(say('diagnosis.note_not_evidential', { results: kept.map(resultText) }));
  const isNegative = results.some((result) => {
    const method = model.methods.find((entry) => entry.name === result.test)!;
    return result.outcome && method.confirms && !method.positives[method.outcomes.indexOf(result.outcome)];
  });
  if (isNegative) found.push(say('diagnosis.note_negative'));
  return [...found, say('diagnosis.note_together'), say('diagnosis.note_numbers')];
}

/** Put an answer into words. `results` are those of the observations, with what must be said of them. */
export function tellWeighing(
  model: CompiledModel,
  weighing: Weighing,
  results: Interpreted[],
  t: Translate,
  thresholds: Thresholds = model.thresholds,
): Told {
  const words = (message: Message): string => tell(message, t);
  const { decision } = weighing;
  const reason = ({ finding, bits, what }: Reason): Told['carrying'][number] => ({
    finding,
    bits,
    text: words(
      say(bits >= 0 ? 'diagnosis.reason_for' : 'diagnosis.reason_against', {
        what,
        condition: nameOf(model, weighing.about),
        bits: Math.round(Math.abs(bits) * 10) / 10,
      }),
    ),
  });
  return {
    state: decision.state,
    text: words(decisionText(model, weighing)),
    conditions: decision.conditions,
    is_enough: weighing.isEnough,
    chances: weighing.beliefs.map((belief) => ({
      ...belief,
      name: words(nameOf(model, belief.condition)),
      said: words(chanceText(belief.probability)),
      said_low: words(chanceText(belief.low)),
      said_high: words(chanceText(belief.high)),
    })),
    stages: Object.entries(weighing.stages)
      .filter(([disease]) => decision.conditions.includes(disease))
      .map(([disease, shares]) => ({
        disease,
        name: words(nameOf(model, disease)),
        shares: Object.entries(shares).map(([stage, share]) => ({
          stage,
          name: t(`weigh.stage_${stage}`),
          said: words(chanceText(share)),
        })),
      })),
    about: words(nameOf(model, weighing.about)),
    carrying: weighing.reasons.filter((row) => row.bits > 0).slice(0, SHOWN_FOR).map(reason),
    against: weighing.reasons.filter((row) => row.bits < 0).slice(0, SHOWN_AGAINST).map(reason),
    next_tests: weighing.next
      .filter((row) => row.bits >= LEAST_BITS)
      .slice(0, SHOWN_NEXT)
      .map((row) => ({
        name: row.name,
        is_test: row.isTest,
        text: words(
          say(row.isTest ? 'diagnosis.next_test' : 'diagnosis.next_look', {
            what: say(`diagnosis.${row.isTest ? 'test' : 'sign'}.${row.name}`),
          }),
        ),
        how: row.isTest ? null : t(`diagnosis.ask.${row.name}`),
        bits: row.bits,
        change_probability: row.change,
        change_said: words(chanceText(row.change)),
        minutes: row.minutes,
        cost: row.cost,
        waiting_days: row.waitingDays,
      })),
    duty: decision.duty.map((key) => words(dutyText(key, weighing, thresholds))),
    not_looked_at: decision.notLookedAt.map((key) => t(key)),
    results: results.map((result) => ({
      test: result.test,
      outcome: result.outcome,
      is_evidential: result.evidential && result.outcome !== null,
      trust: result.trust,
      text: words(resultText(result)),
    })),
    notes: notes(model, results).map(words),
  };
}

/** Which signs of a place on the comb there are, in words, for a form. */
export function lookingFor(
  model: CompiledModel,
  t: Translate,
): { group: string; signs: { sign: string; name: string; question: string }[] }[] {
  return Object.entries(model.looking).map(([group, signs]) => ({
    group,
    signs: signs.map((sign) => ({ sign, name: t(`diagnosis.sign.${sign}`), question: t(`diagnosis.ask.${sign}`) })),
  }));
}

/** How a test (or the look for `scale`) is done: cautions first, then the steps with their timers; null without a guide. */
export function guideTo(
  model: CompiledModel,
  test: string,
  t: Translate,
): { cautions: string[]; steps: { text: string; timer_s: number | null }[] } | null {
  const guide = model.guides[test];
  if (!guide) return null;
  return {
    cautions: guide.cautions.map((key) => t(key)),
    steps: guide.steps.map(([key, timer_s]) => ({ text: t(key), timer_s })),
  };
}
