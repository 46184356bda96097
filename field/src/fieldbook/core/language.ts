/* The words of the phone: from the desk when it is there, else those that were kept. */

import { useCatalogue } from '../../words/words';
import { type Base, keepSingle, type KeptWords, single } from './base';

const WAIT_MS = 8_000;
/* How the keys begin that the phone uses: the whole catalogue is twice as long. */
const BEGINNING = 'fieldbook.,diagnosis.,weigh.,disease.,common.,goods.,outbreak.state.,web.unknown,web.map_';

/* Null when the desk does not answer. */
export async function fetchWords(locale: string): Promise<KeptWords | null> {
  try {
    const address = `/api/words/${encodeURIComponent(locale)}?beginning=${BEGINNING}`;
    const answer = await fetch(address, { signal: AbortSignal.timeout(WAIT_MS) });
    if (!answer.ok) return null;
    const told = (await answer.json()) as { locale: string; words: Record<string, string[]> };
    return { locale: told.locale, forms: told.words };
  } catch {
    return null;
  }
}

export function askedLocale(): string | null {
  return new URLSearchParams(location.search).get('locale');
}

/* Use the kept words at once and renew them behind; false when there are none at all. */
export async function beginWords(base: Base): Promise<boolean> {
  const kept = await single(base, 'words');
  const asked = askedLocale() ?? kept?.locale ?? 'en';
  if (kept && kept.locale === asked) {
    useCatalogue(kept.locale, kept.forms);
    void renew(base, asked);
    return true;
  }
  const renewed = await renew(base, asked);
  if (!renewed && kept) useCatalogue(kept.locale, kept.forms);
  return renewed || kept !== undefined;
}

/* Where nothing can be stored the words are there as long as the page is. */
export async function wordsWithoutStore(): Promise<void> {
  const words = await fetchWords(askedLocale() ?? 'en');
  if (words) useCatalogue(words.locale, words.forms);
}

async function renew(base: Base, locale: string): Promise<boolean> {
  const words = await fetchWords(locale);
  if (!words) return false;
  useCatalogue(words.locale, words.forms);
  await keepSingle(base, 'words', words).catch(() => undefined); // full: the words then come from the desk only
  return true;
}
