/* A strategy as it is composed on the page; what is not composed keeps the room's own value. */

import type { Schemas } from '../../api/client';
import { distance, t } from '../../words/words';

export type Strategy = Required<Schemas['StrategyAsked']>;

const KILOMETRE_M = 1000;
export const ORDERS = ['rule', 'distance', 'random'] as const;
export const MOST = 6;

export function newStrategy(radius_m: number, more: Partial<Strategy> = {}): Strategy {
  const made: Strategy = {
    name: '',
    radius_m,
    order: 'rule',
    inspectors: 6,
    rounds: 1,
    interval_days: 42,
    clear_after_days: 3,
    clearance: 'destroy',
    movement_stop: false,
    share_opened: 1,
    ...more,
  };
  return { ...made, name: made.name || nameFor(made) };
}

export function nameFor(row: Strategy): string {
  const radius = distance(row.radius_m);
  return row.movement_stop
    ? t('hidden.strategy_default_stop', { radius })
    : t('hidden.strategy_default', { radius, rounds: row.rounds });
}

/* What is compared when the user has composed nothing yet. */
export function standard(): Strategy[] {
  return [
    newStrategy(3 * KILOMETRE_M),
    newStrategy(5 * KILOMETRE_M),
    newStrategy(5 * KILOMETRE_M, { rounds: 2 }),
    newStrategy(5 * KILOMETRE_M, { movement_stop: true }),
  ];
}
