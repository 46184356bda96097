/* Hears from the desk when the record has changed: one line for all parts of the page, shut while nobody looks. */

type Told = (version: number) => void;

const listeners = new Set<Told>();
let line: EventSource | null = null;
let newest = -1;

function hear(event: MessageEvent<string>): void {
  const { version } = JSON.parse(event.data) as { version: number };
  if (version === newest) return;
  const isFirst = newest < 0;
  newest = version;
  if (!isFirst) for (const tell of listeners) tell(version);
}

function openOrShut(): void {
  const isWanted = listeners.size > 0 && document.visibilityState === 'visible';
  if (isWanted && !line) {
    line = new EventSource('/api/changes');
    line.onmessage = hear;
  } else if (!isWanted && line) {
    line.close();
    line = null;
  }
}

document.addEventListener('visibilitychange', openOrShut);

/* Calls `tell` at every change of the record while the part is shown. */
export function onChange(tell: Told): void {
  $effect(() => {
    listeners.add(tell);
    openOrShut();
    return () => {
      listeners.delete(tell);
      openOrShut();
    };
  });
}
