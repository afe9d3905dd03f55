// What turns a page of the stand: keys as keyboards and pedals send them, and swipes.
"use strict";
(function (stand) {
  const KEYS = { ArrowRight: 1, ArrowDown: 1, PageDown: 1, " ": 1, ArrowLeft: -1, ArrowUp: -1, PageUp: -1 };
  const SWIPE = 48;

  // Whether a key works the control that has the focus, so that it may not turn: but a page key always turns.
  function isTaken(event) {
    if (event.key.startsWith("Page")) return false;
    if (event.key === " ") return Boolean(event.target.closest("button, input, select, summary, a"));
    return Boolean(event.target.closest("select, input:not([type=checkbox])"));
  }

  // `turn(by)` hears of every turn; `pedal(by)` says whether it used the key for something else.
  function listenToKeys(dialog, turn, pedal) {
    dialog.addEventListener("keydown", (event) => {
      if (event.altKey || event.ctrlKey || event.metaKey || event.repeat && event.key === " ") return;
      const by = KEYS[event.key] * (event.key === " " && event.shiftKey ? -1 : 1);
      if (!by || isTaken(event)) return;
      event.preventDefault();
      if (!pedal(by)) turn(by);
    });
  }

  // Swipes over `places` turn, and do nothing else: the click that may follow one is not a tap.
  function listenToSwipes(places, turn) {
    let begin = null, swiped = false;
    for (const place of places) {
      place.addEventListener("pointerdown", (event) => {
        swiped = false;
        begin = event.isPrimary && event.pointerType !== "mouse" ? { x: event.clientX, y: event.clientY } : null;
      });
      place.addEventListener("pointerup", (event) => {
        if (!begin) return;
        const [across, down] = [event.clientX - begin.x, event.clientY - begin.y];
        begin = null;
        if (Math.abs(across) < SWIPE || Math.abs(across) < 1.5 * Math.abs(down)) return;
        swiped = true;
        turn(across < 0 ? 1 : -1);
      });
      place.addEventListener("pointercancel", () => { begin = null; });
      place.addEventListener("click", (event) => {
        if (swiped) event.stopImmediatePropagation();
        swiped = false;
      }, true);
    }
  }

  // Tells whether the keyboard was used last: only then does a control keep the focus after it was used.
  function watchHands(dialog, home) {
    let keys = false;
    dialog.addEventListener("keydown", (event) => { keys = keys || event.key === "Tab"; }, true);
    dialog.addEventListener("pointerdown", () => { keys = false; }, true);
    const goHome = (event) => {
      if (!keys && event.target.closest("button, select, [type=checkbox], [type=radio], summary")) home.focus({ preventScroll: true });
    };
    dialog.addEventListener("click", (event) => { if (!event.target.closest("select")) goHome(event); });
    dialog.addEventListener("change", goHome);
  }

  Object.assign(stand, { listenToKeys, listenToSwipes, watchHands });
})((window.stavewrightStand = window.stavewrightStand || {}));
