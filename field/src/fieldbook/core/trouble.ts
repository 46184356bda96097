/* What the phone refuses or could not do, as a key of the catalogue; the sentence is made when it is read. */

import { type Params, t } from '../../words/words';

export class Trouble extends Error {
  constructor(
    readonly key: string,
    readonly params: Params = {},
    options: ErrorOptions = {},
  ) {
    super(undefined, options); // a message given here would hide the sentence below
    this.name = 'Trouble';
  }

  override get message(): string {
    return t(this.key, this.params);
  }
}

/* A write that did not reach the disk: why, and that it was not recorded. */
export function notRecorded(error: unknown): Trouble {
  if (error instanceof Trouble) return error;
  const name = error instanceof Error || error instanceof DOMException ? error.name : '';
  if (name === 'QuotaExceededError') return new Trouble('fieldbook.phone_full', {}, { cause: error });
  if (name === 'InvalidStateError' || name === 'VersionError') {
    return new Trouble('fieldbook.phone_renewed', {}, { cause: error });
  }
  console.error(error);
  return new Trouble('fieldbook.phone_not_recorded', {}, { cause: error });
}
