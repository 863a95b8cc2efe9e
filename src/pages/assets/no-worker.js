"use strict";
// Pages are not kept here any more: this takes the place of the worker that kept them, removes what it kept, and goes.
self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => {
  const names = async () => Promise.all((await caches.keys()).map((name) => caches.delete(name)));
  event.waitUntil(names().then(() => self.registration.unregister()));
});
