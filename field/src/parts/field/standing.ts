/* How a visit stands, in one word of the catalogue. */

import type { Schemas } from '../../api/client';

export function standing(row: Schemas['FieldVisitShape']): 'dropped' | 'whole' | 'signed' | 'in_hand' {
  if (row.is_dropped) return 'dropped';
  if (row.is_whole) return 'whole';
  return row.is_signed ? 'signed' : 'in_hand';
}

/* A line's body in plain words: its fields with what they hold. */
export function told(body: unknown): string {
  if (body === null || typeof body !== 'object') return body === undefined ? '' : String(body);
  return Object.entries(body as Record<string, unknown>)
    .filter(([name]) => name !== 'strokes' && name !== 'keeper_strokes')
    .map(([name, value]) => `${name}: ${typeof value === 'object' ? JSON.stringify(value) : String(value)}`)
    .join(', ');
}
