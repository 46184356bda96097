/* Sealed to a receiver's public key, and signed: docs/fieldbook.md, "A parcel".

ECDH on P-256 with a fresh key, HKDF-SHA-256 (RFC 5869), AES-256-GCM; ECDSA on P-256 with SHA-256. */

import { type Bytes, randomBytes, toBytes } from './bytes';

const CURVE = { name: 'ECDH', namedCurve: 'P-256' } as const;
const SIGNATURE = { name: 'ECDSA', namedCurve: 'P-256' } as const;
const SIGN_WITH = { name: 'ECDSA', hash: 'SHA-256' } as const;
const INFO = toBytes('broodsweep parcel 1');
const POINT_BYTES = 65;
const NONCE_BYTES = 12;

/* Bound to what is sealed piece by piece, as the frame is to a parcel. */
export const PIECE = toBytes('broodsweep piece 1');

/* `point`, `nonce` and `box`, one behind the other. */
export type Sealed = Bytes;

export function joined(...parts: readonly Uint8Array[]): Bytes {
  const whole = new Uint8Array(parts.reduce((length, part) => length + part.length, 0));
  let at = 0;
  for (const part of parts) {
    whole.set(part, at);
    at += part.length;
  }
  return whole;
}

async function sharedKey(mine: CryptoKey, theirs: CryptoKey, salt: Bytes, use: 'encrypt' | 'decrypt'): Promise<CryptoKey> {
  const shared = await crypto.subtle.deriveBits({ name: 'ECDH', public: theirs }, mine, 256);
  const material = await crypto.subtle.importKey('raw', shared, 'HKDF', false, ['deriveKey']);
  const how = { name: 'HKDF', hash: 'SHA-256', salt, info: INFO };
  return crypto.subtle.deriveKey(how, material, { name: 'AES-GCM', length: 256 }, false, [use]);
}

export function sealKeys(): Promise<CryptoKeyPair> {
  return crypto.subtle.generateKey(CURVE, true, ['deriveBits']);
}

export function signKeys(): Promise<CryptoKeyPair> {
  return crypto.subtle.generateKey(SIGNATURE, false, ['sign', 'verify']);
}

export async function publicBytes(key: CryptoKey): Promise<Bytes> {
  return new Uint8Array(await crypto.subtle.exportKey('spki', key));
}

export async function privateBytes(key: CryptoKey): Promise<Bytes> {
  return new Uint8Array(await crypto.subtle.exportKey('pkcs8', key));
}

export function sealKeyOf(pkcs8: BufferSource): Promise<CryptoKey> {
  return crypto.subtle.importKey('pkcs8', pkcs8, CURVE, false, ['deriveBits']);
}

/* Seals to one receiver. The fresh key is made once for each sealer; each box has a nonce of its own. */
export class Sealer {
  readonly #key: CryptoKey;
  readonly #point: Bytes;

  private constructor(key: CryptoKey, point: Bytes) {
    this.#key = key;
    this.#point = point;
  }

  static async to(receiver: BufferSource): Promise<Sealer> {
    const theirs = await crypto.subtle.importKey('spki', receiver, CURVE, false, []);
    const fresh = await crypto.subtle.generateKey(CURVE, false, ['deriveBits']);
    const point = new Uint8Array(await crypto.subtle.exportKey('raw', fresh.publicKey));
    return new Sealer(await sharedKey(fresh.privateKey, theirs, point, 'encrypt'), point);
  }

  async seal(plain: BufferSource, bound: Bytes = PIECE): Promise<Sealed> {
    const iv = randomBytes(NONCE_BYTES);
    const box = await crypto.subtle.encrypt({ name: 'AES-GCM', iv, additionalData: bound }, this.#key, plain);
    return joined(this.#point, iv, new Uint8Array(box));
  }
}

export async function openSealed(sealed: Sealed, mine: CryptoKey, bound: Bytes = PIECE): Promise<ArrayBuffer> {
  const point = sealed.slice(0, POINT_BYTES);
  const iv = sealed.slice(POINT_BYTES, POINT_BYTES + NONCE_BYTES);
  const theirs = await crypto.subtle.importKey('raw', point, CURVE, false, []);
  const key = await sharedKey(mine, theirs, point, 'decrypt');
  const how = { name: 'AES-GCM', iv, additionalData: bound };
  return crypto.subtle.decrypt(how, key, sealed.slice(POINT_BYTES + NONCE_BYTES));
}

/* Signatures are r and s side by side. */
export async function signatureOf(key: CryptoKey, content: BufferSource): Promise<Bytes> {
  return new Uint8Array(await crypto.subtle.sign(SIGN_WITH, key, content));
}

export async function isSignedBy(signer: BufferSource, signature: BufferSource, content: BufferSource): Promise<boolean> {
  const key = await crypto.subtle.importKey('spki', signer, SIGNATURE, false, ['verify']);
  return crypto.subtle.verify(SIGN_WITH, key, signature, content);
}
