// Keeps the page's own files, so that it opens with no signal and no server. The record is not
// its business.
declare const VERSION: string;
declare const FILES: string[];
const scope = self as unknown as ServiceWorkerGlobalScope;
const cacheName = `chalkwalk-field-${VERSION}`;

scope.addEventListener('install', (event) => {
  event.waitUntil((async () => {
    const cache = await caches.open(cacheName);
    // All or none, and none from a cache of the browser's.
    await cache.addAll(FILES.map((file) => new Request(file, { cache: 'reload' })));
    await scope.skipWaiting();
  })());
});

scope.addEventListener('activate', (event) => {
  event.waitUntil((async () => {
    // A page that is open still may ask for parts of the version before this one.
    const own = (await caches.keys()).filter((name) => name.startsWith('chalkwalk-field-') && name !== cacheName);
    for (const name of own.slice(0, -1)) await caches.delete(name);
    await scope.clients.claim();
  })());
});

scope.addEventListener('fetch', (event) => {
  const { request } = event;
  const inScope = request.url.startsWith(scope.registration.scope);
  if (request.method !== 'GET' || !inScope) return;
  event.respondWith((async () => {
    const cache = await caches.open(cacheName);
    const wanted = request.mode === 'navigate' ? './' : request;
    return (await cache.match(wanted, { ignoreSearch: true })) ?? (await caches.match(wanted, { ignoreSearch: true })) ?? fetch(request);
  })());
});
