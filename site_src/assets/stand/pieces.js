// What a page of an exercise in one key, or a page of a key, has for the stand: its pieces in order, with what
// their page says of them. Pages are fetched, or the one that is open is read.
"use strict";
(function (stand) {
  const FETCHED_PAGES = 6;
  const text = (node) => (node ? node.textContent.replace(/\s+/g, " ").trim() : "");
  const withoutAnchor = (address) => address.split("#")[0];
  const pages = new Map();

  // A page by its address, as a document. Rejects where a browser may not fetch it, as from a folder.
  function fetchPage(address) {
    const wanted = withoutAnchor(new URL(address, location.href).href);
    if (wanted === withoutAnchor(location.href)) return Promise.resolve(document);
    // A browser would complain of it in its console.
    if (!location.protocol.startsWith("http")) return Promise.reject(new Error("no pages are fetched from a folder"));
    if (!pages.has(wanted)) {
      const page = fetch(wanted).then(async (answer) => {
        if (!answer.ok) throw new Error(answer.statusText);
        return new DOMParser().parseFromString(await answer.text(), "text/html");
      });
      page.catch(() => pages.delete(wanted));
      pages.set(wanted, page);
      if (pages.size > FETCHED_PAGES) pages.delete(pages.keys().next().value);
    }
    return pages.get(wanted);
  }

  function neighbour(page, name, address) {
    const link = page.querySelector(".turn ." + name);
    if (!link) return null;
    return { address: new URL(link.getAttribute("href"), address).href, ids: [], title: link.dataset.words, note: "" };
  }

  // The pieces of a page, or those of `ids`: each the id of a piece, or of a heading for all that is below it.
  function readPage(page, address, ids = []) {
    const ground = page.querySelector("[data-sound]");
    const pieces = [];
    for (const section of page.querySelectorAll("main .setting")) {
      const headline = section.querySelector("h2");
      for (const part of section.querySelectorAll(".part")) {
        const drawings = [...part.querySelectorAll("svg.ink")];
        if (!drawings.length) continue;
        pieces.push({
          id: part.id,
          setting: headline.id,
          heading: text(headline),
          label: text(part.querySelector("h3, h4")),
          means: text(part.querySelector(".means")),
          words: part.querySelector(".piece").getAttribute("aria-label"),
          drawings,
          play: part.querySelector("[data-play]")?.dataset.play || "",
          exercise: section.dataset.exercise || "",
        });
      }
    }
    const asked = ids.flatMap((id) => pieces.filter((piece) => piece.id === id || piece.setting === id));
    return {
      address: withoutAnchor(address),
      title: text(page.querySelector("h1")),
      tempo: text(page.querySelector(".heading .tempo")),
      attend: [...page.querySelectorAll(".attend li")].map(text),
      ground: ground ? ground.dataset.ground : "{}",
      glyphs: page.querySelector("svg.glyphs"),
      inKey: page.body.classList.contains("in-key"),
      // A list that was kept may name what this edition no longer has.
      pieces: asked.length ? [...new Set(asked)] : pieces,
      before: neighbour(page, "before", address),
      after: neighbour(page, "after", address),
    };
  }

  Object.assign(stand, { fetchPage, readPage, withoutAnchor });
})((window.stavewrightStand = window.stavewrightStand || {}));
