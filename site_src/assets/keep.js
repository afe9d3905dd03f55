// The book kept on this device, for where there is no network. Only a server can offer this, and only a
// browser that allows it; from a folder of files nothing of it shows.
"use strict";
(() => {
  const box = document.querySelector("[data-keep]");
  if (!box || !("serviceWorker" in navigator) || !location.protocol.startsWith("http")) return;
  const root = new URL(document.documentElement.dataset.root, location.href);
  const said = box.querySelector("[role=status]");
  const button = box.querySelector("button");
  const store = {
    get() { try { return JSON.parse(localStorage.getItem("stavewright.edition")); } catch { return null; } },
    set(value) { try { localStorage.setItem("stavewright.edition", JSON.stringify(value)); } catch { /* no matter */ } },
  };

  function since(edition) {
    const known = store.get();
    if (known && known.edition === edition) return known.since;
    const day = new Date().toLocaleDateString("en-GB", { day: "numeric", month: "long", year: "numeric" });
    store.set({ edition, since: day });
    return day;
  }

  function show(state) {
    const words = `Edition ${state.edition}, on this device since ${since(state.edition)}. `;
    if (state.failed) said.textContent = words + `The network failed: ${state.kept} of ${state.all} pages are kept here. Try again later.`;
    else if (state.kept >= state.all) said.textContent = words + "The whole book is kept here and needs no network.";
    else said.textContent = words + `${state.kept} of ${state.all} pages are kept here: those you have opened.`;
    button.hidden = state.kept >= state.all;
    box.hidden = false;
  }

  const had = Boolean(navigator.serviceWorker.controller);
  navigator.serviceWorker.addEventListener("message", (event) => show(event.data));
  navigator.serviceWorker.addEventListener("controllerchange", () => {
    if (!had) return;
    const news = box.querySelector("[data-new-edition]");
    news.hidden = false;
    news.querySelector("button").addEventListener("click", () => location.reload());
  });
  button.addEventListener("click", async () => {
    said.textContent = "Keeping the book …";
    (await navigator.serviceWorker.ready).active.postMessage("keep");
  });
  navigator.serviceWorker.register(new URL("sw.js", root), { scope: root.pathname })
    .then(() => navigator.serviceWorker.ready)
    .then((ready) => ready.active.postMessage("state"))
    .catch(() => { box.hidden = true; });
})();
