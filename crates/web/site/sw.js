// Keeps the app itself for when there is no network. Entries are none of its business: they are kept by the page.
// The two lines below are filled in when the site is made.
const NAME = 'app-HASH';
const FILES = [];

self.addEventListener('install', (event) => {
  const fresh = FILES.map((file) => new Request(file, { cache: 'reload' }));
  event.waitUntil(caches.open(NAME).then((cache) => cache.addAll(fresh)).then(() => self.skipWaiting()));
});
self.addEventListener('activate', (event) => {
  const old = (names) => Promise.all(names.filter((name) => name !== NAME).map((name) => caches.delete(name)));
  event.waitUntil(caches.keys().then(old).then(() => self.clients.claim()));
});
self.addEventListener('fetch', (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== 'GET' || url.origin !== location.origin || !FILES.includes(url.pathname)) return;
  event.respondWith(caches.open(NAME).then((cache) => cache.match(url.pathname)).then((kept) => kept ?? fetch(event.request)));
});
