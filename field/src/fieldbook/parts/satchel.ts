/* Looking things up in what was taken along, and among the apiaries found on the way. */

import type { Book, Disease, SatchelApiary, VisitNow } from '../contract';
import { today } from './clock';

type Keeper = NonNullable<Book['satchel']>['keepers'][number];

/* The day as the book has it: where the desk stands at a fixed day, the phone does too. */
export function dayOf(book: Book): string {
  return book.satchel?.stands_on ?? today();
}

export function apiaryOf(book: Book, apiary: string): SatchelApiary | null {
  const known = book.satchel?.apiaries.find((row) => row.apiary === apiary);
  if (known) return known;
  const found = book.found.find((row) => row.apiary === apiary);
  if (!found) return null;
  return {
    apiary,
    longitude: found.longitude,
    latitude: found.latitude,
    precision_m: Math.max(1, found.accuracy_m * 2),
    colonies: found.colonies,
    keeper: null,
    notes: found.note || null,
    case_state: null,
    last_visited_on: null,
    history: [],
  };
}

export function keeperOf(book: Book, apiary: string): Keeper | null {
  const found = book.found.find((row) => row.apiary === apiary);
  if (found?.keeper_name)
    return { keeper: '', name: found.keeper_name, phone: found.keeper_phone || null, address: null };
  const key = apiaryOf(book, apiary)?.keeper;
  return (key && book.satchel?.keepers.find((row) => row.keeper === key)) || null;
}

export function visitOf(book: Book, visit: string): VisitNow | null {
  return book.visits.find((row) => row.visit === visit) ?? null;
}

export interface Lead {
  name: string | null;
  phone: string | null;
}

/* The desk may not have been able to say whom to ring. */
export function leadOf(book: Book): Lead | null {
  const lead = (book.satchel as { lead?: Lead | null } | null)?.lead;
  return lead ?? null;
}

/* Radii of the rings round a suspect: of an open outbreak of the disease, else of the rulebook. */
export function radiiOf(book: Book, disease: Disease): number[] {
  const open = book.satchel?.outbreaks.filter((row) => row.disease === disease).flatMap((row) => row.radii_m) ?? [];
  if (open.length) return [...new Set(open)].sort((a, b) => a - b);
  const limits = book.satchel?.limits['radii_m'] as Partial<Record<Disease, number[]>> | undefined;
  return [...(limits?.[disease] ?? [])].sort((a, b) => a - b);
}
