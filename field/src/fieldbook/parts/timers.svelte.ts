/*
 * Timers of field tests: only the instant of the start is kept, and the rest is computed from it, so that a locked
 * screen or a killed book changes nothing. No personal data: which test, in which visit, at which hive.
 */

const KEY = 'broodsweep.timers';
const HOUR_MS = 3_600_000;

export interface Running {
  test: string;
  kind: string;
  visit: string;
  colony: number;
  lot: string;
  started_at: number;
}

function stored(): Running[] {
  try {
    const kept = JSON.parse(localStorage.getItem(KEY) ?? '[]') as Running[];
    return kept.filter((row) => Date.now() - row.started_at < HOUR_MS);
  } catch {
    return []; // storage may be switched off; the timers then hold while the book is open
  }
}

let running = $state.raw<Running[]>(stored());
let now = $state(Date.now());

function keep(rows: Running[]): void {
  running = rows;
  try {
    localStorage.setItem(KEY, JSON.stringify(rows));
  } catch {
    // see above
  }
}

export const timers = {
  get all(): Running[] {
    return running;
  },
  of(visit: string, colony: number): Running[] {
    return running.filter((row) => row.visit === visit && row.colony === colony);
  },
  start(row: Omit<Running, 'started_at'>): void {
    keep([...running.filter((one) => one.test !== row.test), { ...row, started_at: Date.now() }]);
    now = Date.now();
  },
  stop(test: string): void {
    keep(running.filter((row) => row.test !== test));
  },
  /* Seconds since the drops went in; follows the clock while a screen watches. */
  past(row: Running): number {
    return Math.max(0, (now - row.started_at) / 1000);
  },
  watch(): () => void {
    now = Date.now();
    const ticks = setInterval(() => (now = Date.now()), 250);
    const wake = (): void => void (now = Date.now());
    document.addEventListener('visibilitychange', wake);
    return () => {
      clearInterval(ticks);
      document.removeEventListener('visibilitychange', wake);
    };
  },
};
