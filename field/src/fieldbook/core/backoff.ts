/* How long to wait before the next try: doubling, with chance in it so that phones do not come all at once. */

const FIRST_S = 2;
const LONGEST_S = 300;

export function waitBefore(failures: number, chance: number): number {
  const full = Math.min(LONGEST_S, FIRST_S * 2 ** Math.max(0, failures - 1));
  return full * (0.5 + chance / 2);
}
