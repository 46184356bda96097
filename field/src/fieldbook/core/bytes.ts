/* Bytes, texts and digests. */

export type Bytes = Uint8Array<ArrayBuffer>;

const encoder = new TextEncoder();
const decoder = new TextDecoder();

export function toBytes(text: string): Bytes {
  return encoder.encode(text);
}

export function toText(bytes: BufferSource): string {
  return decoder.decode(bytes);
}

export function randomBytes(count: number): Bytes {
  return crypto.getRandomValues(new Uint8Array(count));
}

export function toBase64(bytes: Uint8Array): string {
  const step = 0x8000; // more arguments than this overflow the stack of some browsers
  let text = '';
  for (let at = 0; at < bytes.length; at += step) text += String.fromCharCode(...bytes.subarray(at, at + step));
  return btoa(text);
}

export function fromBase64(text: string): Bytes {
  const plain = atob(text);
  const bytes = new Uint8Array(plain.length);
  for (let at = 0; at < plain.length; at += 1) bytes[at] = plain.charCodeAt(at);
  return bytes;
}

export async function sha256Hex(bytes: BufferSource): Promise<string> {
  const digest = new Uint8Array(await crypto.subtle.digest('SHA-256', bytes));
  return Array.from(digest, (byte) => byte.toString(16).padStart(2, '0')).join('');
}

/* Digest of a visit: the names of its lines in order of number, joined by a line feed. */
export function visitDigest(names: readonly string[]): Promise<string> {
  return sha256Hex(toBytes(names.join('\n')));
}
