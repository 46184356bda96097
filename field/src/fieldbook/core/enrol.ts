/* Makes this phone known to the desk: keys of its own, a code that works once, a PIN. */

import { type Base, keepSingle, type KeptDevice } from './base';
import { fromBase64, toBase64 } from './bytes';
import { DeskLine, type Enrolled, type Fetch, Refusal } from './desk';
import { privateBytes, publicBytes, sealKeys, signKeys } from './sealing';
import { Trouble } from './trouble';
import { PIN_LENGTH, Vault } from './vault';

export interface Wish {
  code: string;
  label: string;
  pin: string;
  again: string;
}

/* What is behind the PIN of who uses the phone. */
export interface Secret {
  token: string;
  who: string;
  inspector: string | null;
}

/* Figures in a row or all alike are tried first by anyone. */
export function isTooSimple(pin: string): boolean {
  const steps = [...pin].map((_, at) => pin.charCodeAt(at + 1) - pin.charCodeAt(at)).slice(0, -1);
  return steps.every((step) => step === steps[0]) && [0, 1, -1].includes(steps[0] ?? 0);
}

export function checkPin(pin: string, again: string): void {
  if ([...pin].length < PIN_LENGTH) throw new Trouble('fieldbook.phone_pin_short', { count: PIN_LENGTH });
  if (isTooSimple(pin)) throw new Trouble('fieldbook.phone_pin_simple');
  if (pin !== again) throw new Trouble('fieldbook.phone_pins_differ');
}

export async function enrol(base: Base, wish: Wish, reach?: Fetch, rounds?: number): Promise<void> {
  checkPin(wish.pin, wish.again);
  const code = wish.code.trim();
  if (!code) throw new Trouble('fieldbook.phone_no_code');
  if (!wish.label.trim()) throw new Trouble('fieldbook.phone_no_label');
  const [{ vault, kept }, seal, sign] = await Promise.all([Vault.make(wish.pin, rounds), sealKeys(), signKeys()]);
  const [seal_key, sign_key] = await Promise.all([publicBytes(seal.publicKey), publicBytes(sign.publicKey)]);
  const told = { code, label: wish.label.trim(), seal_key: toBase64(seal_key), sign_key: toBase64(sign_key) };
  let enrolled: Enrolled;
  try {
    enrolled = await new DeskLine(null, reach).enrol(told);
  } catch (error) {
    throw enrolTrouble(error);
  }
  const secret: Secret = { token: enrolled.token, who: enrolled.who, inspector: enrolled.inspector };
  const device: KeptDevice = {
    device: enrolled.device,
    label: told.label,
    desk_seal_key: fromBase64(enrolled.desk_seal_key),
    desk_sign_key: fromBase64(enrolled.desk_sign_key),
    seal_key: await vault.close(await privateBytes(seal.privateKey), 'seal key'),
    sign_key: sign.privateKey,
    secret: await vault.closeJson(secret, 'secret'),
  };
  const work = base.transaction('singles', 'readwrite', { durability: 'strict' });
  await Promise.all([
    work.store.put(kept, 'vault'),
    work.store.put(device, 'device'),
    work.store.put(1, 'next_number'),
    work.done,
  ]);
}

function enrolTrouble(error: unknown): Trouble {
  if (!(error instanceof Refusal)) throw error;
  if (error.kind === 'away') return new Trouble('fieldbook.phone_enrol_away', {}, { cause: error });
  if (error.kind === 'trouble') return new Trouble('fieldbook.phone_enrol_trouble', {}, { cause: error });
  // the desk says itself what is wrong with the code: used, too old, unknown
  return new Trouble('fieldbook.phone_enrol_refused', { said: error.sentence ?? '' }, { cause: error });
}

/* Ask for storage that the browser does not clear by itself; whether it was given. */
export async function askToStay(): Promise<boolean> {
  if (!navigator.storage?.persist) return false;
  return (await navigator.storage.persisted()) || navigator.storage.persist();
}

export async function changePin(base: Base, old: string, pin: string, again: string): Promise<void> {
  checkPin(pin, again);
  const kept = (await base.get('singles', 'vault')) as Parameters<typeof Vault.rewrap>[0];
  await keepSingle(base, 'vault', await Vault.rewrap(kept, old, pin));
}
