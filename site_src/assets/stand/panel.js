// What a player chooses on the stand: what is shown, its size, what the page keys do, the paper. Kept on the device.
"use strict";
(function (stand) {
  const { make } = stand;
  const storage = stavewrightStorage;
  const CHOICES = {
    size: [stavewrightSay("Size of the music"), { fit: stavewrightSay("as wide as fits"), small: stavewrightSay("small"), medium: stavewrightSay("medium"), large: stavewrightSay("large"), largest: stavewrightSay("largest") }],
    turns: [stavewrightSay("Pages turn"), { hand: stavewrightSay("by hand"), time: stavewrightSay("in time, after Play") }],
    pedal: [stavewrightSay("Page keys"), { turn: stavewrightSay("turn on and back"), back: stavewrightSay("back plays and stops"), on: stavewrightSay("on plays and stops") }],
    look: [stavewrightSay("Paper"), { device: stavewrightSay("as the device"), light: stavewrightSay("light"), dark: stavewrightSay("dark") }],
  };

  function select(name, options) {
    const made = make("select");
    made.name = name;
    made.replaceChildren(...Object.entries(options).map(([value, words]) => new Option(words, value)));
    return made;
  }

  function labelled(words, control) {
    const made = make("label", "", words + " ");
    made.append(control);
    return made;
  }

  // The panel behind the button "Page". `changed(name, value)` hears of a choice once it is kept.
  function makePanel({ changed }) {
    const node = make("details", "stand-panel"), inside = make("div", "stand-choices");
    const chooser = select("shown", {}), show = labelled(stavewrightSay("Show"), chooser), controls = {};
    const points = make("ul"), attend = make("section", "stand-points");
    node.append(make("summary", "", stavewrightSay("Page")), inside);
    inside.append(show);
    for (const [name, [words, options]] of Object.entries(CHOICES)) {
      controls[name] = select(name, options);
      const found = storage.read(name === "look" ? "look" : `stand.${name}`);
      if (found in options) controls[name].value = found;
      inside.append(labelled(words, controls[name]));
    }
    attend.append(make("h2", "", stavewrightSay("Focus points")), points);
    inside.append(attend);
    node.addEventListener("change", ({ target }) => {
      if (target.name === "look") document.querySelector(`[data-look-choice] [value="${target.value}"]`)?.click();
      else if (target.name !== "shown") storage.write(`stand.${target.name}`, target.value);
      changed(target.name, target.value);
    });
    // Escape closes the panel first, and the stand after it; a touch elsewhere closes it, and does nothing else.
    document.addEventListener("keydown", (event) => {
      if (event.key !== "Escape" || !node.open) return;
      event.preventDefault();
      event.stopImmediatePropagation();
      node.open = false;
    }, true);
    document.addEventListener("pointerdown", ({ target }) => {
      if (!node.open || node.contains(target)) return;
      node.open = false;
      if (!target.closest(".stand-sheet, .stand-back, .stand-on")) return;
      const swallow = (event) => event.stopImmediatePropagation();
      document.addEventListener("click", swallow, { capture: true, once: true });
      setTimeout(() => document.removeEventListener("click", swallow, true), 700);
    });
    return {
      node,
      get: (name) => controls[name].value,
      // Offers the variations of a block, and says what to attend to in it.
      show(block, labels, shown) {
        show.hidden = labels.length < 2;
        chooser.replaceChildren(new Option(stavewrightSay("everything"), ""), ...labels.map((label) => new Option(label, label)));
        chooser.value = labels.includes(shown) ? shown : "";
        controls.look.value = document.documentElement.dataset.look || "device";
        points.replaceChildren(...block.attend.map((point) => make("li", "", point)));
        attend.hidden = !block.attend.length;
      },
    };
  }

  Object.assign(stand, { makePanel });
})((window.stavewrightStand = window.stavewrightStand || {}));
