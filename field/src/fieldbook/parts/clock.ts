/* Days and times of the phone where it stands. */

const DAY_MS = 86_400_000;

function two(value: number): string {
  return String(value).padStart(2, '0');
}

export function clock(at: Date): string {
  return `${two(at.getHours())}:${two(at.getMinutes())}`;
}

export function clockSeconds(at: Date): string {
  return `${clock(at)}:${two(at.getSeconds())}`;
}

/* The calendar day where the phone is, as a visit is dated. */
export function today(now = new Date()): string {
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

export function daysSince(instant: string, now = Date.now()): number {
  return Math.floor((now - Date.parse(instant)) / DAY_MS);
}

/* Minutes and seconds that are left or past: 2:05. */
export function span(seconds: number): string {
  const whole = Math.max(0, Math.round(seconds));
  return `${Math.floor(whole / 60)}:${two(whole % 60)}`;
}
