// The book without a network. One shelf holds the files of the book, each under its name and its hash; a file is
// put there only when its hash is the one in an edition's listing. An edition takes over when all that it needs is
// on the shelf, and what no longer belongs to it is then removed: until then the edition before stays whole.
"use strict";
importScripts("assets/storage.js");

// First, so that a host which has only the beginning of this file yet installs nothing of it.
self.addEventListener("install", (event) => event.waitUntil((async () => {
  if (!self.isComplete) throw new Error("the worker's own file is not all there");
  await begin();
  await self.skipWaiting();
})()));

const EDITION = "EDITION-OF-THE-BOOK";
const LISTING = "book-files.json";
const ROOT = new URL("./", self.location).href;
const SHELF = stavewrightStorage.name("files");
// Without these no page can be shown or found.
const needed = (file) => file.startsWith("assets/") || file === "index.html" || file === "find/index.html";
// Files to take away and pictures for links are fetched when they are wanted, and not kept; nor are sheets for
// printing, unless the reader wishes it.
const kept = (file) => /\.(html|css|js|svg|png|jpe?g|gif|webp|avif|woff2?|webmanifest)$/.test(file)
  && !/^pictures\/(the-book|of-[^/]*)\.png$/.test(file);

const isPrint = (file) => file.endsWith(".pdf");

// What can go wrong where a file is to be kept.
const UNLIKE = "unlike", NETWORK = "network", FULL = "full", REFUSED = "refused";

const address = (file) => ROOT + file.split("/").map(encodeURIComponent).join("/");
const place = (file, hash) => address(file) + "?" + hash;

// The file that an address asks for; null where it is none below the book's root.
function fileAt(url) {
  const { origin, pathname } = new URL(url);
  if (!(origin + pathname).startsWith(ROOT)) return null;
  try {
    const file = decodeURIComponent((origin + pathname).slice(ROOT.length));
    return file === "" || file.endsWith("/") ? file + "index.html" : file;
  } catch {
    return null;
  }
}

async function hasHash(bytes, hash) {
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  const hex = Array.from(digest, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.slice(0, 10) === hash;
}

// Puts an answer on the shelf if it is the file that was meant; says whether it is. A new answer is made of its
// bytes, for one that was reached by a redirection may not be given for a page that was asked for directly.
async function store(shelf, file, hash, answer) {
  const bytes = await answer.arrayBuffer();
  if (answer.status !== 200 || !(await hasHash(bytes, hash))) return false;
  const headers = new Headers(answer.headers);
  for (const name of ["Content-Encoding", "Content-Length", "Vary"]) headers.delete(name);
  await shelf.put(place(file, hash), new Response(bytes, { headers }));
  return true;
}

// -- the listing of this edition ---------------------------------------------------------------------------

let listed = null, sizes = {};

// The edition's files and their hashes; none where its listing is not on the shelf.
async function listing() {
  if (!listed) {
    const here = await (await caches.open(SHELF)).match(place(LISTING, EDITION));
    if (here) {
      const found = await here.json();
      listed = new Map(Object.entries(found.files));
      sizes = found.sizes || {};
    }
  }
  return listed || new Map();
}

// Fetches the listing; says what went wrong, or "".
async function fetchListing() {
  try {
    for (const cache of ["no-cache", "reload"]) {
      const answer = await fetch(address(LISTING), { cache });
      const text = await answer.text();
      let found = null;
      try { found = JSON.parse(text); } catch { /* half of it, or another page in its place */ }
      if (answer.status !== 200 || found?.edition !== EDITION) continue;
      await (await caches.open(SHELF)).put(place(LISTING, EDITION), new Response(text));
      return "";
    }
    return UNLIKE;
  } catch (fault) {
    return fault.name === "QuotaExceededError" ? FULL : NETWORK;
  }
}

// -- keeping -----------------------------------------------------------------------------------------------

async function keepFile(shelf, file, hash) {
  try {
    if (await shelf.match(place(file, hash))) return "";
    // The second time past every store on the way: a copy there may be of another edition.
    for (const cache of ["no-cache", "reload"])
      if (await store(shelf, file, hash, await fetch(address(file), { cache }))) return "";
    return UNLIKE;
  } catch (fault) {
    return fault.name === "QuotaExceededError" ? FULL : NETWORK;
  }
}

// Keeps some of the edition's files; says what went wrong, or "". What is right stays, so that another try asks
// only for the rest.
async function keepFiles(names, tell = () => {}) {
  const shelf = await caches.open(SHELF);
  const files = await listing();
  const rest = [...names];
  const faults = new Set();
  const work = async () => {
    for (let file = rest.pop(); file !== undefined; file = rest.pop()) {
      const fault = await keepFile(shelf, file, files.get(file));
      if (fault) faults.add(fault);
      else tell(file);
      if (fault === NETWORK || fault === FULL) rest.length = 0;
    }
  };
  await Promise.all([work(), work(), work(), work()]);
  return [FULL, NETWORK, UNLIKE].find((fault) => faults.has(fault)) || "";
}

// Shelves of the program's first form were named by the edition alone, and books of one host shared them. One is
// surely this book's where it holds this book's listing, no other's, and nothing from outside the book's root.
async function ownFirstShelves() {
  const own = [];
  for (const name of (await caches.keys()).filter((one) => /^stavewright-[0-9a-f]{10}$/.test(one))) {
    const urls = (await (await caches.open(name)).keys()).map((request) => request.url);
    const listings = urls.filter((url) => url.endsWith("/" + LISTING));
    const mine = listings.length === 1 && listings[0] === address(LISTING);
    if (mine && urls.every((url) => url.startsWith(ROOT))) own.push({ name, urls });
  }
  return own;
}

// Fetches what the edition needs, and anew what was kept of the edition before.
async function begin() {
  const fault = await fetchListing();
  if (fault) throw new Error(LISTING + ": " + fault);
  const shelf = await caches.open(SHELF);
  const files = await listing();
  const urls = (await shelf.keys()).map((request) => request.url);
  for (const first of await ownFirstShelves()) urls.push(...first.urls);
  const names = [...files.keys()].filter((file) => kept(file) || isPrint(file));
  const before = new Set(urls.map(fileAt));
  const lacking = await keepFiles(names.filter((file) => kept(file) && needed(file)));
  if (lacking) throw new Error("what the edition needs: " + lacking);
  const lost = await keepFiles(names.filter((file) => before.has(file) && !needed(file)));
  // Where two editions find no room beside each other, a page less is kept rather than an old book for ever.
  if (lost && lost !== FULL) throw new Error("what was kept before: " + lost);
}

// Removes what is not of this edition, from this book's own shelves only.
async function tidy() {
  const shelf = await caches.open(SHELF);
  const places = new Set([...(await listing())].map(([file, hash]) => place(file, hash)));
  places.add(place(LISTING, EDITION));
  for (const request of await shelf.keys()) if (!places.has(request.url)) await shelf.delete(request);
  for (const first of await ownFirstShelves()) await caches.delete(first.name);
}

self.addEventListener("activate", (event) => event.waitUntil(tidy().then(() => self.clients.claim())));

// -- answering ---------------------------------------------------------------------------------------------

const notKept = () => new Response(
  "<!doctype html><html lang=" + stavewrightLanguage.slice(0, 2) + "><meta charset=utf-8><meta name=viewport content='width=device-width'><meta name=color-scheme content='light dark'><title>"
  + stavewrightSay("Not kept here") + "</title><p>" + stavewrightSay("There is no network, and this page is not kept on this device.")
  + " <a href='" + ROOT + "index.html'>" + stavewrightSay("To the contents") + "</a>.",
  { status: 503, headers: { "Content-Type": "text/html; charset=utf-8" } });

// A reader is shown what the network gives; it is kept only if it is of this edition, and else asked for again.
async function answered(event, file) {
  let shelf = null, hash = "", here = null;
  try {
    shelf = await caches.open(SHELF);
    hash = (await listing()).get(file);
    here = hash && await shelf.match(place(file, hash));
  } catch { /* nothing can be kept here now: the network is left */ }
  if (here) return here;
  const answer = await fetch(event.request);
  if (hash && kept(file) && answer.status === 200) {
    const copy = answer.clone();
    event.waitUntil(store(shelf, file, hash, copy).then((right) => right || keepFile(shelf, file, hash)).catch(() => {}));
  }
  return answer;
}

self.addEventListener("fetch", (event) => {
  const file = event.request.method === "GET" ? fileAt(event.request.url) : null;
  if (file !== null && file !== "sw.js") event.respondWith(answered(event, file).catch(notKept));
});

// -- what the pages ask ------------------------------------------------------------------------------------

// What is here of this edition. The whole book is here where there is a listing, and each file of it that is to be
// kept is on the shelf; `prints` says the same of the PDFs. `lacks` is the bytes that are still to be fetched, and
// `apart` says that the listing has more than both.
async function state() {
  if (!(await listing()).size) await fetchListing();
  const shelf = await caches.open(SHELF);
  const here = new Set((await shelf.keys()).map((request) => request.url));
  const files = [...(await listing())];
  const lacking = (some) => some.filter(([file, hash]) => !here.has(place(file, hash)));
  const bytes = (some) => some.reduce((sum, [file]) => sum + (sizes[file] || 0), 0);
  const wanted = files.filter(([file]) => kept(file)), prints = files.filter(([file]) => isPrint(file));
  const lost = lacking(wanted), lostPrints = lacking(prints);
  const pages = (some) => some.filter(([file]) => file.endsWith(".html")).length;
  return {
    root: stavewrightStorage.root, edition: EDITION, all: pages(wanted), kept: pages(wanted) - pages(lost),
    whole: wanted.length > 0 && !lost.length, lacks: bytes(lost),
    prints: { all: prints.length, kept: prints.length - lostPrints.length, lacks: bytes(lostPrints) },
    apart: files.length > wanted.length + prints.length,
  };
}

// Keeps the book, or its sheets for printing, and tells how far it has come.
async function keepAll(client, wanted) {
  let fault = (await listing()).size ? "" : await fetchListing();
  if (!fault) {
    const begun = await state();
    const names = [...(await listing()).keys()].filter(wanted);
    let pages = 0;
    fault = await keepFiles(names, (file) => {
      if (!file.endsWith(".html")) return;
      pages += 1;
      if (pages % 10 === 0) client.postMessage({ ...begun, keeping: true, kept: Math.max(begun.kept, pages) });
    });
  }
  client.postMessage({ ...(await state()), fault });
  if (fault === UNLIKE) await self.registration.update().catch(() => {});
}

// Keeps the files of these names that the edition has; says what went wrong, or "".
async function keepSome(asked) {
  try {
    const fault = (await listing()).size ? "" : await fetchListing();
    const files = await listing();
    return fault || await keepFiles(asked.filter((file) => files.has(file) && kept(file)));
  } catch {
    return REFUSED;
  }
}

self.addEventListener("message", (event) => {
  if (Array.isArray(event.data.keep)) event.waitUntil(keepSome(event.data.keep).then((fault) => event.ports[0].postMessage(fault)));
  if (event.data === "state") event.waitUntil(state().then((found) => event.source.postMessage(found)));
  if (event.data === "keep") event.waitUntil(keepAll(event.source, kept));
  if (event.data === "keep-prints") event.waitUntil(keepAll(event.source, isPrint));
});

self.isComplete = true;
