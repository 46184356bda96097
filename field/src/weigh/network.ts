/*
 * The network of the compiled model: every state (which parts are present together) and, for each row of
 * numbers, the tables that evidence is weighed with. Row 0 holds the numbers as they stand, the other rows
 * are draws of them, made by the same counter as in Python (broodsweep.diagnosis.numbers).
 */

import type { CompiledMethod, CompiledModel } from './model';

const WORD_SLOT = 1_000_000;
export const PRIOR_SLOT = 2_000_000;

export interface Network {
  model: CompiledModel;
  rows: number;
  columns: number;
  /** Columns of the parts present in each state, `most_together` each, 0 where there are fewer. */
  states: Uint8Array;
  stateCount: number;
  /** The state without its last part, and the column of that part: states grow from earlier ones. */
  prefix: Uint16Array;
  last: Uint8Array;
  /** Stage key of each condition in each state: 0 to 3, or `absent`. [condition * stateCount + state] */
  stageKey: Uint8Array;
  absent: number;
  /** Numbers by row. [slot * rows + row] */
  values: Float64Array;
  /** Chance that a part does not cause a sign; column 0 is the background. [(sign * columns + column) * rows + row] */
  notCaused: Float64Array;
  /** Outcome chances of each test with the agent by key, and without it (plain, confused). */
  steps: Steps[];
}

/** held: [(key * outcomes + outcome) * rows + row]; free: [(confused * outcomes + outcome) * rows + row] */
export interface Steps {
  held: Float64Array;
  free: Float64Array;
}

function mix(value: number): number {
  let x = value >>> 0;
  x ^= x >>> 16;
  x = Math.imul(x, 0x85ebca6b);
  x ^= x >>> 13;
  x = Math.imul(x, 0xc2b2ae35);
  return (x ^ (x >>> 16)) >>> 0;
}

/** A standard normal number: a hash of seed, pair of draws and slot; odd draws mirror the even one before. */
export function normal(seed: number, draw: number, slot: number): number {
  const start = mix((seed ^ 0x9e3779b9) >>> 0);
  const pair = mix(((draw >>> 1) ^ start) >>> 0);
  const first = mix((pair + Math.imul(slot, 0x9e3779b1)) >>> 0);
  const second = mix((first ^ 0x5bd1e995) >>> 0);
  const u1 = (first + 0.5) / 4294967296;
  const u2 = (second + 0.5) / 4294967296;
  const half = Math.sqrt(-2 * Math.log(u1)) * Math.cos(2 * Math.PI * u2);
  return draw % 2 === 0 ? half : -half;
}

export const logit = (p: number): number => Math.log(p) - Math.log1p(-p);
export const expit = (x: number): number => 1 / (1 + Math.exp(-x));

function drawnValues(model: CompiledModel, rows: number): Float64Array {
  const { kinds, slots, words, share_of_word: share, seed } = model.numbers;
  const out = new Float64Array(slots.length * rows);
  const shared = new Float64Array(words * rows);
  for (let word = 0; word < words; word++)
    for (let row = 1; row < rows; row++) shared[word * rows + row] = normal(seed, row - 1, WORD_SLOT + word);
  slots.forEach((kind, slot) => {
    const [value, spread, isRatio, word] = kinds[kind] as [number, number, number, number];
    out[slot * rows] = value;
    const middle = isRatio ? 0 : logit(value);
    for (let row = 1; row < rows; row++) {
      let z = normal(seed, row - 1, slot);
      if (word >= 0) z = Math.sqrt(share) * shared[word * rows + row]! + Math.sqrt(1 - share) * z;
      out[slot * rows + row] = isRatio ? value * Math.exp(z * spread) : expit(middle + z * spread);
    }
  });
  return out;
}

function listStates(model: CompiledModel): number[][] {
  const found: number[][] = [];
  const grow = (chosen: number[], next: number, size: number): void => {
    if (chosen.length === size) {
      const named = new Set(chosen.map((column) => model.parts[column - 1]![0]));
      if (named.size === size) found.push(chosen);
      return;
    }
    for (let column = next; column <= model.parts.length; column++)
      grow([...chosen, column], column + 1, size);
  };
  for (let size = 0; size <= model.most_together; size++) grow([], 1, size);
  return found;
}

function notCausedTable(model: CompiledModel, values: Float64Array, rows: number): Float64Array {
  const columns = model.parts.length + 1;
  const start = model.numbers.starts['signs']!;
  const out = new Float64Array(model.signs.length * columns * rows);
  for (let sign = 0; sign < model.signs.length; sign++) {
    const base = sign * columns;
    for (let row = 0; row < rows; row++) {
      const quiet = 1 - values[(start + base) * rows + row]!;
      out[base * rows + row] = quiet;
      for (let column = 1; column < columns; column++) {
        const alone = 1 - values[(start + base + column) * rows + row]!;
        out[(base + column) * rows + row] = Math.min(alone / quiet, 1);
      }
    }
  }
  return out;
}

/** Turn chances step by step into chances of outcomes. */
export function outcomesOf(chain: number[]): number[] {
  let rest = 1;
  const out = chain.map((step) => {
    const here = rest * step;
    rest *= 1 - step;
    return here;
  });
  return [...out, rest];
}

export function stepTables(model: CompiledModel, values: Float64Array, rows: number): Steps[] {
  let start = model.numbers.starts['methods']!;
  const keys = model.stages.length;
  return model.methods.map((method: CompiledMethod) => {
    const n = method.outcomes.length;
    const held = new Float64Array((keys + 1) * n * rows);
    const free = new Float64Array(2 * n * rows);
    const isConfused = method.confuser >= 0;
    for (let row = 0; row < rows; row++) {
      const at = (offset: number): number => values[(start + offset) * rows + row]!;
      const chains: number[][] = [];
      for (let key = 0; key < keys; key++)
        chains.push(Array.from({ length: n - 1 }, (_, step) => at(step * keys + key)));
      chains.push(Array.from({ length: n - 1 }, (_, step) => Math.min(...chains.map((c) => c[step]!))));
      chains.forEach((chain, key) => {
        outcomesOf(chain).forEach((p, outcome) => (held[(key * n + outcome) * rows + row] = p));
      });
      const plain = Array.from({ length: n - 1 }, (_, step) => at((n - 1) * keys + step));
      const other = Array.from({ length: n - 1 }, (_, step) => at((n - 1) * (keys + 1) + step));
      [plain, isConfused ? other : plain].forEach((chain, confused) => {
        outcomesOf(chain).forEach((p, outcome) => (free[(confused * n + outcome) * rows + row] = p));
      });
    }
    start += (n - 1) * (keys + (isConfused ? 2 : 1));
    return { held, free };
  });
}

/** Build the network once; `draws` 0 gives the figures without intervals. */
export function buildNetwork(model: CompiledModel, draws: number = model.numbers.draws): Network {
  const rows = draws + 1;
  const listed = listStates(model);
  const most = model.most_together;
  const absent = model.stages.length;
  const states = new Uint8Array(listed.length * most);
  const prefix = new Uint16Array(listed.length);
  const last = new Uint8Array(listed.length);
  const places = new Map(listed.map((chosen, state) => [chosen.join(), state]));
  const stageKey = new Uint8Array(model.conditions.length * listed.length).fill(absent);
  listed.forEach((chosen, state) => {
    prefix[state] = places.get(chosen.slice(0, -1).join()) ?? 0;
    last[state] = chosen[chosen.length - 1] ?? 0;
    chosen.forEach((column, place) => {
      states[state * most + place] = column;
      const [condition, stage] = model.parts[column - 1] as [number, number];
      stageKey[condition * listed.length + state] = stage < 0 ? 1 : stage;
    });
  });
  const values = drawnValues(model, rows);
  return {
    model,
    rows,
    columns: model.parts.length + 1,
    states,
    stateCount: listed.length,
    prefix,
    last,
    stageKey,
    absent,
    values,
    notCaused: notCausedTable(model, values, rows),
    steps: stepTables(model, values, rows),
  };
}
