/* The address of an outbreak's cases: within the whole sheet when that is what is open. */

import { href, route } from './router.svelte';

export function caseSheet(outbreak: string, query: Record<string, string | number> = {}): string {
  const part = route.query.get('part') === 'all' ? 'all' : 'cases';
  return href(['outbreaks', outbreak], { part, ...query });
}
