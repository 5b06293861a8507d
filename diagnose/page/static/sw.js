// Keeps every file of this version before the first start without a signal. A newer version is taken whole or not at all,
// and waits until the person asks for it: nothing changes under a form that is half filled.
const VERSION = "@VERSION@";
const FILES = "@FILES@".split(" ");
self.addEventListener("install", (event) => event.waitUntil(caches.open(VERSION).then((cache) => cache.addAll(FILES.map((f) => new Request(f, { cache: "reload" }))))));
self.addEventListener("activate", (event) => event.waitUntil((async () => {
  for (const key of await caches.keys()) if (key !== VERSION) await caches.delete(key);
  await self.clients.claim();
})()));
self.addEventListener("message", (event) => {
  if (event.data === "take over") self.skipWaiting();
  if (event.data === "book") event.waitUntil(caches.open(VERSION).then((cache) => cache.match("book.json")).then(async (kept) => event.ports[0].postMessage(kept ? await kept.text() : null)));
});
self.addEventListener("fetch", (event) => {
  if (event.request.method !== "GET" || new URL(event.request.url).origin !== self.location.origin) return;
  event.respondWith(caches.open(VERSION).then((cache) => cache.match(event.request, { ignoreSearch: true })).then((kept) => kept || fetch(event.request)));
});
