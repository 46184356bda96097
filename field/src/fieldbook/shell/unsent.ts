/* How much is only on this phone, and since when, in words. */

import { decimal, t } from '../../words/words';

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const DAY_MS = 24 * HOUR_MS;

export function onlyHere(unsent: { lines: number; photos: number }): string {
  const lines = t('fieldbook.phone_lines_here', { count: unsent.lines });
  const photos = t('fieldbook.phone_photos_here', { count: unsent.photos });
  if (unsent.lines > 0 && unsent.photos > 0) return t('fieldbook.phone_only_here', { what: `${lines}, ${photos}` });
  if (unsent.lines > 0) return t('fieldbook.phone_only_here', { what: lines });
  if (unsent.photos > 0) return t('fieldbook.phone_only_here', { what: photos });
  return t('fieldbook.phone_all_handed_in');
}

/* How long ago, roughly; a clock set back makes it nothing, not less. */
export function age(at: string, now: number): string {
  const ms = Math.max(0, now - Date.parse(at));
  if (ms < MINUTE_MS) return t('fieldbook.phone_moment');
  if (ms < HOUR_MS) return t('fieldbook.phone_minutes', { count: Math.floor(ms / MINUTE_MS) });
  if (ms < DAY_MS) return t('fieldbook.phone_hours', { count: Math.floor(ms / HOUR_MS) });
  return t('fieldbook.phone_days', { count: Math.floor(ms / DAY_MS) });
}

/* A small file has a size too: not less than a tenth. */
export function megabytes(bytes: number): string {
  const value = bytes / 1e6;
  return value < 10 ? decimal(Math.max(0.1, value), 1, 1) : decimal(value, 0, 0);
}
