// The book kept on this device, for where there is no network. Only a server can offer this, and only a
// browser that allows it; from a folder of files nothing of it shows. Other scripts have some of its files kept by
// `stavewrightKeep.keepFiles(names)`, which answers "" or what went wrong: `full`, `network`, `unlike`, `refused`.
"use strict";
(() => {
  const storage = stavewrightStorage;
  const box = document.querySelector("[data-keep]");
  if (!box || !location.protocol.startsWith("http")) return;
  self.stavewrightKeep = { keepFiles: async () => "refused" };
  // Only a server's pages can be installed; from a folder a browser would complain of the manifest.
  const manifest = document.createElement("link");
  manifest.rel = "manifest";
  manifest.href = storage.root + "book.webmanifest";
  document.head.append(manifest);
  const said = box.querySelector("[role=status]");
  if (!("serviceWorker" in navigator)) return;
  const scope = location.origin + storage.root;
  const script = scope + "sw.js";
  const button = box.querySelector("[data-keep-all]");
  const printsButton = box.querySelector("[data-keep-prints]");
  const news = box.querySelector("[data-new-edition]");
  let last = null, lasting = "";
  let halfThere = false;

  function since(edition) {
    try {
      const known = JSON.parse(storage.read("edition"));
      if (known.edition === edition) return known.since;
    } catch { /* the first time, or what another version kept */ }
    const day = new Date().toLocaleDateString(stavewrightLanguage, { day: "numeric", month: "long", year: "numeric" });
    storage.write("edition", JSON.stringify({ edition, since: day }));
    return day;
  }

  // A size to the megabyte; a packing host sends less.
  const size = (bytes) => (bytes < 1e6 ? stavewrightSay("less than 1 MB") : `${Math.round(bytes / 1e6)} MB`);

  function wordsOfWhole({ prints, apart }) {
    const parts = [];
    if (prints.kept < prints.all) parts.push("PDFs");
    if (apart) parts.push(stavewrightSay("downloads"));
    const rest = parts.join(stavewrightSay(" and ")), needs = rest && stavewrightSay("; {rest} still need one", { rest });
    if (prints.all && prints.kept === prints.all) return stavewrightSay("The whole book is kept here, its PDFs too, and works without a network{needs}.", { needs });
    return stavewrightSay("The whole book is kept here and works without a network{needs}.", { needs });
  }

  // Asks the browser not to remove what is kept here when the device runs short of room. Some ask the reader.
  async function askToLast(ask) {
    const store = navigator.storage;
    let granted = false;
    try {
      granted = await (ask ? store.persist() : store.persisted());
    } catch { /* an old browser, or one that keeps nothing for long */ }
    lasting = " " + (granted ? stavewrightSay("The browser will not remove it by itself.") : stavewrightSay("The browser may remove it if the device runs short of room."));
    if (last) show(last);
  }

  function words(state) {
    const some = stavewrightSay("{kept} of {all} pages are kept here", state);
    if (state.keeping) return stavewrightSay("Keeping the book: {some} …", { some });
    if (state.whole && !state.fault) return wordsOfWhole(state) + lasting;
    if (state.fault === "full") return stavewrightSay("There is no more room on this device: {some}.", { some }) + toFree(state);
    if (state.fault === "network") return stavewrightSay("The network failed: {some}. Try again later.", { some });
    if (state.fault === "unlike") return stavewrightSay("The host does not yet have every file of this version: {some}. Try again later.", { some });
    if (!state.all) return stavewrightSay("No page of this book is kept here now.");
    if (state.kept === state.all) return stavewrightSay("All its pages are kept here, but not everything that they show.");
    return stavewrightSay("{some}: the contents, Find, and what you have opened.", { some });
  }

  const toFree = (state) => " " + stavewrightSay("The rest needs {size}.", { size: size(state.lacks || state.prints.lacks) });

  function show(state) {
    last = state;
    said.textContent = stavewrightSay("Version {edition}, on this device since {since}.", { edition: state.edition, since: since(state.edition) }) + " " + words(state)
      + (halfThere ? " " + stavewrightSay("A new version was found, but it could not be downloaded completely yet.") : "");
    button.hidden = state.whole;
    button.textContent = stavewrightSay("Keep the whole book on this device ({size})", { size: size(state.lacks) });
    printsButton.hidden = !state.whole || state.prints.kept === state.prints.all;
    printsButton.textContent = stavewrightSay("Keep the PDFs too ({size})", { size: size(state.prints.lacks) });
    box.hidden = false;
  }

  // Another book may lie above this one, and its worker answers here until this book has its own.
  const isOwn = (worker) => Boolean(worker) && worker.scriptURL === script;

  function running(registration) {
    if (registration.active) return Promise.resolve(registration.active);
    const worker = registration.waiting || registration.installing;
    return new Promise((resolve, reject) => worker.addEventListener("statechange", () => {
      if (worker.state === "activated") resolve(worker);
      if (worker.state === "redundant") reject(new Error("not all of the edition is there"));
    }));
  }

  // A worker that ends before it is installed could not fetch all that its edition needs.
  function watch(worker) {
    let installed = false;
    worker?.addEventListener("statechange", () => {
      installed ||= worker.state === "installed";
      halfThere = worker.state === "redundant" && !installed;
      if (halfThere && last) show(last);
    });
  }

  let had = isOwn(navigator.serviceWorker.controller);
  navigator.serviceWorker.addEventListener("message", ({ data }) => { if (data.root === storage.root) show(data); });
  navigator.serviceWorker.addEventListener("controllerchange", () => {
    const worker = navigator.serviceWorker.controller;
    if (!isOwn(worker)) return;
    worker.postMessage("state");
    news.hidden = !had;
    had = true;
  });
  news.querySelector("button").addEventListener("click", () => location.reload());

  const registered = navigator.serviceWorker.register(script, { scope, updateViaCache: "none" });

  self.stavewrightKeep.keepFiles = async (names) => {
    try {
      const worker = await running(await registered);
      const { port1, port2 } = new MessageChannel();
      const answer = new Promise((resolve) => { port1.onmessage = ({ data }) => resolve(data); });
      worker.postMessage({ keep: names }, [port2]);
      const fault = await answer;
      worker.postMessage("state");
      return fault;
    } catch {
      return "refused";
    }
  };

  // An exercise that is opened is kept in all its keys, unless the reader asked the browser to save data.
  async function keepOpened() {
    const keys = [...document.querySelectorAll(".in-key nav.keys a, .in-key h1 a, .exercise nav.keys a")];
    if (!keys.length || navigator.connection?.saveData) return;
    const names = [location, ...keys].map(({ href }) => {
      const path = new URL(href).pathname;
      return decodeURIComponent(path.slice(storage.root.length)).replace(/(^|\/)$/, "$1index.html");
    });
    // With each page its music for a phone, where it has any.
    const phones = names.map((name) => name.replace(/index\.html$/, "phone.js"));
    await self.stavewrightKeep.keepFiles([...names, ...phones]);
  }

  registered.then(async (registration) => {
    for (const [asked, message] of [[button, "keep"], [printsButton, "keep-prints"]]) {
      asked.addEventListener("click", async () => {
        askToLast(true);
        said.textContent = stavewrightSay("Keeping the book …");
        (await running(registration)).postMessage(message);
      });
    }
    watch(registration.installing);
    registration.addEventListener("updatefound", () => watch(registration.installing));
    (await running(registration)).postMessage("state");
    askToLast(false);
    await keepOpened();
  }, () => {
    said.textContent = stavewrightSay("This browser does not let the book be kept on this device: it needs a network each time.");
    button.hidden = true;
    box.hidden = false;
  }).catch(() => { box.hidden = true; });
})();
