/* One at a time, over all tabs of this browser; where Web Locks are missing, one at a time in this tab. */

const PREFIX = 'broodsweep.fieldbook.';
const queues = new Map<string, Promise<unknown>>();

export function alone<T>(name: string, work: () => Promise<T>): Promise<T> {
  if (globalThis.navigator?.locks) return navigator.locks.request(PREFIX + name, work) as Promise<T>;
  const before = queues.get(name) ?? Promise.resolve();
  const done = before.then(work, work);
  queues.set(name, done.catch(() => undefined));
  return done;
}

/* Does the work only when nobody else is at it; null when somebody is. */
export async function aloneOrNot<T>(name: string, work: () => Promise<T>): Promise<T | null> {
  if (globalThis.navigator?.locks) {
    return (await navigator.locks.request(PREFIX + name, { ifAvailable: true }, (lock) =>
      lock ? work() : null,
    )) as T | null;
  }
  if (queues.has(name)) return null;
  const done = work();
  queues.set(name, done.catch(() => undefined));
  try {
    return await done;
  } finally {
    queues.delete(name);
  }
}
