// The book without a network. Every edition of the book has its own shelf, named by a hash of all it holds:
// what was kept of the last edition and has not changed is taken over, what has changed is fetched anew.
"use strict";

const EDITION = "EDITION-OF-THE-BOOK";
const SHELF = "stavewright-" + EDITION;
const HERE = new URL("./", self.location).href;
const LISTING = "book-files.json";
// Sheets for printing and files to take away are fetched when they are wanted, and not kept.
const kept = (file) => /\.(html|css|js|svg)$/.test(file);

const name = (address) => {
  const url = new URL(address);
  const path = url.origin + url.pathname;
  if (!path.startsWith(HERE)) return null;
  const rest = decodeURI(path.slice(HERE.length));
  return rest === "" || rest.endsWith("/") ? rest + "index.html" : rest;
};
const key = (file) => HERE + encodeURI(file);

// A page that was reached by way of a redirection may not be given for one that was asked for directly.
async function plain(answer) {
  if (!answer.redirected) return answer;
  return new Response(await answer.blob(), { status: 200, headers: { "Content-Type": answer.headers.get("Content-Type") || "" } });
}

async function fetched(shelf, file) {
  const answer = await fetch(key(file), { cache: "no-cache" });
  if (!answer.ok) throw new Error(file + ": " + answer.status);
  await shelf.put(key(file), await plain(answer));
}

async function listing(shelf) {
  const here = await shelf.match(key(LISTING));
  return here ? here.json() : null;
}

async function begin() {
  const shelf = await caches.open(SHELF);
  await fetched(shelf, LISTING);
  const files = (await listing(shelf)).files;
  const older = (await caches.keys()).filter((one) => one.startsWith("stavewright-") && one !== SHELF);
  const wanted = new Set(Object.keys(files).filter((file) => file.startsWith("assets/") || file === "index.html" || file === "find/index.html"));
  for (const one of older) {
    const before = await caches.open(one);
    const then = (await listing(before))?.files || {};
    for (const request of await before.keys()) {
      const file = name(request.url);
      if (!file || !(file in files) || file === LISTING) continue;
      if (then[file] === files[file]) await shelf.put(key(file), await before.match(request));
      else wanted.add(file);
    }
  }
  for (const file of wanted) if (!(await shelf.match(key(file)))) await fetched(shelf, file);
}

self.addEventListener("install", (event) => event.waitUntil(begin().then(() => self.skipWaiting())));

self.addEventListener("activate", (event) => event.waitUntil((async () => {
  for (const one of await caches.keys()) if (one.startsWith("stavewright-") && one !== SHELF) await caches.delete(one);
  await self.clients.claim();
})()));

self.addEventListener("fetch", (event) => {
  const file = event.request.method === "GET" ? name(event.request.url) : null;
  if (!file || file === "sw.js") return;
  event.respondWith((async () => {
    const shelf = await caches.open(SHELF);
    const here = await shelf.match(key(file));
    if (here) return here;
    const answer = await fetch(event.request);
    if (answer.status === 200 && kept(file)) event.waitUntil(plain(answer.clone()).then((copy) => shelf.put(key(file), copy)));
    return answer;
  })().catch(() => new Response(
    "<!doctype html><html lang=en><meta charset=utf-8><meta name=viewport content='width=device-width'><title>Not kept here</title><p>There is no network, and this page has not been kept on this device. <a href='" + HERE + "index.html'>To the contents</a>.",
    { status: 503, headers: { "Content-Type": "text/html; charset=utf-8" } })));
});

async function state() {
  const shelf = await caches.open(SHELF);
  const files = Object.keys((await listing(shelf))?.files || {}).filter((file) => file.endsWith(".html"));
  const here = new Set((await shelf.keys()).map((request) => name(request.url)));
  return { edition: EDITION, all: files.length, kept: files.filter((file) => here.has(file)).length };
}

async function keepAll(client) {
  const shelf = await caches.open(SHELF);
  const files = Object.keys((await listing(shelf)).files).filter(kept);
  const rest = [];
  for (const file of files) if (!(await shelf.match(key(file)))) rest.push(file);
  const pages = (all) => all.filter((file) => file.endsWith(".html")).length;
  const all = pages(files);
  const some = async () => {
    for (let file = rest.pop(); file; file = rest.pop()) {
      await fetched(shelf, file);
      if (rest.length % 10 === 0) client.postMessage({ edition: EDITION, all, kept: all - pages(rest) });
    }
  };
  try {
    await Promise.all([some(), some(), some(), some()]);
    client.postMessage(await state());
  } catch {
    client.postMessage({ ...(await state()), failed: true });
  }
}

self.addEventListener("message", (event) => {
  if (event.data === "state") event.waitUntil(state().then((found) => event.source.postMessage(found)));
  if (event.data === "keep") event.waitUntil(keepAll(event.source));
});
