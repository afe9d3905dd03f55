// Places in the music that a finger shows: the note to begin at, the bars to repeat.
"use strict";
(function (sound) {
  // A tap this many pixels from a note means it.
  const NEAR = 24;
  // About half a head's width, in points of the drawing.
  const HALF_A_HEAD = 4;

  // The head of a drawing that lies nearest to a place on the screen, as { head, distance } in pixels; null
  // where it has none.
  function nearestHead(svg, x, y) {
    const matrix = svg.getScreenCTM(), place = new DOMPoint(x, y).matrixTransform(matrix.inverse());
    const [, top, , height] = svg.getAttribute("viewBox").split(" ").map(Number);
    let best = null;
    for (const [head, found] of sound.headsIn(svg)) {
      if (found.node) continue;
      const across = found.x + (found.isMiddle ? 0 : HALF_A_HEAD), down = found.y;
      if (down < top || down > top + height) continue;
      const distance = Math.hypot(across - place.x, down - place.y) * matrix.a;
      if (!best || distance < best.distance) best = { head, distance };
    }
    return best;
  }

  // The tone of a head: the first time it is heard; for a head that a tie carries on, where its tone began.
  function toneOf(piece, head) {
    const at = piece.tones.findIndex((row) => row[3] === head);
    if (at < 0) return null;
    let begin = at;
    while (begin > 0 && !piece.tones[begin][4]) begin -= 1;
    return piece.tones[begin];
  }

  const barAt = (piece, tick) => piece.bars.findLastIndex((bar) => bar[0] <= tick);

  // Musicians count from the first full bar: a pick-up is bar 0.
  const numberOf = (piece, bar) => bar + (piece.bars[0][2] ? 0 : 1);

  // Bars from one index to another, either way round, as a part that `playThrough` repeats.
  function barsOf(piece, one, other) {
    const last = piece.bars.length - 1, within = (bar) => Math.max(0, Math.min(last, bar));
    const [first, until] = [within(Math.min(one, other)), within(Math.max(one, other))];
    return { from: piece.bars[first][0], lastBar: until, again: true, words: stavewrightSay("bars {first} to {last}", { first: numberOf(piece, first), last: numberOf(piece, until) }) };
  }

  // The heads that are heard in a part.
  function headsOf(piece, part) {
    const [start, length] = piece.bars[part.lastBar];
    return [...new Set(piece.tones.filter((row) => row[0] >= part.from && row[0] < start + length).map((row) => row[3]))];
  }

  // Hears taps on music. `targetOf(svg)` gives what is played there or null, `begin(target, part)` plays a part of
  // it, `say(words)` tells the player what to tap ("" when that is over). A tap on a note of the page begins there;
  // `pick("note")` and `pick("bars")` ask for taps that mean nothing else, on the stand too.
  function taps({ targetOf, begin, say }) {
    let mode = "", first = null;

    function set(to, words = "") {
      mode = to;
      first = to ? first : null;
      document.documentElement.classList.toggle("picking", Boolean(to));
      say(words);
    }

    document.addEventListener("click", (event) => {
      const svg = event.target.closest?.("svg.ink"), target = svg && targetOf(svg);
      if (!target || (!mode && !target.isOnPage)) return;
      const near = nearestHead(svg, event.clientX, event.clientY);
      if (!near || (!mode && near.distance > NEAR)) return;
      const tone = toneOf(target.piece, near.head);
      if (!tone) return;
      if (mode !== "bars") {
        set("");
        begin(target, { from: tone[0] });
        return;
      }
      const bar = barAt(target.piece, tone[0]);
      if (!first || first.target.key !== target.key) {
        first = { target, bar };
        set("bars", stavewrightSay("From bar {bar}. Tap the last bar to repeat.", { bar: numberOf(target.piece, bar) }));
        return;
      }
      const part = barsOf(target.piece, first.bar, bar);
      set("");
      begin(target, part);
    });
    document.addEventListener("keydown", (event) => {
      if (event.key !== "Escape" || !mode) return;
      event.preventDefault();
      set("");
    });
    return {
      pick(to) {
        first = null;
        set(to, to === "bars" ? stavewrightSay("Tap the first bar to repeat.") : stavewrightSay("Tap the note to begin at."));
      },
    };
  }

  Object.assign(sound, { taps, barsOf, headsOf, numberOf });
})((window.stavewrightSound = window.stavewrightSound || {}));
