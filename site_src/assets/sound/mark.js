// The mark that goes along the engraved notes, by the audio clock.
"use strict";
(function (sound) {
  const SVG = "http://www.w3.org/2000/svg";

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

  // The head of a number in a drawing: the glyph that carries it, or else the place listed beside.
  const glyph = (svg, head) => svg.querySelector(`[data-n="${head}"]`);

  function middle(svg, head) {
    const found = glyph(svg, head);
    if (found) {
      const box = found.getBoundingClientRect();
      const place = new DOMPoint(box.x + box.width / 2, box.y + box.height / 2);
      return place.matrixTransform(svg.getScreenCTM().inverse());
    }
    const listed = (svg.dataset.heads || "").split(" ")[head];
    if (!listed) return null;
    const [x, y] = listed.split(",").map(Number);
    return { x, y };
  }

  // A mark for a figure's drawings, of which one may be for wide screens and another for narrow ones.
  function mark(figure) {
    const drawings = [...figure.querySelectorAll("svg.ink")];
    const marks = drawings.map((svg) => {
      const node = document.createElementNS(SVG, "ellipse");
      node.setAttribute("class", "sound-mark");
      node.setAttribute("rx", "7.5");
      node.setAttribute("ry", "7.5");
      svg.prepend(node);
      return node;
    });
    let below = -1;
    const unmark = () => figure.querySelectorAll(".sounding").forEach((head) => head.classList.remove("sounding"));

    function show(svg, node, head) {
      const place = head === null || !svg.getClientRects().length ? null : middle(svg, head);
      node.classList.toggle("shown", place !== null);
      if (!place) return;
      const found = glyph(svg, head);
      if (found) found.classList.add("sounding");
      node.style.transform = `translate(${place.x.toFixed(2)}px, ${place.y.toFixed(2)}px)`;
      node.dataset.head = head;
      follow(node, place.y);
    }

    // When the music goes on out of sight, the page follows it.
    function follow(node, height) {
      if (Math.abs(height - below) < 40) return;
      below = height;
      const box = node.getBoundingClientRect();
      if (box.top > 60 && box.bottom < innerHeight - 120) return;
      const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
      node.scrollIntoView({ block: "center", behavior: still ? "instant" : "smooth" });
    }

    return {
      move(head) {
        unmark();
        drawings.forEach((svg, place) => show(svg, marks[place], head));
      },
      remove() {
        unmark();
        marks.forEach((node) => node.remove());
      },
    };
  }

  Object.assign(sound, { timeline, mark });
})((window.stavewrightSound = window.stavewrightSound || {}));
