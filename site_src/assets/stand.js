// The stand: a page's music and nothing else, in pages that fit the screen. A tap, an arrow key or a pedal's
// page key turns on, and from the last page to the next key; the screen is kept awake while it is open.
"use strict";
(() => {
  const ALL = "";
  const storage = stavewrightStorage;

  // What a document has to put on the stand: its title, its pieces in order, and the ways to its neighbours.
  function contents(page, address) {
    const way = (name) => {
      const link = page.querySelector(".turn ." + name);
      return link ? { href: new URL(link.getAttribute("href"), address).href, words: link.dataset.words } : null;
    };
    const pieces = [];
    for (const section of page.querySelectorAll("main .setting")) {
      const heading = section.querySelector("h2").textContent.replace(/\s+/g, " ").trim();
      for (const part of section.querySelectorAll(".part")) {
        const label = part.querySelector("h3").textContent.trim();
        const drawings = [...part.querySelectorAll("svg.ink")];
        if (drawings.length) pieces.push({ heading, label, drawings, words: part.querySelector(".piece").getAttribute("aria-label") });
      }
    }
    return {
      address,
      title: page.querySelector("h1").textContent.replace(/\s+/g, " ").trim(),
      glyphs: page.querySelector("svg.glyphs"),
      byPart: page.body.classList.contains("in-key"),
      pieces, before: way("before"), after: way("after"),
    };
  }

  const make = (tag, name, text) => {
    const made = document.createElement(tag);
    if (name) made.className = name;
    if (text) made.textContent = text;
    return made;
  };
  const button = (name, text, does) => {
    const made = make("button", name, text);
    made.type = "button";
    made.addEventListener("click", does);
    return made;
  };

  let current = contents(document, location.href);
  let pages = [];
  let at = 0;
  let shown = storage.read("stand") || ALL;
  let awake = null;

  const stand = make("dialog", "stand");
  const title = make("p", "stand-title");
  title.setAttribute("role", "status");
  const sheet = make("div", "stand-sheet");
  const back = button("stand-back", "", () => turn(-1));
  const on = button("stand-on", "", () => turn(1));
  const choice = make("select");
  const chooser = make("label", "stand-choice", "Show ");
  chooser.append(choice);
  const place = make("span", "stand-place");
  const note = make("span", "stand-note");
  const head = make("div", "stand-head");
  const foot = make("div", "stand-foot");
  sheet.tabIndex = -1;
  head.append(button("stand-close", "Close", () => stand.close()), title, chooser);
  foot.append(place, note);
  stand.append(head, sheet, foot, back, on);

  // One line of a piece as a drawing of its own: the same notes behind a window of that line's height.
  function line(drawing, top, bottom) {
    const made = drawing.cloneNode(true);
    const width = Number(drawing.getAttribute("width"));
    made.setAttribute("viewBox", [0, top, width, bottom - top].join(" "));
    made.setAttribute("height", bottom - top);
    made.classList.remove("wide", "narrow");
    return made;
  }

  function lines(piece, narrow) {
    const drawing = piece.drawings.find((one) => one.classList.contains(narrow ? "narrow" : "wide")) || piece.drawings[0];
    const edges = drawing.dataset.systems.split(" ").map(Number);
    const made = [];
    for (let index = 0; index < edges.length; index += 2) {
      // A window reaches halfway to the next line, so that nothing of this one is cut.
      const top = index ? (edges[index - 1] + edges[index]) / 2 : 0;
      const bottom = index + 2 < edges.length ? (edges[index + 1] + edges[index + 2]) / 2 : Number(drawing.getAttribute("height"));
      made.push(document.importNode(line(drawing, top, bottom), true));
    }
    return made;
  }

  // Pages of rows, each as high as the sheet at most. A piece's label goes with its first line.
  function layOut() {
    const narrow = matchMedia("(max-width: 40rem) and (orientation: portrait)").matches;
    sheet.classList.toggle("narrow-lines", narrow);
    const wanted = current.pieces.filter((piece) => shown === ALL || piece.label === shown);
    const pieces = wanted.length ? wanted : current.pieces;
    const rows = [];
    let heading = "";
    for (const [number, piece] of pieces.entries()) {
      lines(piece, narrow).forEach((drawing, index) => {
        const row = make("div", "stand-row");
        if (index === 0) {
          const label = make("p", "stand-label");
          if (piece.heading !== heading) label.append(make("strong", "", piece.heading), " ");
          heading = piece.heading;
          label.append(make("em", "", piece.label));
          row.append(label);
          drawing.removeAttribute("aria-hidden");
          drawing.setAttribute("role", "img");
          drawing.setAttribute("aria-label", piece.words);
        }
        row.append(drawing);
        row.dataset.piece = number;
        rows.push(row);
      });
    }
    sheet.replaceChildren(...rows);
    const high = sheet.clientHeight;
    const tall = (some) => some[some.length - 1].offsetTop + some[some.length - 1].offsetHeight - some[0].offsetTop;
    const whole = pieces.map((_, number) => rows.filter((row) => Number(row.dataset.piece) === number));
    pages = [[]];
    const add = (some) => {
      const page = pages[pages.length - 1];
      if (page.length && tall([...page, ...some]) > high) pages.push([...some]);
      else page.push(...some);
    };
    // A piece stays whole where a page can hold it; a longer one goes on from line to line.
    for (const piece of whole) {
      if (tall(piece) <= high) add(piece);
      else for (const row of piece) add([row]);
    }
  }

  function show() {
    at = Math.max(0, Math.min(at, pages.length - 1));
    sheet.replaceChildren(...(pages[at] || []));
    sheet.scrollTop = 0;
    title.textContent = current.title;
    place.textContent = pages.length > 1 ? `${at + 1} of ${pages.length}` : "";
    const say = (target, mark, last, way, words) => {
      const to = last ? (way ? way.words : "") : words;
      target.disabled = last && !way;
      target.replaceChildren(make("span", "", mark), make("span", "stand-to", to));
      target.setAttribute("aria-label", last ? (way ? "To " + way.words : "No further key") : words);
    };
    say(back, "←", at === 0, current.before, "Back");
    say(on, "→", at === pages.length - 1, current.after, "On");
  }

  function refresh() {
    const first = pages[at] && pages[at][0] ? Number(pages[at][0].dataset.piece) : 0;
    layOut();
    const same = pages.findIndex((page) => page.some((row) => Number(row.dataset.piece) === first));
    at = Math.max(0, same);
    show();
  }

  function glyphs(found) {
    if (!found) return;
    const kept = document.importNode(found, true);
    for (const glyph of kept.querySelectorAll("[id]")) if (document.getElementById(glyph.id)) glyph.remove();
    stand.append(kept);
  }

  function offered() {
    const labels = current.byPart ? [...new Set(current.pieces.map((piece) => piece.label))] : [];
    chooser.hidden = labels.length < 2;
    choice.replaceChildren(new Option("everything", ALL), ...labels.map((label) => new Option(label, label)));
    choice.value = labels.includes(shown) ? shown : ALL;
  }

  // Whoever sounds a drone hears which key is shown now, by what its own page says of it.
  function tellOfPage(page) {
    const desk = page.querySelector("[data-sound]");
    if (desk) document.dispatchEvent(new CustomEvent("stavewright-turned", { detail: desk.dataset.ground }));
  }

  let turning = false;
  async function turn(by) {
    if (turning) return;
    const next = at + by;
    if (next >= 0 && next < pages.length) {
      at = next;
      show();
      return;
    }
    const way = by > 0 ? current.after : current.before;
    if (!way) return;
    turning = true;
    try {
      const answer = await fetch(way.href);
      if (!answer.ok) throw new Error(answer.statusText);
      const found = new DOMParser().parseFromString(await answer.text(), "text/html");
      current = contents(found, way.href);
      tellOfPage(found);
      glyphs(current.glyphs);
      offered();
      layOut();
      at = by > 0 ? 0 : pages.length - 1;
      show();
    } catch {
      // Files opened without a server cannot be fetched: go there, and open its stand.
      location.href = way.href + (by > 0 ? "#stand" : "#stand-end");
    } finally {
      turning = false;
    }
  }

  async function keepAwake() {
    if (!stand.open || document.visibilityState !== "visible") return;
    try {
      awake = await navigator.wakeLock.request("screen");
      note.textContent = "";
    } catch {
      note.textContent = "This browser may let the screen go dark.";
    }
  }

  async function open(atEnd) {
    // The whole screen first: what opens after it lies above it.
    try { await document.documentElement.requestFullscreen({ navigationUI: "hide" }); } catch { /* the window will do */ }
    if (stand.open) return;
    document.body.append(stand);
    stand.setAttribute("aria-label", "The stand");
    stand.showModal();
    offered();
    layOut();
    at = atEnd ? pages.length - 1 : 0;
    show();
    sheet.focus();
    keepAwake();
  }

  stand.addEventListener("close", () => {
    if (awake) awake.release().catch(() => {});
    awake = null;
    if (document.fullscreenElement) document.exitFullscreen().catch(() => {});
    if (current.address.split("#")[0] !== location.href.split("#")[0]) location.href = current.address.split("#")[0];
    else if (location.hash.startsWith("#stand")) history.replaceState(null, "", "#");
  });
  stand.addEventListener("keydown", (event) => {
    if (event.target === choice || event.altKey || event.ctrlKey || event.metaKey) return;
    const by = { ArrowRight: 1, ArrowDown: 1, PageDown: 1, ArrowLeft: -1, ArrowUp: -1, PageUp: -1 }[event.key];
    if (!by) return;
    event.preventDefault();
    turn(by);
  });
  choice.addEventListener("change", () => {
    shown = choice.value;
    storage.write("stand", shown);
    at = 0;
    layOut();
    show();
  });
  document.addEventListener("visibilitychange", keepAwake);
  let settling = 0;
  addEventListener("resize", () => {
    clearTimeout(settling);
    settling = setTimeout(() => stand.open && refresh(), 100);
  });

  if (!current.pieces.length || typeof stand.showModal !== "function") return;
  for (const mount of document.querySelectorAll("[data-stand]")) mount.append(button("", "Put it on the stand", () => open(false)));
  if (location.hash.startsWith("#stand")) open(location.hash === "#stand-end");
})();
