/* The rules taken along, those that a suspect calls for first; a rule that holds for both diseases is shown once. */

import type { Book, Disease } from '../contract';

type Rule = NonNullable<Book['satchel']>['rules'][number];

const CAUTION = 'caution.';
/* Matters in the order in which they are needed at a suspect colony; the rest is folded away. */
const FIRST = ['notify.on_suspicion', 'notify.within', 'notify.to', 'standstill', 'confirm'];

function rank(rule: Rule): number {
  const found = FIRST.findIndex((name) => rule.key.startsWith(name));
  return found < 0 ? FIRST.length : found;
}

function isFor(rule: Rule, diseases: readonly Disease[]): boolean {
  const named = /\.(AFB|EFB)$/.exec(rule.key)?.[1] as Disease | undefined;
  return !rule.key.startsWith(CAUTION) && (!named || diseases.includes(named));
}

export function rulesFor(book: Book, diseases: readonly Disease[]): { first: Rule[]; rest: Rule[] } {
  const seen = new Set<string>();
  const rules = (book.satchel?.rules ?? []).filter((rule) => {
    const said = `${rule.text} ${rule.source}`;
    if (!isFor(rule, diseases) || seen.has(said)) return false;
    seen.add(said);
    return true;
  });
  const first = rules.filter((rule) => rank(rule) < FIRST.length).toSorted((a, b) => rank(a) - rank(b));
  return { first, rest: rules.filter((rule) => rank(rule) === FIRST.length) };
}

export function cautionsOf(book: Book): Rule[] {
  return (book.satchel?.rules ?? []).filter((rule) => rule.key.startsWith(CAUTION));
}
