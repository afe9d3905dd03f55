// The stand: music and nothing else, in pages that fit the screen. What is put on it is a list of blocks, each
// some pieces of one page; a page's own button puts all of that page on it, and its neighbours follow. A tap, a
// swipe, an arrow key or a pedal's page key turns; the screen is kept awake while the stand is open.
"use strict";
(function (stand) {
  const ALL = "", SET = "#stand-set";
  const storage = stavewrightStorage;
  const sound = window.stavewrightSound;
  const { make } = stand;

  const button = (name, text, does) => {
    const made = make("button", name, text);
    made.type = "button";
    made.addEventListener("click", does);
    return made;
  };

  // -- what is on it ---------------------------------------------------------------------------------------

  // The block that is shown: { address, title, pieces, ... } of `readPage`, with the `note` of its list.
  let current = null;
  // The list of a caller, or null where pages follow their neighbours: { blocks, at, from, onBlock, onEnd }.
  let list = null;
  let pages = [];
  let at = 0;
  let over = false;
  let chosen = 0;
  let shown = storage.read("stand") ?? ALL;
  let awake = null;
  let turning = false;
  let laidOutFor = "";

  // -- its parts -------------------------------------------------------------------------------------------

  const dialog = make("dialog", "stand");
  const title = make("p", "stand-title");
  const under = make("p", "stand-under");
  const said = make("p", "vh");
  const sheet = make("div", "stand-sheet");
  const back = button("stand-back", "", () => turn(-1));
  const on = button("stand-on", "", () => turn(1));
  const place = make("span", "stand-place");
  const warning = make("span", "stand-note");
  const head = make("div", "stand-head");
  const foot = make("div", "stand-foot");
  const words = make("div", "stand-words");
  said.setAttribute("role", "status");
  sheet.tabIndex = -1;
  words.append(title, under);
  foot.append(place, warning);

  const panel = stand.makePanel({
    changed(name, value) {
      if (name === "shown") {
        shown = value;
        storage.write("stand", shown);
        at = 0;
        chosen = 0;
      }
      refresh(name === "shown");
      bringNarrow();
    },
  });
  head.append(button("stand-close", stavewrightSay("Close"), () => dialog.close()), words, panel.node);
  dialog.append(head, sheet, foot, back, on, said);

  const phone = () => matchMedia("(max-width: 40rem) and (orientation: portrait)").matches;

  // Lines for a phone may be wanted there, and wherever the player chose a size.
  const needsNarrow = () => phone() || panel.get("size") !== "fit";

  // Lays out anew when the page has them too.
  async function bringNarrow() {
    const { page, address } = current;
    if (!page || !needsNarrow() || stavewrightPhone.has(page)) return;
    await stavewrightPhone.bring(page, address);
    if (current.page === page && dialog.open) refresh();
  }

  function piecesShown() {
    const wanted = current.pieces.filter((piece) => list || shown === ALL || piece.label === shown);
    return wanted.length ? wanted : current.pieces;
  }

  // What to attend to stands before the first piece.
  function attention() {
    if (!current.attend.length) return null;
    return make("p", "stand-attend", current.attend.join("; ") + ".");
  }

  function layOut() {
    title.textContent = current.title;
    under.textContent = [current.note, current.tempo].filter(Boolean).join(" · ");
    panel.show(current, list ? [] : labels(), shown);
    laidOutFor = sizeNow();
    if (current.words) pages = [[wordsPage()]];
    else pages = stand.layOut(sheet, piecesShown(), panel.get("size"), phone(), attention());
  }

  // What a block of words shows: its title, and each of its sentences on a line.
  function wordsPage() {
    const page = make("div", "stand-over");
    page.append(make("h2", "", current.title), ...current.words.map((words) => make("p", "", words)));
    return page;
  }

  const sizeNow = () => `${sheet.clientWidth} ${sheet.clientHeight}`;

  const labels = () => current.inKey ? [...new Set(current.pieces.map((piece) => piece.label))] : [];

  // Where a turn leads beyond the first or the last page: a block, or null.
  function way(by) {
    if (!list) return by > 0 ? current.after : current.before;
    return list.blocks[list.at + by] || null;
  }

  function show() {
    at = Math.max(0, Math.min(at, pages.length - 1));
    sheet.replaceChildren(...(over ? [make("p", "stand-over", stavewrightSay("That was all."))] : pages[at] || []));
    sheet.scrollTop = 0;
    const count = over || pages.length < 2 ? "" : stavewrightSay("{page} of {count}", { page: at + 1, count: pages.length });
    place.textContent = count;
    const text = over ? stavewrightSay("That was all.") : current.title + (count && stavewrightSay(", page {page}", { page: count }));
    if (said.textContent !== text) said.textContent = text;
    const say = (target, mark, last, next, plain) => {
      const to = last ? (next ? next.title : "") : plain;
      target.disabled = last && !next;
      target.replaceChildren(make("span", "", mark), make("span", "stand-to", to));
      target.setAttribute("aria-label", last ? (next ? stavewrightSay("To {title}", next) : stavewrightSay("No further page")) : plain);
    };
    const end = list && !over && list.onEnd && !way(1) ? { title: stavewrightSay("the end") } : null;
    say(back, "←", at === 0 && !over, way(-1), stavewrightSay("Back"));
    say(on, "→", at === pages.length - 1 || over, over ? null : way(1) || end, stavewrightSay("On"));
    markChosen();
  }

  // The piece that would be played: the one chosen, or the first on the page.
  function markChosen() {
    const here = new Set([...sheet.querySelectorAll(".stand-cell")].map((cell) => Number(cell.dataset.piece)));
    if (here.size && !here.has(chosen)) chosen = Math.min(...here);
    for (const cell of sheet.querySelectorAll(".stand-cell")) {
      const is = Number(cell.dataset.piece) === chosen, name = cell.querySelector(".stand-piece");
      if (name) name.setAttribute("aria-pressed", String(is));
      cell.classList.toggle("chosen", is && here.size > 1);
    }
  }

  // Lays out anew, as after a change of the window, and stays at the music.
  function refresh(fromStart = false) {
    const cell = (pages[at] || []).map((row) => row.querySelector(".stand-cell")).find(Boolean);
    const number = cell ? cell.dataset.piece : "0";
    // A piece may go on over several pages: the same part of it is shown again.
    const cells = cellsOf(number), share = Math.max(0, cells.indexOf(cell)) / Math.max(1, cells.length);
    layOut();
    const now = cellsOf(number), shownNow = now[Math.floor(share * now.length)] || null;
    at = fromStart ? 0 : Math.max(0, pages.findIndex((page) => page.some((row) => row.contains(shownNow))));
    show();
  }

  const cellsOf = (number) => pages.flat().flatMap((row) => [...row.querySelectorAll(`.stand-cell[data-piece="${number}"]`)]);

  function bringGlyphs(found) {
    if (!found) return;
    const brought = document.importNode(found, true);
    for (const glyph of brought.querySelectorAll("defs > [id]")) {
      if (document.getElementById(glyph.id)) glyph.remove();
      // A marker needs its glyph even where the page has that glyph by itself.
      else for (const inner of glyph.querySelectorAll("[id]")) if (document.getElementById(inner.id)) inner.removeAttribute("id");
    }
    dialog.append(brought);
  }

  // -- what is played --------------------------------------------------------------------------------------

  const rowsOf = (number) => pages.flat().filter((row) => row.querySelector(`.stand-cell[data-piece="${number}"]`));
  const drawingsOf = (number) => rowsOf(number).flatMap((row) => [...row.querySelectorAll(`.stand-cell[data-piece="${number}"] svg.ink`)]);

  function go(page) {
    if (page < 0 || page === at || page >= pages.length) return;
    at = page;
    show();
  }

  // The page that shows a head of a piece.
  function pageOf(number, head) {
    const showing = drawingsOf(number).find((svg) => stand.hasHead(svg, head));
    return pages.findIndex((page) => page.some((row) => row.contains(showing || null)));
  }

  function targetOf(number) {
    const piece = piecesShown()[number];
    if (!piece || !piece.play) return null;
    const block = current, inTime = panel.get("turns") === "time";
    return {
      key: `${block.address}#${piece.id}`,
      piece: sound.readPlay(piece.play),
      exercise: piece.exercise,
      button: null,
      drawings: () => (current === block && piecesShown()[number] === piece ? drawingsOf(number) : []),
      isOnPage: false,
      isSilent: inTime,
      coming(head) { if (current === block) go(pageOf(number, head)); },
      next: inTime ? () => playNext(number) : null,
    };
  }

  // In time, each piece is followed by the next, and each block by the next.
  async function playNext(number) {
    let next = number + 1;
    if (next >= piecesShown().length) {
      go(pages.length - 1);
      await turn(1);
      next = 0;
    }
    if (over || !dialog.open) return null;
    chosen = next;
    const first = rowsOf(next)[0];
    go(pages.findIndex((page) => page.includes(first)));
    markChosen();
    return targetOf(next);
  }

  const stage = {
    target() {
      const target = targetOf(chosen);
      if (target) go(pages.findIndex((page) => page.includes(rowsOf(chosen)[0])));
      return target;
    },
    targetOf(svg) {
      const cell = svg.closest(".stand-cell");
      return cell ? targetOf(Number(cell.dataset.piece)) : null;
    },
  };

  // -- going from block to block ---------------------------------------------------------------------------

  // Shows a block; `end` says to begin with its last page.
  async function showBlock(block, end) {
    if (block.words) {
      current = { ...block, note: block.note || "", tempo: "", attend: [], pieces: [] };
      // Nothing sounds in a pause.
      document.dispatchEvent(new CustomEvent("stavewright-paused"));
    } else {
      const page = await stand.fetchPage(block.address);
      if (needsNarrow()) await stavewrightPhone.bring(page, block.address);
      const found = stand.readPage(page, block.address, block.ids || []);
      current = { ...found, page, note: block.note || "", title: (list && block.title) || found.title };
      if (page !== document) bringGlyphs(current.glyphs);
      document.dispatchEvent(new CustomEvent("stavewright-turned", { detail: current.ground }));
    }
    over = false;
    chosen = 0;
    layOut();
    at = end ? pages.length - 1 : 0;
    show();
    const next = way(1);
    if (next && next.address && location.protocol.startsWith("http")) stand.fetchPage(next.address).catch(() => {});
  }

  // Files opened without a server cannot be fetched: the browser goes there, and the stand opens again.
  function goThere(block, end) {
    if (list) {
      storage.write("stand.set", JSON.stringify({ blocks: list.blocks, at: list.at, from: list.from }));
      location.href = stand.withoutAnchor(block.address) + SET;
    } else {
      location.href = stand.withoutAnchor(block.address) + (end ? "#stand-end" : "#stand");
    }
  }

  async function turn(by) {
    if (turning) return;
    if (over) {
      if (by > 0) return;
      over = false;
      return show();
    }
    const next = at + by;
    if (next >= 0 && next < pages.length) {
      at = next;
      return show();
    }
    const block = way(by);
    if (!block) {
      if (!list || by < 0 || !list.onEnd) return;
      over = true;
      list.onEnd();
      return show();
    }
    if (list) list.at += by;
    await goOn(block, by < 0);
  }

  // Brings a block to the front, that of the list which is at its place now.
  async function goOn(block, end) {
    turning = true;
    try {
      await showBlock(block, end);
      if (list) list.onBlock?.(list.at, block);
    } catch {
      goThere(block, end);
    } finally {
      turning = false;
    }
  }

  // Goes to a block of the list by its number.
  function goTo(number) {
    if (turning || !list?.blocks[number]) return;
    list.at = number;
    goOn(list.blocks[number], false);
  }

  // -- opening and closing ---------------------------------------------------------------------------------

  async function keepAwake() {
    if (!dialog.open || document.visibilityState !== "visible") return;
    try {
      awake = await navigator.wakeLock.request("screen");
      warning.textContent = "";
    } catch {
      warning.textContent = stavewrightSay("This browser may let the screen go dark.");
    }
  }

  async function open(block, end = false) {
    // The whole screen first: what opens after it lies above it.
    // A browser refuses it, and complains, where nothing on this page was touched yet.
    try {
      if (navigator.userActivation?.isActive !== false) await document.documentElement.requestFullscreen({ navigationUI: "hide" });
    } catch { /* the window will do */ }
    if (dialog.open) return;
    document.body.append(dialog);
    dialog.setAttribute("aria-label", stavewrightSay("The stand"));
    dialog.showModal();
    sound?.setStage?.(stage);
    sheet.focus();
    keepAwake();
    try {
      await showBlock(block, end);
      if (list) list.onBlock?.(list.at, block);
    } catch {
      goThere(block, end);
    }
  }

  const here = () => ({ address: location.href, ids: [], title: "", note: "" });

  // Puts blocks on the stand, in order, and opens it. DEVELOPERS.md, "The stand", says what a block is, and what
  // the caller hears.
  function putOnStand(blocks, { at: first = 0, onBlock = null, onEnd = null, onClose = null } = {}) {
    if (!blocks.length) return null;
    const found = blocks.map((block) => ({ ...block, address: block.words ? "" : new URL(block.address, location.href).href }));
    list = { blocks: found, at: first, from: stand.withoutAnchor(location.href), onBlock, onEnd, onClose };
    open(found[first]);
    return {
      say(note) {
        if (!current) return;
        current.note = note;
        under.textContent = [note, current.tempo].filter(Boolean).join(" · ");
      },
      goTo,
      close: () => dialog.close(),
    };
  }

  function openSet() {
    try {
      const set = JSON.parse(storage.read("stand.set"));
      list = { ...set, onBlock: null, onEnd: () => {}, onClose: null };
      return open(set.blocks[set.at]);
    } catch {
      return undefined;
    }
  }

  dialog.addEventListener("close", () => {
    sound?.setStage?.(null);
    if (awake) awake.release().catch(() => {});
    awake = null;
    if (document.fullscreenElement) document.exitFullscreen().catch(() => {});
    const ended = list, there = list ? list.from : current && current.address;
    list = null;
    ended?.onClose?.();
    if (there && there !== stand.withoutAnchor(location.href)) location.href = there;
    else if (location.hash.startsWith("#stand")) history.replaceState(null, "", "#");
    else tellOwnGround();
  });

  // The page that is open has its own key again.
  function tellOwnGround() {
    const own = document.querySelector("[data-sound]");
    if (own) document.dispatchEvent(new CustomEvent("stavewright-turned", { detail: own.dataset.ground }));
  }

  stand.listenToSwipes([sheet, back, on], turn);
  stand.listenToKeys(dialog, turn, (by) => {
    if (!sound?.playOrStop || panel.get("pedal") !== (by > 0 ? "on" : "back")) return false;
    sound.playOrStop();
    return true;
  });
  stand.watchHands(dialog, sheet);
  sheet.addEventListener("click", ({ target }) => {
    const cell = target.closest(".stand-piece")?.closest(".stand-cell");
    if (!cell) return;
    chosen = Number(cell.dataset.piece);
    markChosen();
  });
  document.addEventListener("visibilitychange", keepAwake);
  let settling = 0;
  new ResizeObserver(() => {
    clearTimeout(settling);
    settling = setTimeout(() => {
      if (!dialog.open || !current || laidOutFor === sizeNow()) return;
      refresh();
      bringNarrow();
    }, 100);
  }).observe(sheet);

  if (typeof dialog.showModal !== "function") return;
  Object.assign(stand, { putOnStand });
  const own = document.querySelectorAll("[data-stand]");
  for (const mount of own) mount.append(button("", stavewrightSay("Put it on the stand"), () => open(here())));
  if (location.hash === SET) openSet();
  else if (own.length && location.hash.startsWith("#stand")) open(here(), location.hash === "#stand-end");
})((window.stavewrightStand = window.stavewrightStand || {}));
