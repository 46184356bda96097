/* A sentence that is not put into words yet: a key of the catalogue and what stands in its braces. */

export interface Message {
  key: string;
  params?: Record<string, unknown>;
}

/** Puts a key of the catalogue into words (words/words.ts has the one of the pages). */
export type Translate = (key: string, params?: Record<string, unknown>) => string;

export const say = (key: string, params?: Record<string, unknown>): Message => (params ? { key, params } : { key });

function isMessage(value: unknown): value is Message {
  return typeof value === 'object' && value !== null && 'key' in value;
}

/** Put a sentence into words, and whatever sentences stand in its braces. */
export function tell(message: Message, t: Translate): string {
  const written = Object.entries(message.params ?? {}).map(([name, value]) => {
    const one = (item: unknown): unknown => (isMessage(item) ? tell(item, t) : item);
    return [name, Array.isArray(value) ? value.map(one) : one(value)];
  });
  return t(message.key, Object.fromEntries(written) as Record<string, unknown>);
}
