/*
 * The probabilities for all rows of numbers at once. The states are walked part by part, so that what their
 * common parts say of every sign is multiplied once and stays in the nearest memory: several times faster than
 * writing every state out.
 */

import { groupResults, groupTable, priorOdds, type SignLine, signLines } from './evidence';
import type { Observations } from './model';
import type { Network } from './network';

interface Group {
  target: number;
  confuser: number;
  table: Float64Array;
}

interface Sweep {
  network: Network;
  /** Prior odds of each part and the signs that were looked for and absent. [column * rows + row] */
  factors: Float64Array;
  lines: SignLine[];
  groups: Group[];
  /** By depth: product of the factors; by depth and sign: what is taken from 1. */
  base: Float64Array[];
  quiet: Float64Array[];
  /** By depth: the summed weight of the states that begin with the parts chosen so far. */
  under: Float64Array[];
  chosen: number[];
  /** [answer * rows + row] */
  found: Float64Array;
}

/** Probability of each condition, and last of nothing wrong, before they are divided by their sum. */
export function sweep(network: Network, observed: Observations): Float64Array {
  const { rows, model } = network;
  const { factors, lines } = signLines(network, observed, priorOdds(network, observed));
  const groups = groupResults(network, observed.results ?? []).map((group) => groupTable(network, group));
  const depths = model.most_together + 1;
  const make = (length: number): Float64Array[] => Array.from({ length: depths }, () => new Float64Array(length));
  const walk: Sweep = {
    network,
    factors,
    lines,
    groups,
    base: make(rows),
    quiet: make(Math.max(lines.length, 1) * rows),
    under: make(rows),
    chosen: [],
    found: new Float64Array((model.conditions.length + 1) * rows),
  };
  visit(walk, 0, 0);
  const total = walk.under[0]!;
  for (let i = 0, row = 0; i < walk.found.length; i++, row = row + 1 === rows ? 0 : row + 1)
    walk.found[i]! /= total[row]!;
  return walk.found;
}

/** Weigh the state of the parts chosen, the last of them `column` (0: none), and all states that grow from it. */
function visit(walk: Sweep, depth: number, column: number): void {
  const { rows, model } = walk.network;
  const under = walk.under[depth]!;
  const isLast = depth === model.most_together;
  weighState(walk, depth, column, under, isLast);
  if (depth === 0) walk.found.set(under, model.conditions.length * rows);
  if (!isLast)
    for (let next = column + 1; next <= model.parts.length; next++) {
      const condition = model.parts[next - 1]![0]!;
      if (walk.chosen.some((taken) => model.parts[taken - 1]![0] === condition)) continue;
      walk.chosen.push(next);
      visit(walk, depth + 1, next);
      walk.chosen.pop();
      const grown = walk.under[depth + 1]!;
      for (let row = 0; row < rows; row++) under[row]! += grown[row]!;
    }
  if (depth > 0) {
    const from = model.parts[column - 1]![0]! * rows;
    for (let row = 0; row < rows; row++) walk.found[from + row]! += under[row]!;
  }
}

function weighState(walk: Sweep, depth: number, column: number, into: Float64Array, isLast: boolean): void {
  const { rows } = walk.network;
  const { factors, lines } = walk;
  const at = column * rows;
  const base = walk.base[depth]!;
  const before = depth > 0 ? walk.base[depth - 1]! : null;
  for (let row = 0; row < rows; row++) base[row] = before ? before[row]! * factors[at + row]! : factors[row]!;
  into.set(base);
  const quiet = walk.quiet[depth]!;
  const held = depth > 0 ? walk.quiet[depth - 1]! : null;
  let line = 0;
  if (held && isLast)
    for (; line + 1 < lines.length; line += 2)
      multiplyTwo(into, held, line * rows, lines[line]!.table, lines[line + 1]!.table, at);
  for (; line < lines.length; line++) {
    const { first, table } = lines[line]!;
    const from = line * rows;
    for (let row = 0; row < rows; row++) {
      const caused = held ? held[from + row]! * table[at + row]! : first[row]!;
      quiet[from + row] = caused;
      into[row]! *= 1 - caused;
    }
  }
  for (const group of walk.groups) multiplyGroup(walk, group, into);
}

/* The loop that takes the time; small, so that the browser compiles it well. */
function multiplyTwo(
  into: Float64Array,
  held: Float64Array,
  from: number,
  one: Float64Array,
  two: Float64Array,
  at: number,
): void {
  const rows = into.length;
  for (let row = 0; row < rows; row++)
    into[row] =
      into[row]! * ((1 - held[from + row]! * one[at + row]!) * (1 - held[from + rows + row]! * two[at + row]!));
}

function multiplyGroup(walk: Sweep, group: Group, into: Float64Array): void {
  const { rows, model, absent } = walk.network;
  let key = absent;
  let confused = 0;
  for (const column of walk.chosen) {
    const [condition, stage] = model.parts[column - 1] as [number, number];
    if (condition === group.target) key = stage < 0 ? 1 : stage;
    if (condition === group.confuser) confused = 1;
  }
  const from = (key * 2 + confused) * rows;
  for (let row = 0; row < rows; row++) into[row]! *= group.table[from + row]!;
}
