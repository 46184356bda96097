/* Who sits at the desk, on which day it stands, in which language it speaks. */

import { get, usePageToken, type Schemas } from '../api/client';
import { useCatalogue } from '../words/words';

export type Session = Schemas['SessionShape'];

let kept = $state.raw<Session | null>(null);

export const session = {
  get value(): Session {
    if (!kept) throw new Error('Expected the session to be there before a page is shown.');
    return kept;
  },
  get isThere(): boolean {
    return kept !== null;
  },
};

/* Whether the one who is signed in, or sits at a desk without sign-in, leads the team. */
export function leads(): boolean {
  return !kept?.signed_in || kept.signed_in.role === 'lead';
}

export async function refresh(): Promise<void> {
  kept = await get<Session>('/api/session');
  usePageToken(kept.signed_in?.page_token ?? null);
}

export async function begin(): Promise<void> {
  const asked = new URLSearchParams(location.search).get('locale');
  const first = await fetch(`/api/session${asked ? `?locale=${encodeURIComponent(asked)}` : ''}`);
  const session = (await first.json()) as Session;
  const words = await fetch(`/api/words/${encodeURIComponent(session.locale)}`);
  useCatalogue(session.locale, ((await words.json()) as Schemas['WordsShape']).words);
  await refresh();
}
