/* Speaks with the desk: every refusal becomes one of a few kinds that the phone can act on. */

import type { LineAnswer, Satchel } from '../contract';
import type { Bytes } from './bytes';

/* `away`: no answer; `trouble`: the desk is in trouble, later; `stranger`: no longer enrolled; `unread`: it cannot read this. */
export type RefusalKind = 'away' | 'trouble' | 'stranger' | 'unread';

export class Refusal extends Error {
  constructor(
    readonly kind: RefusalKind,
    readonly status: number,
    readonly sentence: string | null = null,
    /* Seconds that the desk asks to wait. */
    readonly after_s: number | null = null,
    readonly key: string | null = null,
  ) {
    super(`${kind} ${status}`);
  }
}

export interface PhotoState {
  received: number;
  is_whole: boolean;
}

export interface DeskState {
  is_revoked: boolean;
  wipe: boolean;
  who: string;
}

export interface LinesAnswer {
  answers: LineAnswer[];
  wipe?: boolean;
  photos_wanted?: string[];
}

export interface Enrolled {
  device: string;
  token: string;
  who: string;
  inspector: string | null;
  desk_seal_key: string;
  desk_sign_key: string;
}

const SHORT_MS = 30_000;
const LONG_MS = 180_000;

export type Fetch = (address: string, init: RequestInit) => Promise<Response>;

function kindOf(status: number): RefusalKind {
  if (status === 401 || status === 403) return 'stranger';
  return [400, 413, 422].includes(status) ? 'unread' : 'trouble';
}

async function refusalOf(response: Response): Promise<Refusal> {
  let error: { key?: string; text?: string } | undefined;
  try {
    error = ((await response.json()) as { error?: { key?: string; text?: string } }).error;
  } catch {
    error = undefined; // an answer of something between us and the desk
  }
  const after = Number(response.headers.get('retry-after'));
  return new Refusal(
    kindOf(response.status),
    response.status,
    error?.text ?? null,
    Number.isFinite(after) && after > 0 ? after : null,
    error?.key ?? null,
  );
}

export class DeskLine {
  readonly #fetch: Fetch;
  readonly #token: string | null;

  constructor(token: string | null, reach: Fetch = (address, init) => fetch(address, init)) {
    this.#token = token;
    this.#fetch = reach;
  }

  async ask(method: string, address: string, options: { body?: BodyInit; type?: string; etag?: string; ms?: number } = {}): Promise<Response> {
    const headers: Record<string, string> = {};
    if (this.#token) headers['Authorization'] = `Bearer ${this.#token}`;
    if (options.type) headers['Content-Type'] = options.type;
    if (options.etag) headers['If-None-Match'] = options.etag;
    const signal = AbortSignal.timeout(options.ms ?? SHORT_MS);
    let response: Response;
    try {
      const init: RequestInit = { method, headers, signal, cache: 'no-store', credentials: 'same-origin' };
      response = await this.#fetch(address, options.body === undefined ? init : { ...init, body: options.body });
    } catch {
      throw new Refusal('away', 0);
    }
    if (response.ok || response.status === 304) return response;
    throw await refusalOf(response);
  }

  async #read<T>(response: Response): Promise<T> {
    try {
      return (await response.json()) as T;
    } catch {
      throw new Refusal('away', response.status); // cut off, or a page of a network that wants a login
    }
  }

  async lines(body: string): Promise<LinesAnswer> {
    const response = await this.ask('POST', '/api/fieldbook/lines', { body, type: 'application/json', ms: LONG_MS });
    return this.#read(response);
  }

  async photoState(photo: string): Promise<PhotoState> {
    return this.#read(await this.ask('GET', `/api/fieldbook/photos/${photo}`));
  }

  async sendPiece(photo: string, from: number, total: number, piece: Bytes): Promise<PhotoState> {
    const address = `/api/fieldbook/photos/${photo}?from=${from}&bytes=${total}`;
    const type = 'application/octet-stream';
    return this.#read(await this.ask('PUT', address, { body: piece, type, ms: LONG_MS }));
  }

  async state(): Promise<DeskState> {
    return this.#read(await this.ask('GET', '/api/fieldbook/state'));
  }

  /* Asked while the book is locked: no token is at hand, and the answer tells nothing else. */
  async isToBeWiped(device: string): Promise<boolean> {
    return (await this.#read<{ wipe: boolean }>(await this.ask('GET', `/api/fieldbook/wipes/${encodeURIComponent(device)}`))).wipe;
  }

  async wiped(): Promise<void> {
    await this.ask('POST', '/api/fieldbook/wiped');
  }

  /* Null when the satchel is as it was. */
  async satchel(on: string, etag: string | null, locale: string): Promise<{ satchel: Satchel; etag: string | null } | null> {
    const address = `/api/fieldbook/satchel?on=${on}&locale=${encodeURIComponent(locale)}`;
    const response = await this.ask('GET', address, { ...(etag ? { etag } : {}), ms: LONG_MS });
    if (response.status === 304) return null;
    return { satchel: await this.#read<Satchel>(response), etag: response.headers.get('etag') };
  }

  async enrol(wish: { code: string; label: string; seal_key: string; sign_key: string }): Promise<Enrolled> {
    const body = JSON.stringify(wish);
    return this.#read(await this.ask('POST', '/api/fieldbook/devices', { body, type: 'application/json' }));
  }
}
