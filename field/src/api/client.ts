/* Asks the desk; every failure becomes a Trouble with a sentence in the user's language. */

import { currentLocale, t } from '../words/words';
import type { components } from './schema';

export type Schemas = components['schemas'];

export class Trouble extends Error {
  constructor(
    readonly key: string,
    readonly sentence: string,
    readonly status: number,
    readonly fields: readonly string[] = [],
  ) {
    super(sentence);
  }

  static from(error: unknown): Trouble {
    if (error instanceof Trouble) return error;
    console.error(error);
    return new Trouble('web.page_trouble', t('web.page_trouble'), 0);
  }
}

/* The session's second secret: goes with every change, so that no page of another site can send one. */
let pageToken = '';

export function usePageToken(token: string | null): void {
  pageToken = token ?? '';
}

/* For the few requests whose body is a file as it is. */
export function pageTokenHeader(): Record<string, string> {
  return pageToken ? { 'X-Page-Token': pageToken } : {};
}

/* Told when the desk says that nobody is signed in any more. */
export const signedOut = new EventTarget();

type Query = Record<string, string | number | boolean | null | undefined>;

export function address(path: string, query: Query = {}): string {
  const search = new URLSearchParams({ locale: currentLocale() });
  const on = new URLSearchParams(location.search).get('on');
  if (on) search.set('on', on);
  for (const [name, value] of Object.entries(query)) {
    if (value !== null && value !== undefined && value !== '') search.set(name, String(value));
  }
  return `${path}?${search}`;
}

async function answered(response: Response): Promise<unknown> {
  if (response.status === 204) return null;
  const isJson = response.headers.get('content-type')?.includes('json');
  const body: unknown = isJson ? await response.json() : null;
  if (response.ok) return body;
  const error = (body as { error?: { key: string; text: string; fields?: string[] } } | null)?.error;
  if (!error) throw new Trouble('web.unreachable', t('web.unreachable'), response.status);
  if (error.key === 'access.sign_in_first') signedOut.dispatchEvent(new Event('signed-out'));
  throw new Trouble(error.key, error.text, response.status, error.fields);
}

async function reach(url: string, init: RequestInit): Promise<unknown> {
  let response: Response;
  try {
    response = await fetch(url, { ...init, credentials: 'same-origin' });
  } catch {
    throw new Trouble('web.unreachable', t('web.unreachable'), 0);
  }
  return answered(response);
}

export async function get<T>(path: string, query: Query = {}): Promise<T> {
  return (await reach(address(path, query), {})) as T;
}

export async function send<T>(
  method: 'POST' | 'PUT' | 'DELETE',
  path: string,
  body?: unknown,
  query: Query = {},
): Promise<T> {
  const headers: Record<string, string> = pageToken ? { 'X-Page-Token': pageToken } : {};
  const init: RequestInit = { method, headers };
  if (body instanceof FormData) init.body = body;
  else if (body !== undefined) {
    init.body = JSON.stringify(body);
    headers['Content-Type'] = 'application/json';
  }
  return (await reach(address(path, query), init)) as T;
}

/* A part of an address: names of rows may hold any letter. */
export function part(name: string): string {
  return encodeURIComponent(name);
}
