/* Hours as they are typed in: rows left empty are not meant. */

export interface HoursRow {
  opens: string;
  closes: string;
}

export function filledHours(rows: readonly HoursRow[]): HoursRow[] {
  return rows.filter((row) => row.opens && row.closes).map(({ opens, closes }) => ({ opens, closes }));
}

/* A row with one end only would silently not count. */
export function isHalfFilled(rows: readonly HoursRow[]): boolean {
  return rows.some((row) => Boolean(row.opens) !== Boolean(row.closes));
}
