/* How each inspector is told from the others without colour alone: a letter, and a line of its own. */

import type { Schemas } from '../../api/client';

export type Rounds = Schemas['RoundsShape'];
export type RoundPlan = Schemas['RoundPlanShape'];
export type Round = Schemas['RoundShape'];
export type Stop = Schemas['RoundStopShape'];

export interface Line {
  letter: string;
  dashes: number[];
  isAccent: boolean;
}

/* In widths of the line; whole, dashed, dotted, dash and dot, in ink and in the accent. */
const DASHES = [[1], [1], [4, 2], [4, 2], [1, 1.4], [1, 1.4], [6, 1.5, 1, 1.5], [6, 1.5, 1, 1.5]];
const LETTERS = 26;

export function lineOf(number: number): Line {
  const turn = Math.floor(number / LETTERS);
  return {
    letter: String.fromCharCode(65 + (number % LETTERS)) + (turn ? String(turn) : ''),
    dashes: DASHES[number % DASHES.length] ?? [1],
    isAccent: number % 2 === 1,
  };
}

export function linesOf(rounds: Rounds): Map<string, Line> {
  return new Map(rounds.inspectors.map((row, number) => [row.inspector, lineOf(number)]));
}

/* The same dashes for a line drawn as SVG, so many units wide. */
export function svgDashes(line: Line, width: number): string | undefined {
  return line.dashes.length < 2 ? undefined : line.dashes.map((length) => length * width).join(' ');
}
