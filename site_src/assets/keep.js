// The book kept on this device, for where there is no network. Only a server can offer this, and only a
// browser that allows it; from a folder of files nothing of it shows. Other scripts have some of its files kept by
// `stavewrightKeep.keepFiles(names)`, which answers "" or what went wrong: `full`, `network`, `unlike`, `refused`.
"use strict";
(() => {
  const storage = stavewrightStorage;
  const box = document.querySelector("[data-keep]");
  if (!box || !location.protocol.startsWith("http")) return;
  self.stavewrightKeep = { keepFiles: async () => "refused" };
  if (!("serviceWorker" in navigator)) return;
  const scope = location.origin + storage.root;
  const script = scope + "sw.js";
  const said = box.querySelector("[role=status]");
  const button = box.querySelector("button");
  const news = box.querySelector("[data-new-edition]");
  let last = null;
  let halfThere = false;

  function since(edition) {
    try {
      const known = JSON.parse(storage.read("edition"));
      if (known.edition === edition) return known.since;
    } catch { /* the first time, or what another version kept */ }
    const day = new Date().toLocaleDateString("en-GB", { day: "numeric", month: "long", year: "numeric" });
    storage.write("edition", JSON.stringify({ edition, since: day }));
    return day;
  }

  function words(state) {
    const some = `${state.kept} of ${state.all} pages are kept here`;
    if (state.keeping) return `Keeping the book: ${some} …`;
    if (state.whole) {
      return "The whole book is kept here and works without a network"
        + (state.apart ? "; PDFs and downloads still need one." : ".");
    }
    if (state.fault === "full") return `There is no more room on this device: ${some}.`;
    if (state.fault === "network") return `The network failed: ${some}. Try again later.`;
    if (state.fault === "unlike") return `The host does not yet have every file of this version: ${some}. Try again later.`;
    if (!state.all) return "No page of this book is kept here now.";
    if (state.kept === state.all) return "All its pages are kept here, but not everything that they show.";
    return some + ": the contents, Find and pages that you have opened.";
  }

  function show(state) {
    last = state;
    said.textContent = `Version ${state.edition}, on this device since ${since(state.edition)}. ` + words(state)
      + (halfThere ? " A new version was found, but it could not be downloaded completely yet." : "");
    button.hidden = state.whole;
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

  registered.then(async (registration) => {
    button.addEventListener("click", async () => {
      said.textContent = "Keeping the book …";
      (await running(registration)).postMessage("keep");
    });
    watch(registration.installing);
    registration.addEventListener("updatefound", () => watch(registration.installing));
    (await running(registration)).postMessage("state");
  }).catch(() => { box.hidden = true; });
})();
