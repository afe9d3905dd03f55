// The mark that goes along the engraved notes, by the audio clock.
"use strict";
(function (sound) {
  const SVG = "http://www.w3.org/2000/svg";
  const HANDS_OFF = 4000;

  // What is said of a time ahead is done when the ears have reached it. `now` gives the time that is heard.
  function timeline(now) {
    let due = [], frame = 0;
    const look = () => {
      const heard = now();
      const ready = due.filter(({ at }) => at <= heard);
      due = due.filter(({ at }) => at > heard);
      for (const { act } of ready.sort((one, other) => one.at - other.at)) act();
      frame = due.length ? requestAnimationFrame(look) : 0;
    };
    return {
      add(at, act) {
        due.push({ at, act });
        frame = frame || requestAnimationFrame(look);
      },
      clear() {
        cancelAnimationFrame(frame);
        frame = 0;
        due = [];
      },
    };
  }

  // When the player last moved the page by hand, and whether it moves by itself again: once the mark has been
  // in sight for a while after that, or at the next play-through.
  let touched = -Infinity, paused = false;
  const touch = () => { touched = performance.now(); paused = true; };
  for (const kind of ["wheel", "touchmove"]) addEventListener(kind, touch, { passive: true });
  addEventListener("keydown", ({ key }) => { if (/^(Page|Arrow|Home$|End$)/.test(key)) touch(); });

  const isBusy = () => Boolean(document.activeElement?.closest("input, select, details[open] *"));

  // The page follows the mark where the music goes on out of sight, unless the player's hand is at something.
  function followOnPage(node) {
    const box = node.getBoundingClientRect();
    const bar = document.querySelector(".bar"), foot = innerHeight - (bar ? bar.offsetHeight : 0);
    if (box.top > 60 && box.bottom < foot - 60) {
      if (performance.now() - touched > HANDS_OFF) paused = false;
      return;
    }
    if (paused || isBusy()) return;
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    node.scrollIntoView({ block: "center", behavior: still ? "instant" : "smooth" });
  }

  // A mark for what is played: `target.drawings()` are the drawings that show it now, of which one may be for
  // wide screens and another for narrow ones; `target.isOnPage` says whether the page is to follow. The heads of
  // `repeated` are coloured while it is played.
  function mark(target, repeated = []) {
    const nodes = new Map();
    let below = -1;
    paused = false;

    function nodeOf(svg) {
      if (!nodes.has(svg)) {
        const node = document.createElementNS(SVG, "ellipse");
        node.setAttribute("class", "sound-mark");
        node.setAttribute("rx", "7.5");
        node.setAttribute("ry", "7.5");
        svg.prepend(node);
        nodes.set(svg, node);
        for (const head of repeated) sound.copyHead(svg, head, "repeated");
      }
      return nodes.get(svg);
    }

    const unmark = () => nodes.forEach((_, svg) => svg.querySelectorAll(".sounding").forEach((head) => head.remove()));

    function show(svg, head) {
      const node = nodeOf(svg), place = head === null || !svg.getClientRects().length ? null : sound.middleOf(svg, head);
      node.classList.toggle("shown", place !== null);
      if (!place) return;
      sound.copyHead(svg, head, "sounding");
      node.style.transform = `translate(${place.x.toFixed(2)}px, ${place.y.toFixed(2)}px)`;
      node.dataset.head = head;
      if (!target.isOnPage || Math.abs(place.y - below) < 40) return;
      below = place.y;
      followOnPage(node);
    }

    return {
      move(head) {
        unmark();
        for (const svg of target.drawings()) show(svg, head);
      },
      remove() {
        unmark();
        nodes.forEach((node, svg) => {
          node.remove();
          svg.querySelectorAll(".repeated").forEach((head) => head.remove());
        });
      },
    };
  }

  Object.assign(sound, { timeline, mark });
})((window.stavewrightSound = window.stavewrightSound || {}));
