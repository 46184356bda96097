/* Addresses of the pages: /today, /ground, /outbreaks/AFB-2026-1 …; back and forward work, forms are guarded. */

export interface Address {
  path: string[];
  query: URLSearchParams;
}

function read(): Address {
  const path = location.pathname
    .split('/')
    .filter((part) => part !== '')
    .map((part) => decodeURIComponent(part));
  return { path: path.length ? path : ['today'], query: new URLSearchParams(location.search) };
}

let here = $state<Address>(read());
let position = Number(history.state?.position ?? 0);
let shown = location.href;

/* Forms with unsaved words; leaving asks first. */
const unsaved = new Set<symbol>();
let asks = $state<(() => void) | null>(null);

export const route = {
  get path(): string[] {
    return here.path;
  },
  get query(): URLSearchParams {
    return here.query;
  },
  get question(): (() => void) | null {
    return asks;
  },
};

export function markUnsaved(form: symbol, isDirty: boolean): void {
  if (isDirty) unsaved.add(form);
  else unsaved.delete(form);
}

export function hasUnsaved(): boolean {
  return unsaved.size > 0;
}

/* Query values that belong to the whole book stay when the page changes. */
const STAYING = ['locale', 'on'];

export function href(path: string[], query: Record<string, string | number | null | undefined> = {}): string {
  const kept = new URLSearchParams();
  for (const name of STAYING) {
    const value = here.query.get(name);
    if (value) kept.set(name, value);
  }
  for (const [name, value] of Object.entries(query)) {
    if (value === null || value === undefined || value === '') kept.delete(name);
    else kept.set(name, String(value));
  }
  const search = kept.toString();
  return `/${path.map(encodeURIComponent).join('/')}${search ? `?${search}` : ''}`;
}

function enter(address: string, isReplacing: boolean): void {
  if (isReplacing) history.replaceState({ position }, '', address);
  else history.pushState({ position: ++position }, '', address);
  arrive();
}

function arrive(): void {
  const before = here.path.join('/');
  here = read();
  shown = location.href;
  if (here.path.join('/') !== before) {
    window.scrollTo(0, 0);
    queueMicrotask(() => document.getElementById('main')?.focus({ preventScroll: true }));
  }
}

export function go(address: string, options: { replace?: boolean } = {}): void {
  if (hasUnsaved() && !options.replace) {
    asks = () => enter(address, false);
    return;
  }
  enter(address, options.replace ?? false);
}

export function leave(): void {
  const then = asks;
  asks = null;
  unsaved.clear();
  then?.();
}

export function stay(): void {
  asks = null;
}

window.addEventListener('popstate', (event) => {
  const to = Number(event.state?.position ?? 0);
  if (!hasUnsaved()) {
    position = to;
    arrive();
    return;
  }
  const wished = location.href;
  const step = to - position;
  history.pushState({ position }, '', shown);
  // Going back, the entry is still there; going forward, the push has dropped it.
  asks = () => (step < 0 ? history.go(step) : enter(wished, false));
});

window.addEventListener('beforeunload', (event) => {
  if (hasUnsaved()) event.preventDefault();
});

/* Links of the book are followed here, so that the page is not fetched anew. */
document.addEventListener('click', (event) => {
  if (event.defaultPrevented || event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey) return;
  const link = (event.target as Element | null)?.closest?.('a');
  if (!link || link.target || link.hasAttribute('download') || link.origin !== location.origin) return;
  const address = link.getAttribute('href') ?? '';
  if (address.startsWith('#') || /^\/(api|basemap|assets)\//.test(link.pathname)) return;
  event.preventDefault();
  go(link.pathname + link.search);
});
