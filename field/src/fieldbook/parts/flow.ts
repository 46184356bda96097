/* When a lateral-flow device may be read: not before the lines have formed, not after they dry. */

import type { CompiledModel } from '../../weigh';

const MINUTE_S = 60;

export interface FlowTimes {
  notBeforeS: number;
  readFromS: number;
  notAfterS: number;
}

export type FlowMoment = 'early' | 'soon' | 'now' | 'late';

export function flowTimes(model: CompiledModel): FlowTimes {
  const seconds = (name: string): number => model.reading[name]! * MINUTE_S;
  return {
    notBeforeS: seconds('read_not_before_min'),
    readFromS: seconds('read_after_min'),
    notAfterS: seconds('read_not_after_min'),
  };
}

export function momentOf(times: FlowTimes, pastS: number): FlowMoment {
  if (pastS < times.notBeforeS) return 'early';
  if (pastS < times.readFromS) return 'soon';
  return pastS <= times.notAfterS ? 'now' : 'late';
}
