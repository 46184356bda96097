/* Our own signs, drawn on a 20 × 20 field as SVG paths: stroke lines, and areas that are filled. */

export interface Drawn {
  lines?: string;
  areas?: string;
  dashes?: string;
}

const RING = 'M17 10a7 7 0 1 1-14 0a7 7 0 1 1 14 0z';
const SQUARE = 'M4 4h12v12H4z';

export const SIGNS: Record<string, Drawn> = {
  // Where a case stands.
  suspected: { lines: RING, dashes: '2.6 2', areas: 'M8.6 10a1.4 1.4 0 1 0 2.8 0a1.4 1.4 0 1 0-2.8 0z' },
  awaiting_result: { lines: RING, areas: 'M10 3a7 7 0 0 1 0 14z' },
  confirmed: { lines: SQUARE, areas: 'M4 4h12v12H4z' },
  under_measures: { lines: `${SQUARE}M4 10l6-6M4 16L16 4M10 16l6-6` },
  in_reinspection: { lines: `${RING}M10 6.5v3.5l2.6 2`, areas: '' },
  released: { lines: 'M3 17h14M6 17V9.5M4.5 10.5L16 4', areas: 'M4.6 9.6a1.6 1.6 0 1 0 3.2 0a1.6 1.6 0 1 0-3.2 0z' },
  not_confirmed: { lines: `${RING}M5.2 14.8L14.8 5.2` },
  // How soon something is due.
  overdue: { lines: 'M5 2v16', areas: 'M5 3l11 4.2L5 11.5z' },
  at_once: { lines: 'M10 2v10.5', areas: 'M8.4 16a1.6 1.6 0 1 0 3.2 0a1.6 1.6 0 1 0-3.2 0z' },
  due: { lines: 'M5 2v16M5 3l11 4.2L5 11.5' },
  coming: { lines: 'M5 2v16M5 3h9v8H5', dashes: '2 1.7' },
  not_yet_possible: { lines: 'M5 3h10M5 17h10M6.5 3c0 6 7 8 7 14M13.5 3c0 6-7 8-7 14' },
  done: { lines: 'M3.5 10.5l4.3 4.5L16.5 5' },
  forbidden: { lines: `${RING}M5.2 5.2l9.6 9.6` },
  // How an apiary lies to a ring.
  in: { lines: RING, areas: 'M7.6 10a2.4 2.4 0 1 0 4.8 0a2.4 2.4 0 1 0-4.8 0z' },
  out: { lines: 'M11.5 10a4.9 4.9 0 1 1-9.8 0a4.9 4.9 0 1 1 9.8 0z', areas: 'M14.2 10a2.2 2.2 0 1 0 4.4 0a2.2 2.2 0 1 0-4.4 0z' },
  cannot_tell: { lines: SQUARE, areas: 'M4 16L16 4v12z' },
  // How a rule binds.
  law: { lines: 'M4 4h12M4 8h12M4 12h12M4 16h12' },
  official_practice: { lines: 'M4 5h12M4 10h12M4 15h12', dashes: '5 2' },
  common_practice: { lines: 'M3.5 7h13M3.5 13h13', dashes: '2.6 2.6' },
  project_choice: { lines: 'M4 15L15 4M12.4 3.6l4 4' },
  locally_changed: { lines: 'M3 15h7M4 11L13 2.6l3.4 3.4L7.6 15' },
  // What was looked at on a comb, and what a finding does to the answer.
  look_seen: { lines: 'M3.5 10.5l4.3 4.5L16.5 5' },
  look_absent: { lines: 'M5 5l10 10M15 5L5 15' },
  look_unlooked: { lines: 'M4 10h12', dashes: '2.4 2.4' },
  for: { lines: 'M10 17V3.5M4.5 9L10 3.5L15.5 9' },
  against: { lines: 'M10 3v13.5M4.5 11l5.5 5.5l5.5-5.5' },
  // Furniture.
  station: { lines: 'M10 3l7.5 13h-15z', areas: 'M8.8 11.6a1.2 1.2 0 1 0 2.4 0a1.2 1.2 0 1 0-2.4 0z' },
  trouble: { lines: 'M10 3l8 14H2zM10 8v4.4', areas: 'M9 14.6a1 1 0 1 0 2 0a1 1 0 1 0-2 0z' },
  today: { lines: 'M3 5h14v12H3zM3 9h14M7 2.5v4M13 2.5v4' },
  ground: { lines: 'M2.5 5l5-2l5 2l5-2v12l-5 2l-5-2l-5 2zM7.5 3v12M12.5 5v12' },
  outbreaks: { lines: `${RING}M10 10m-3 0a3 3 0 1 0 6 0a3 3 0 1 0-6 0M10 1v4M10 15v4M1 10h4M15 10h4` },
  weigh: { lines: 'M10 2.5v14M6 17.5h8M3.5 5.5h13M3.5 5.5L1 12h5zM16.5 5.5L14 12h5z' },
  rounds: { lines: 'M4 15.5L9 6l4 6.5l4-8', areas: 'M2.2 15.5a1.8 1.8 0 1 0 3.6 0a1.8 1.8 0 1 0-3.6 0zM7.2 6a1.8 1.8 0 1 0 3.6 0a1.8 1.8 0 1 0-3.6 0zM11.2 12.5a1.8 1.8 0 1 0 3.6 0a1.8 1.8 0 1 0-3.6 0zM15.2 4.5a1.8 1.8 0 1 0 3.6 0a1.8 1.8 0 1 0-3.6 0z' },
  pin: { lines: 'M10 11v7M6.5 2.5h7M5 11h10', areas: 'M7.5 2.5h5l1 5.5l1.8 3H4.7l1.8-3z' },
  settings: { lines: 'M3 6h14M3 14h14M7 3.5v5M13 11.5v5' },
  light: { lines: 'M14 10a4 4 0 1 1-8 0a4 4 0 1 1 8 0zM10 1.5v2.5M10 16v2.5M1.5 10H4M16 10h2.5' },
  dark: { lines: 'M16 12.4A6.6 6.6 0 0 1 7.6 4A6.6 6.6 0 1 0 16 12.4z' },
  print: { lines: 'M6 7V3h8v4M6 14H3V7h14v7h-3M6 11.5h8V17H6z' },
  save: { lines: 'M10 2.5v10M6 8.8l4 4l4-4M3 16.5h14' },
  search: { lines: 'M13 8.5a4.5 4.5 0 1 1-9 0a4.5 4.5 0 1 1 9 0zM11.8 11.8L17 17' },
};
