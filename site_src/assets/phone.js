// The narrow form of a page's music, for a phone held upright. It stands in a packed script beside the page
// (builder/views/phone_file.py), which is loaded when it is to be seen: on the page, or on the stand. Where it cannot
// be loaded or unpacked, the wide form shows instead.
"use strict";
(() => {
  const FILE = "phone.js";
  // By their addresses: what was loaded, and what takes a file that is being loaded.
  const files = new Map(), waiting = new Map();
  // The pages that have both forms.
  const complete = new WeakSet();

  async function unpack(packed) {
    const bytes = Uint8Array.from(atob(packed), (sign) => sign.charCodeAt(0));
    const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
    return JSON.parse(await new Response(stream).text());
  }

  function load(address) {
    if (!files.has(address)) {
      const file = new Promise((done, fail) => {
        const script = document.createElement("script");
        waiting.set(address, done);
        script.src = address;
        script.onerror = () => fail(new Error(address));
        document.head.append(script);
      }).then(unpack);
      files.set(address, file);
      // Another try may find the network again.
      file.catch(() => files.delete(address));
    }
    return files.get(address);
  }

  // Gives a page the glyphs that it lacks.
  function bringGlyphs(page, text) {
    const defs = page.querySelector("svg.glyphs defs");
    const brought = page.importNode(new DOMParser().parseFromString(`<svg>${text}</svg>`, "text/html").querySelector("svg"), true);
    for (const glyph of [...brought.children]) {
      if (page.getElementById(glyph.id)) continue;
      // A glyph that the page has may become a marker too.
      for (const path of glyph.querySelectorAll("[id]")) if (page.getElementById(path.id)) path.removeAttribute("id");
      defs.append(glyph);
    }
  }

  // The content of the wide forms, and of the list of variations, while they are not to be seen: a phone has less to
  // hold.
  const asides = new Map();

  function putAside() {
    for (const wide of document.querySelectorAll("main svg.wide, main .variations")) {
      if (asides.has(wide)) continue;
      const content = document.createDocumentFragment();
      content.append(...wide.childNodes);
      asides.set(wide, content);
    }
  }

  function putBack() {
    for (const [wide, content] of asides) wide.append(content);
    asides.clear();
  }

  // Brings the narrow form into a page beside the wide one: into the page that is open, or one that was fetched from
  // an address. Never fails.
  async function bring(page, address) {
    if (page === document) putBack();
    const places = [...page.querySelectorAll("main svg.narrow")];
    if (!places.length || has(page)) return;
    try {
      const { glyphs, pieces } = await load(new URL(FILE, address).href);
      if (has(page)) return;
      if (pieces.length !== places.length) throw new Error("the file is of another edition");
      complete.add(page);
      bringGlyphs(page, glyphs);
      places.forEach((place, index) => place.insertAdjacentHTML("beforeend", pieces[index]));
    } catch {
      for (const place of places) {
        place.parentElement.querySelector(".wide")?.classList.remove("wide");
        place.remove();
      }
    }
  }

  const has = (page) => complete.has(page);

  // Called by the file: `packed` is its content.
  function take(packed) {
    waiting.get(document.currentScript.src)?.(packed);
  }

  self.stavewrightPhone = { bring, has, take };

  const phone = matchMedia("screen and (max-width: 40rem)");
  async function look() {
    await bring(document, location.href);
    if (phone.matches) putAside();
  }
  phone.addEventListener("change", () => (phone.matches ? look() : putBack()));
  addEventListener("beforeprint", putBack);
  if (phone.matches) look();
})();
