/* What the compiled network looks like (made by broodsweep.diagnosis.compiled) and what goes in and comes out. */

export interface CompiledMethod {
  name: string;
  /** What is written down of it. */
  entry: 'rope' | 'lines' | 'count' | 'mites' | 'outcome';
  sample: string;
  target: number;
  pool: number;
  outcomes: string[];
  positives: boolean[];
  confuser: number;
  confirms: boolean;
  specific: boolean;
  evidence: string;
  minutes: number;
  cost: number;
  waiting_days: number;
}

export interface CompiledNumbers {
  /** Each different number once: value, spread, is it a ratio, word (-1 for none), low, high, source, is it published. */
  kinds: number[][];
  slots: number[];
  starts: Record<string, number>;
  sources: string[];
  words: number;
  share_of_word: number;
  seed: number;
  draws: number;
  interval_z: number;
  low: number;
  high: number;
}

export interface CompiledModel {
  version: string;
  format: number;
  numbers: CompiledNumbers;
  conditions: string[];
  nothing: string;
  stages: string[];
  seasons: string[];
  foulbroods: number[];
  exotics: number[];
  parts: number[][];
  most_together: number;
  /** The signs by place, in the order of looking. */
  looking: Record<string, string[]>;
  signs: string[];
  sign_minutes: number[];
  not_to_look_for: string[];
  pools: (number | string)[][];
  methods: CompiledMethod[];
  reading: Record<string, number>;
  context: { near_m: number; neighbourhood_m: number };
  thresholds: Thresholds;
  questions: { opening: string[]; most: number; worth_bits: number; at_once_min: number };
  essential: [string, string[]][];
  effort: { minutes_per_cost: number; minutes_per_waiting_day: number; settled: number };
  guides: Record<string, { cautions: string[]; steps: [string, number | null][] }>;
}

export interface Thresholds {
  suspect_probability: number;
  exotic_probability: number;
  confirm_probability: number;
  /** For each foulbrood, the kinds of evidence that confirm it (from the rulebook). */
  confirm_by: Record<string, string[]>;
}

export interface Prior {
  probability: number;
  low?: number | null;
  high?: number | null;
  /** What of the context the figure does not know, so that it still counts: bought_in, fed_honey. */
  beside?: string[];
}

/** A result as far as the network needs it; `outcome` null is invalid and changes nothing. */
export interface Result {
  test: string;
  outcome: string | null;
  sample?: string | null;
  trust?: number;
  evidential?: boolean;
}

/** A sign that is not named was not looked at; false is looked for and absent. */
export interface Observations {
  season?: string | null;
  signs?: Record<string, boolean>;
  results?: Result[];
  prior?: Record<string, Prior>;
  context?: {
    outbreak_m?: Record<string, number>;
    bought_in?: boolean | null;
    fed_honey?: boolean | null;
  };
  observer?: 'trained' | 'untrained';
}

export interface Belief {
  condition: string;
  probability: number;
  low: number;
  high: number;
}
