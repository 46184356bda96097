/* The guides carried along: how many steps each has, and the test whose own guide stands in it. */

export interface GuidePlan {
  name: string;
  steps: number;
  cautions: number;
  test?: string;
}

export const GUIDES: readonly GuidePlan[] = [
  { name: 'order', steps: 8, cautions: 2 },
  { name: 'looking', steps: 7, cautions: 1, test: 'scale' },
  { name: 'ropiness', steps: 2, cautions: 0, test: 'ropiness' },
  { name: 'flow', steps: 3, cautions: 0, test: 'lateral_flow_afb' },
  { name: 'sampling', steps: 8, cautions: 2 },
  { name: 'washing', steps: 8, cautions: 4 },
  { name: 'suspect', steps: 7, cautions: 1 },
  { name: 'cautions', steps: 0, cautions: 9 },
];
