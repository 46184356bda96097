/* Lets the book open with no network: its own files from the store of this version, the map from what was taken along. */
/// <reference lib="webworker" />

import { cleanupOutdatedCaches, createHandlerBoundToURL, precacheAndRoute } from 'workbox-precaching';
import { NavigationRoute, registerRoute } from 'workbox-routing';

/* The same name as in core/map_cache.ts, written again: the worker must be one file (a test compares them). */
const MAP_CACHE = 'broodsweep.fieldbook.map';

declare const self: ServiceWorkerGlobalScope & { __BOOK_FILES: { url: string; revision: string | null }[] };

precacheAndRoute(self.__BOOK_FILES);
cleanupOutdatedCaches();
registerRoute(new NavigationRoute(createHandlerBoundToURL('/field/'), { allowlist: [/^\/field\//], denylist: [/^\/field\/.+\.\w+$/] }));

/* A newer version waits until the user takes it: nothing is swapped under a visit. */
self.addEventListener('message', (event) => {
  if (event.data === 'take-over') void self.skipWaiting();
});
self.addEventListener('activate', (event) => event.waitUntil(self.clients.claim()));

/* The map: what was taken along first, the desk for the rest. */
registerRoute(
  ({ url, request, sameOrigin }) =>
    sameOrigin &&
    request.method === 'GET' &&
    !request.headers.has('range') &&
    (url.pathname === '/api/basemap' || url.pathname.startsWith('/basemap/') || url.pathname.startsWith('/assets/')),
  async ({ request }) => {
    const cache = await caches.open(MAP_CACHE);
    return (await cache.match(request, { ignoreSearch: true })) ?? fetch(request);
  },
);

/* The words of a line are under the PIN: only an open book can hand in, so it is told that the network is back. */
self.addEventListener('sync', (event) => {
  const { tag, waitUntil } = event as ExtendableEvent & { tag: string };
  if (tag !== 'hand-in') return;
  const told = self.clients.matchAll({ type: 'window' }).then((pages) => pages.forEach((page) => page.postMessage('hand-in')));
  waitUntil.call(event, told);
});
