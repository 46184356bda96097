/* Words of the field book's screens: keys fieldbook.screen_* of the catalogue. */

import { hasKey, type Params, t } from '../../words/words';

export function w(name: string, params: Params = {}): string {
  return t(`fieldbook.screen_${name}`, params);
}

/* A name of a closed list, or the name itself where a newer desk sends one that is not known here. */
export function wordFor(key: string, name: string): string {
  return hasKey(key) ? t(key) : name;
}
