"use strict";
// What this device keeps of pages is its account's alone: another account's goes. A league's first page is kept anew
// whenever it is seen, and with it the cards that can be handed in from there.
const keepPages = async () => {
  const { account } = document.body.dataset, FOR = "/kept-for";
  const at = location.pathname, isCard = at.endsWith("/hand-in");
  let pages = await caches.open("pages");
  const owner = await (await pages.match(FOR))?.text();
  if (owner !== account) {
    await caches.delete("pages");
    pages = await caches.open("pages");
    await pages.put(FOR, new Response(account));
  }
  /** Keeps a page, if it is there: not the one that whoever is signed out is led to. */
  const add = async (address) => {
    const answer = await fetch(address, { headers: { accept: "text/html" } }).catch(() => null);
    if (answer?.ok && !answer.redirected) await pages.put(address, answer);
  };
  const isNew = (page) => page && Date.now() - Date.parse(page.headers.get("date")) < 60_000;
  if (document.readyState !== "complete") await new Promise((done) => { addEventListener("load", done, { once: true }); });
  // The page that brought the worker was loaded without it.
  if (isCard && !(await pages.match(at + location.search))) await add(at + location.search);
  if (!/^\/leagues\/[0-9a-f-]{36}$/.test(at) || !navigator.onLine) return;
  for (const { url } of await pages.keys()) if (new URL(url).search === "?kept=1" && new URL(url).pathname !== at) await pages.delete(url);
  if (!isNew(await pages.match(`${at}?kept=1`))) await add(`${at}?kept=1`);
  for (const { pathname, search } of document.querySelectorAll('main a[href$="/hand-in"]')) {
    if (!(await pages.match(pathname + search))) await add(pathname + search);
  }
};
if ("caches" in window) {
  // A worker that begins may have removed the pages that its forerunner kept.
  navigator.serviceWorker?.addEventListener("controllerchange", keepPages);
  navigator.serviceWorker?.register("/service-worker.js");
  keepPages();
}
