// Keeps the page for times without a network. Its name holds what the page is made of,
// so that a new page takes the place of the old one.
"use strict";

const KEPT = "tidewright-VERSION";
const FILES = ["./", "./index.html", "./manifest.webmanifest", "./icon.svg"];

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(KEPT).then((kept) => kept.addAll(FILES)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  const old = (name) => name.startsWith("tidewright-") && name !== KEPT;
  event.waitUntil(caches.keys()
    .then((names) => Promise.all(names.filter(old).map((name) => caches.delete(name))))
    .then(() => self.clients.claim()));
});

self.addEventListener("fetch", (event) => {
  if (event.request.method !== "GET") return;
  event.respondWith(caches.open(KEPT)
    .then((kept) => kept.match(event.request, { ignoreSearch: true }))
    .then((found) => found || fetch(event.request)));
});
