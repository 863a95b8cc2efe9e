"use strict";
// Keeps what handing in needs, so that the card opens without a network once it was seen. Nothing else is kept.
const KEPT = "hand-in 3";
const ASSETS = ["/assets/style.css", "/assets/cards.js", "/assets/pad.js", "/assets/hand-in.js"];
// Whoever signs in or out leaves no card behind for the next.
const DOORS = ["/sign-in", "/register", "/sign-out"];
const isKept = (url) => ASSETS.includes(url.pathname) || /^\/events\/[0-9a-f-]{36}\/hand-in$/.test(url.pathname);

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(KEPT).then((cache) => cache.addAll(ASSETS)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  const old = (names) => Promise.all(names.filter((name) => name !== KEPT).map((name) => caches.delete(name)));
  event.waitUntil(caches.keys().then(old).then(() => self.clients.claim()).then(async () => {
    // The page that brought this worker was loaded without it: it is fetched once more, to be kept.
    const cache = await caches.open(KEPT);
    for (const client of await self.clients.matchAll({ type: "window" })) {
      const url = new URL(client.url);
      if (isKept(url)) await cache.add(url.pathname + url.search).catch(() => {});
    }
  }));
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (url.origin !== location.origin) return;
  if (event.request.method === "POST" && DOORS.includes(url.pathname)) event.waitUntil(caches.delete(KEPT));
  if (event.request.method !== "GET" || !isKept(url)) return;
  event.respondWith((async () => {
    const cache = await caches.open(KEPT);
    try {
      const answer = await fetch(event.request);
      if (answer.ok && !answer.redirected && answer.type === "basic") await cache.put(url.pathname + url.search, answer.clone());
      return answer;
    } catch (error) {
      const kept = await cache.match(url.pathname + url.search, { ignoreVary: true });
      if (kept) return kept;
      throw error;
    }
  })());
});
