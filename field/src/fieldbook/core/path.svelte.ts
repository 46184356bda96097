/* Where in the book one is: behind the # of the address, and kept, so that a killed book opens where it was. */

import type { Book } from '../contract';

const KEY = 'path';

function ofAddress(): string {
  const path = location.hash.slice(1).split('?')[0] ?? '';
  return path.startsWith('/') ? path : '/';
}

let now = $state(ofAddress());
let keeping: Book | null = null;

function keep(): void {
  void keeping?.keepDraft(KEY, JSON.stringify({ path: now, on: new Date().toDateString() })).catch(() => undefined);
}

export const path = {
  get now(): string {
    return now;
  },
  /* The book was opened: go where it was left today, unless the address says where to. */
  begin(book: Book): void {
    if (keeping === book) return;
    keeping = book;
    if (ofAddress() !== '/') return;
    void book.draft(KEY).then((text) => {
      const left = text ? (JSON.parse(text) as { path: string; on: string }) : null;
      if (left && left.on === new Date().toDateString() && left.path !== now) setPath(left.path);
    });
  },
};

export function setPath(next: string, options: { replace?: boolean } = {}): void {
  if (options.replace) history.replaceState(null, '', `#${next}`);
  else if (next !== now) history.pushState(null, '', `#${next}`);
  now = next.split('?')[0] ?? '/';
  keep();
}

window.addEventListener('popstate', () => {
  now = ofAddress();
  keep();
});
