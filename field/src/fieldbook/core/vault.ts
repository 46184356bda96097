/* Everything at rest is under a random data key; the PIN and a key that stays in this browser together give it.

PBKDF2-HMAC-SHA-256 (RFC 8018) makes bits of the PIN; HMAC with the device key, which the browser does not give
out, makes of them the key under which the data key lies (AES-GCM, NIST SP 800-38D, fresh 96-bit nonces). */

import { type Bytes, randomBytes, toBytes, toText } from './bytes';
import { Trouble } from './trouble';

/* OWASP Password Storage Cheat Sheet: 600,000 rounds for PBKDF2-HMAC-SHA-256 (from memory). */
export const ROUNDS = 600_000;
export const PIN_LENGTH = 6;
const KEY_BITS = 256;
const NONCE_BYTES = 12;
const SALT_BYTES = 16;

export interface Cipher {
  iv: Bytes;
  data: ArrayBuffer;
}

export interface KeptVault {
  salt: Bytes;
  rounds: number;
  device_key: CryptoKey;
  wrapped: Cipher;
}

async function wrappingKey(pin: string, kept: Omit<KeptVault, 'wrapped'>): Promise<CryptoKey> {
  const typed = await crypto.subtle.importKey('raw', toBytes(pin.normalize('NFKC')), 'PBKDF2', false, ['deriveBits']);
  const bits = await crypto.subtle.deriveBits(
    { name: 'PBKDF2', hash: 'SHA-256', salt: kept.salt, iterations: kept.rounds },
    typed,
    KEY_BITS,
  );
  const joined = await crypto.subtle.sign('HMAC', kept.device_key, bits);
  return crypto.subtle.importKey('raw', joined, 'AES-GCM', false, ['encrypt', 'decrypt']);
}

async function encrypt(key: CryptoKey, plain: BufferSource, about: string): Promise<Cipher> {
  const iv = randomBytes(NONCE_BYTES);
  const data = await crypto.subtle.encrypt({ name: 'AES-GCM', iv, additionalData: toBytes(about) }, key, plain);
  return { iv, data };
}

function decrypt(key: CryptoKey, cipher: Cipher, about: string): Promise<ArrayBuffer> {
  const how = { name: 'AES-GCM', iv: cipher.iv, additionalData: toBytes(about) };
  return crypto.subtle.decrypt(how, key, cipher.data);
}

function contentKey(raw: BufferSource): Promise<CryptoKey> {
  return crypto.subtle.importKey('raw', raw, 'AES-GCM', false, ['encrypt', 'decrypt']);
}

export class Vault {
  readonly #key: CryptoKey;

  private constructor(key: CryptoKey) {
    this.#key = key;
  }

  /* A new vault under a PIN, and what is kept of it. */
  static async make(pin: string, rounds = ROUNDS): Promise<{ vault: Vault; kept: KeptVault }> {
    const device_key = (await crypto.subtle.generateKey({ name: 'HMAC', hash: 'SHA-256' }, false, [
      'sign',
    ])) as CryptoKey;
    const base = { salt: randomBytes(SALT_BYTES), rounds, device_key };
    const raw = randomBytes(KEY_BITS / 8);
    const wrapped = await encrypt(await wrappingKey(pin, base), raw, 'vault');
    return { vault: new Vault(await contentKey(raw)), kept: { ...base, wrapped } };
  }

  /* Open with a PIN; a wrong one is a Trouble. */
  static async open(kept: KeptVault, pin: string): Promise<Vault> {
    return new Vault(await contentKey(await Vault.#raw(kept, pin)));
  }

  /* The same data key under another PIN. */
  static async rewrap(kept: KeptVault, pin: string, next: string): Promise<KeptVault> {
    const raw = await Vault.#raw(kept, pin);
    const base = { ...kept, salt: randomBytes(SALT_BYTES) };
    return { ...base, wrapped: await encrypt(await wrappingKey(next, base), raw, 'vault') };
  }

  static async #raw(kept: KeptVault, pin: string): Promise<ArrayBuffer> {
    const key = await wrappingKey(pin, kept);
    try {
      return await decrypt(key, kept.wrapped, 'vault');
    } catch (error) {
      throw new Trouble('fieldbook.phone_wrong_pin', {}, { cause: error });
    }
  }

  /* `about` says what it is and goes into the seal: one thing cannot be put in the place of another. */
  close(plain: BufferSource, about: string): Promise<Cipher> {
    return encrypt(this.#key, plain, about);
  }

  open(cipher: Cipher, about: string): Promise<ArrayBuffer> {
    return decrypt(this.#key, cipher, about);
  }

  closeJson(value: unknown, about: string): Promise<Cipher> {
    return this.close(toBytes(JSON.stringify(value)), about);
  }

  async openJson<T>(cipher: Cipher, about: string): Promise<T> {
    return JSON.parse(toText(await this.open(cipher, about))) as T;
  }
}

/* Bytes under a key of their own, and that key: large things are encrypted once and can be opened by two. */
export async function closeAlone(plain: BufferSource): Promise<{ cipher: Cipher; key: Bytes }> {
  const key = randomBytes(KEY_BITS / 8);
  return { cipher: await encrypt(await contentKey(key), plain, ''), key };
}

export async function openAlone(cipher: Cipher, key: BufferSource): Promise<ArrayBuffer> {
  return decrypt(await contentKey(key), cipher, '');
}

/* Seconds to wait after so many wrong PINs in a row (project choice: a slip costs nothing, guessing costs hours). */
const WAITS_S = [0, 0, 0, 5, 15, 60, 300];
const LONGEST_S = 900;

export function waitAfter(tries: number): number {
  return WAITS_S[tries] ?? LONGEST_S;
}

/* Seconds left; a clock that was set back does not lengthen the wait. */
export function waitLeft(tries: { count: number; last_at: number }, now: number): number {
  const wait = waitAfter(tries.count);
  return Math.min(wait, Math.max(0, Math.ceil(wait - (now - tries.last_at) / 1000)));
}
