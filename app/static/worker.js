// Keeps the logbook on a phone, so that it opens without network: the page as it was drawn last, and
// the files that it is drawn with. With network the page always comes from the server. It is served
// with the logbook's address for its scope.
"use strict";
const page = new URL(self.registration.scope).pathname;
const NAME = `clothcast${page}`;
const PATIENCE_MS = 8000; // a network that does not answer is none

// The copy says that it is one: `kept.js` goes by that.
const marked = (text) => text.replace('data-from="server"', 'data-from="phone"');
const filesOf = (text) => [...text.matchAll(/ (?:href|src)="(\/static\/[^"]+)"/g)].map(([, at]) => at);

const keep = async () => {
  const answer = await fetch(page, { cache: "no-cache" });
  if (answer.status === 403) await caches.delete(NAME); // the link was taken back
  if (!answer.ok || answer.redirected) return;
  const text = await answer.text();
  const files = filesOf(text);
  const cache = await caches.open(NAME);
  for (const file of files) {
    if (!(await cache.match(file))) await cache.add(file);
  }
  const headers = new Headers(answer.headers);
  headers.delete("Content-Encoding"); // the text is unpacked by now
  headers.delete("Content-Length");
  await cache.put(page, new Response(marked(text), { headers }));
  for (const held of await cache.keys()) {
    const { pathname, search } = new URL(held.url);
    if (pathname !== page && !files.includes(pathname + search)) await cache.delete(held);
  }
};

const inTime = (answer) =>
  Promise.race([
    answer,
    new Promise((_done, fail) => { setTimeout(() => fail(new Error("no answer")), PATIENCE_MS); }),
  ]);

const opened = async (event) => {
  try {
    const answer = await inTime(fetch(event.request));
    if (answer.ok || answer.status === 403) event.waitUntil(keep().catch(() => {}));
    return answer;
  } catch {
    if (new URL(event.request.url).pathname !== page) return Response.redirect(page);
    return (await (await caches.open(NAME)).match(page)) || Response.error();
  }
};

const file = async (request) =>
  (await (await caches.open(NAME)).match(request)) || fetch(request);

self.addEventListener("install", (event) => {
  event.waitUntil(keep().then(() => self.skipWaiting()));
});
self.addEventListener("activate", (event) => {
  event.waitUntil(self.clients.claim());
});
self.addEventListener("fetch", (event) => {
  const { origin, pathname } = new URL(event.request.url);
  if (event.request.method !== "GET" || origin !== self.location.origin) return;
  if (event.request.mode === "navigate") event.respondWith(opened(event));
  else if (pathname.startsWith("/static/")) event.respondWith(file(event.request));
});
