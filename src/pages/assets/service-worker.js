"use strict";
// Keeps what pages are dressed with, the cards' pages that were seen, and one rendering of a league's first page, so
// that they open without a network. SET and ASSETS stand before this: the name of the set, and the addresses in it.
const PAGES = "pages", MOST_CARDS = 12, DAYS_KEPT = 7;
const TONIGHT = /^\/leagues\/[0-9a-f-]{36}$/, CARD = /^\/events\/[0-9a-f-]{36}\/hand-in$/;
// Whoever is led to one of these has no session, or ends it: nothing is left for the next.
const DOORS = ["/sign-in", "/register", "/sign-out"];

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(SET).then((cache) => cache.addAll(ASSETS)).then(() => self.skipWaiting()));
});

// A page that was opened before the program changed still finds its set: the latest two stay.
self.addEventListener("activate", (event) => {
  const tidy = async () => {
    const names = await caches.keys();
    const before = names.filter((name) => name.startsWith("assets ") && name !== SET).at(-1);
    const old = names.filter((name) => ![SET, before, PAGES].includes(name));
    // Kept pages may need a set that goes.
    await Promise.all((old.length ? [...old, PAGES] : []).map((name) => caches.delete(name)));
    await self.clients.claim();
  };
  event.waitUntil(tidy());
});

/** Answers a page that is kept, if it is not too old. */
const kept = async (address) => {
  const cache = await caches.open(PAGES), page = await cache.match(address, { ignoreVary: true });
  if (!page) return undefined;
  if (Date.now() - Date.parse(page.headers.get("date")) < DAYS_KEPT * 86_400_000) return page;
  await cache.delete(address);
  return undefined;
};

const keep = async (address, answer) => {
  if (!answer.ok || answer.redirected || answer.type !== "basic") return;
  const cache = await caches.open(PAGES);
  await cache.put(address, answer);
  const cards = (await cache.keys()).map(({ url }) => url).filter((url) => CARD.test(new URL(url).pathname));
  await Promise.all(cards.slice(0, -MOST_CARDS).map((url) => cache.delete(url)));
};

/** Answers from the network, or with what is kept where there is none. */
const page = async (event, { pathname, search }) => {
  try {
    const answer = await fetch(event.request);
    if (CARD.test(pathname)) event.waitUntil(keep(pathname + search, answer.clone()));
    return answer;
  } catch (error) {
    const cache = await caches.open(PAGES);
    const tonight = (await cache.keys()).map(({ url }) => new URL(url)).find((url) => url.search === "?kept=1");
    const address = pathname === "/" && tonight ? tonight.pathname : pathname;
    const found = await kept(TONIGHT.test(address) ? `${address}?kept=1` : address + search);
    if (found) return found;
    throw error;
  }
};

self.addEventListener("fetch", (event) => {
  const { request } = event, url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (DOORS.includes(url.pathname)) event.waitUntil(caches.delete(PAGES));
  if (request.method !== "GET") return;
  if (url.pathname.startsWith("/assets/")) event.respondWith(caches.match(request, { ignoreVary: true }).then((found) => found ?? fetch(request)));
  else if (CARD.test(url.pathname) || (request.mode === "navigate" && (url.pathname === "/" || TONIGHT.test(url.pathname)))) event.respondWith(page(event, url));
});
