// Keeps a page of the crew on a phone, so that it opens without network: the page as it was drawn
// last, and the files that it is drawn with. With network the page always comes from the server. Its
// scope is the address of the page. Where the browser can (Web Background Synchronization), the one of
// the logbook sends what the phone kept, once there is network and no page is open.
"use strict";
importScripts("/static/queue.js");
const page = new URL(self.registration.scope).pathname;
const logbook = page.replace(/[^/]*$/, "logbook");
const NAME = `clothcast${page}`;
const PATIENCE_MS = 8000; // a network that does not answer is none
const FRESH_MS = 600_000; // a copy younger than this is not asked for by another page

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

const isFresh = async () => {
  const held = await (await caches.open(NAME)).match(page);
  return held !== undefined && Date.now() - Date.parse(held.headers.get("date")) < FRESH_MS;
};

const send = async () => {
  const { isReached } = await self.clothcastQueue(logbook).flush();
  if (!isReached) throw new Error("no network"); // the browser tries again
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
self.addEventListener("message", (event) => {
  if (event.data !== "keep") return;
  event.waitUntil(isFresh().then((fresh) => fresh || keep()).catch(() => {}));
});
self.addEventListener("sync", (event) => {
  if (event.tag === "send") event.waitUntil(send());
});
self.addEventListener("fetch", (event) => {
  const { origin, pathname } = new URL(event.request.url);
  if (event.request.method !== "GET" || origin !== self.location.origin) return;
  if (event.request.mode === "navigate") event.respondWith(opened(event));
  else if (pathname.startsWith("/static/")) event.respondWith(file(event.request));
});
