/* Parcels, when no network joins phone and desk at all: docs/fieldbook.md, "A parcel".

What is unsent goes as the sealed pieces that lie in the outbox: no PIN is needed, and nothing is opened on the way. */

import type { Satchel } from '../contract';
import { type Base, single } from './base';
import { type Bytes, fromBase64, toBase64, toBytes, toText } from './bytes';
import { isSignedBy, joined, openSealed, Sealer, sealKeyOf, signatureOf } from './sealing';
import { Trouble } from './trouble';
import type { Vault } from './vault';

const DESK = 'desk';
const FORM = 1;
/* A phone has to hold a parcel in its memory a few times over (project choice). */
export const PHOTO_BYTES_A_PARCEL = 12_000_000;

interface Frame {
  parcel: typeof FORM;
  from: string;
  to: string;
  made_at: string;
}

/* A piece sealed to the desk when it was written; of a photo the content key is, its bytes lie beside. */
type Piece = { line: string } | { photo: string; key: string; data: string };

function boundOf(frame: Frame): Bytes {
  return toBytes(`${FORM}\n${frame.from}\n${frame.to}\n${frame.made_at}\n`);
}

export async function makeParcel(content: unknown, frame: Frame, sealTo: Bytes, sign: CryptoKey): Promise<Blob> {
  const plain = toBytes(JSON.stringify(content));
  const bound = boundOf(frame);
  const sealed = await (await Sealer.to(sealTo)).seal(plain, bound);
  const signature = await signatureOf(sign, joined(bound, plain));
  const written = { ...frame, sealed: toBase64(sealed), signature: toBase64(signature) };
  return new Blob([JSON.stringify(written)], { type: 'application/json' });
}

/* What a parcel for us holds, once seal and signature are right. */
export async function openParcel(text: string, me: string, seal: CryptoKey, signedBy: Bytes): Promise<unknown> {
  const found = readFrame(text);
  if (found.to !== me) throw new Trouble('fieldbook.phone_parcel_for_another');
  const bound = boundOf(found);
  try {
    const plain = new Uint8Array(await openSealed(fromBase64(found.sealed), seal, bound));
    if (!(await isSignedBy(signedBy, fromBase64(found.signature), joined(bound, plain)))) throw new Error('signature');
    return JSON.parse(toText(plain)) as unknown;
  } catch (error) {
    throw new Trouble('fieldbook.phone_parcel_changed', {}, { cause: error });
  }
}

function readFrame(text: string): Frame & { sealed: string; signature: string } {
  try {
    const found = JSON.parse(text) as Frame & { sealed: string; signature: string };
    if (found.parcel !== FORM) throw new Error(`Expected form ${FORM}.`);
    const texts = [found.from, found.to, found.made_at, found.sealed, found.signature];
    if (texts.some((one) => typeof one !== 'string')) throw new Error('Expected texts.');
    return found;
  } catch (error) {
    throw new Trouble('fieldbook.phone_not_a_parcel', {}, { cause: error });
  }
}

/* Everything that the desk has not answered for, as one or several parcels; none when there is nothing. */
export async function unsentParcels(base: Base, now: Date): Promise<{ name: string; file: Blob }[]> {
  const device = await single(base, 'device');
  if (!device) return [];
  const frame: Frame = { parcel: FORM, from: device.device, to: DESK, made_at: now.toISOString() };
  const day = frame.made_at.slice(0, 10);
  const made: { name: string; file: Blob }[] = [];
  const close = async (pieces: Piece[]): Promise<void> => {
    const file = await makeParcel({ lines: [], photos: [], pieces }, frame, device.desk_seal_key, device.sign_key);
    made.push({ name: `${device.label || device.device}-${day}-${made.length + 1}.parcel`.replace(/[^\w.-]+/g, '-'), file });
  };
  let pieces: Piece[] = (await base.getAll('unsent')).map((row) => ({ line: toBase64(row.box) }));
  let bytes = 0;
  for (const waiting of await base.getAll('unsent_photos')) {
    const kept = await base.get('photos', waiting.photo);
    if (!kept) continue;
    if (bytes > 0 && bytes + kept.bytes > PHOTO_BYTES_A_PARCEL) {
      await close(pieces);
      pieces = [];
      bytes = 0;
    }
    bytes += kept.bytes;
    const data = joined(kept.cipher.iv, new Uint8Array(kept.cipher.data));
    pieces.push({ photo: waiting.photo, key: toBase64(waiting.box), data: toBase64(data) });
  }
  if (pieces.length > 0) await close(pieces);
  return made;
}

/* The satchel in a parcel from the desk. */
export async function satchelFrom(text: string, base: Base, vault: Vault): Promise<Satchel> {
  const device = await single(base, 'device');
  if (!device) throw new Trouble('fieldbook.phone_not_a_parcel');
  const seal = await sealKeyOf(await vault.open(device.seal_key, 'seal key'));
  const content = await openParcel(text, device.device, seal, device.desk_sign_key);
  const satchel = content as Partial<Satchel> | null;
  if (!satchel || typeof satchel.satchel !== 'string' || !Array.isArray(satchel.stops)) {
    throw new Trouble('fieldbook.phone_not_a_satchel');
  }
  return satchel as Satchel;
}
