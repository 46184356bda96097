/* The one scale of risk, light to dark: its steps, and how a chance is written. */

import { decimal, t } from '../../words/words';

/* A chance from each of these on is a step darker. */
export const STEPS = [0.01, 0.05, 0.1, 0.25, 0.5] as const;
const LEAST = 0.01;

export function stepOf(probability: number): number {
  return STEPS.filter((least) => probability >= least).length;
}

export function said(probability: number): string {
  return probability < LEAST ? t('hidden.under_hundredth') : decimal(probability, 2, 2);
}

export function stepSaid(step: number): string {
  const low = STEPS[step - 1];
  const high = STEPS[step];
  if (low === undefined) return t('hidden.legend_under', { probability: decimal(STEPS[0], 2, 2) });
  if (high === undefined) return t('hidden.legend_over', { probability: decimal(low, 2, 2) });
  return t('hidden.legend_from', { low: decimal(low, 2, 2), high: decimal(high, 2, 2) });
}

/* Whole from ten on, else one decimal: nobody counts tenths of many. */
export function counted(value: number): string {
  return value >= 10 ? decimal(Math.round(value), 0, 0) : decimal(value, 1, 1);
}
