// The bar at the foot of a page and of the stand: what it shows, its taps of the tempo, and where it stands.
"use strict";
(function (sound) {
  const HELD = 450, AGAIN = 90, TAPS = 6, TOO_LONG = 2500;

  // Beats a minute from the moments of taps, in milliseconds; null for fewer than two in time. A longer wait
  // begins anew. The median, so that one uneven tap is no matter.
  function tempoOfTaps(moments) {
    const begin = moments.findLastIndex((moment, place) => place === 0 || moment - moments[place - 1] > TOO_LONG);
    const some = moments.slice(Math.max(begin, moments.length - TAPS));
    if (some.length < 2) return null;
    const gaps = some.slice(1).map((moment, place) => moment - some[place]).sort((one, other) => one - other);
    const half = gaps.length >> 1;
    return Math.round(60000 / (gaps.length % 2 ? gaps[half] : (gaps[half - 1] + gaps[half]) / 2));
  }

  // A step at each press, and more while it is held.
  function onSteps(button, step) {
    let timer = 0, held = false;
    const stop = () => { clearTimeout(timer); clearInterval(timer); };
    button.addEventListener("pointerdown", () => {
      held = false;
      timer = setTimeout(() => {
        held = true;
        timer = setInterval(step, AGAIN);
      }, HELD);
    });
    for (const kind of ["pointerup", "pointerleave", "pointercancel"]) button.addEventListener(kind, stop);
    button.addEventListener("contextmenu", (event) => event.preventDefault());
    button.addEventListener("click", () => {
      if (!held) step();
      held = false;
    });
  }

  // The bar of a section. `acts` has what its keys do: `play`, `drone`, `pulse`, `stop`, `tempo(beats)`,
  // `step(by)` for the tempo and `volume(by)`.
  function bar(section, acts) {
    const key = (name) => section.querySelector(`[data-bar=${name}]`);
    const sign = (name) => key(name).querySelector(".sign"), word = (name) => key(name).querySelector(".word");
    const words = section.querySelector(".sound-words"), count = section.querySelector(".sound-count");
    const details = section.querySelector("details");
    let back = null, sounding = "", notice = "", forget = 0;
    const taps = [];

    for (const name of ["play", "drone", "pulse"]) {
      key(name).addEventListener("click", () => {
        back = key(name);
        acts[name]();
      });
    }
    key("stop").addEventListener("click", () => {
      acts.stop();
      if (back) back.focus({ preventScroll: true });
    });
    // The moment of the touch, not of its end.
    const tap = (moment) => {
      taps.push(moment);
      taps.splice(0, taps.length - TAPS);
      const tempo = tempoOfTaps(taps);
      if (tempo) acts.tempo(tempo);
    };
    key("tap").addEventListener("pointerdown", (event) => tap(event.timeStamp));
    key("tap").addEventListener("click", (event) => { if (event.detail === 0) tap(event.timeStamp); });
    onSteps(key("slower"), () => acts.step(-1));
    onSteps(key("faster"), () => acts.step(1));
    onSteps(key("softer"), () => acts.volume(-1));
    onSteps(key("louder"), () => acts.volume(1));

    // Outside an open dialog nothing can be reached: the bar goes where the player is, and comes back.
    const home = document.createComment("the bar");
    section.before(home);
    const move = () => {
      const dialog = document.querySelector("dialog[open]");
      if (dialog && section.parentNode !== dialog) dialog.append(section);
      if (!dialog && home.nextSibling !== section) home.after(section);
    };
    new MutationObserver(move).observe(document.body, { subtree: true, attributeFilter: ["open"] });

    document.addEventListener("keydown", (event) => {
      if (event.key !== "Escape" || !details.open) return;
      event.preventDefault();
      event.stopImmediatePropagation();
      details.open = false;
      if (!document.activeElement.closest("summary")) details.querySelector("summary").focus();
    }, true);
    document.addEventListener("pointerdown", ({ target }) => { if (!section.contains(target)) details.open = false; });

    function write() {
      const text = notice || sounding;
      words.textContent = text && text[0].toUpperCase() + text.slice(1);
      key("stop").hidden = !sounding;
      section.classList.toggle("sounds", Boolean(text));
      if (!sounding) count.textContent = "";
    }

    return {
      // The control that the keyboard goes back to when all sound is stopped.
      from(control) { back = control; },
      close() { details.open = false; },
      // What sounds: { playing, drone, pulse, words }, and the written name of the drone's note.
      show(state, droneName) {
        sounding = state.words;
        sign("drone").textContent = droneName;
        sign("play").textContent = state.playing ? "■" : "▶";
        word("play").textContent = state.playing ? stavewrightSay("Stop") : stavewrightSay("Play");
        for (const name of ["drone", "pulse"]) key(name).setAttribute("aria-pressed", String(state[name]));
        key("play").classList.toggle("on", state.playing);
        write();
      },
      offerPlay(there) { key("play").hidden = !there; },
      tempo(beats) { sign("tap").textContent = Math.round(beats); },
      // Words that stand before what sounds: for a while, or until others come.
      say(text, stay = false) {
        clearTimeout(forget);
        notice = text;
        write();
        if (text && !stay) forget = setTimeout(() => { notice = ""; write(); }, 2500);
      },
      count(news, beat) {
        const place = news.beat ? stavewrightSay(", beat {beat}", { beat: news.beat }) : "";
        const where = news.bar ? stavewrightSay("bar {bar}", { bar: news.bar }) : stavewrightSay("pick-up");
        if (news.free) count.textContent = stavewrightSay("phrase {bar}", { bar: news.bar });
        else count.textContent = news.counting ? stavewrightSay("Counting in: {beat}", { beat: news.beat })
          : `${beat} = ${Math.round(news.tempo)}, ${where}${place}`;
      },
    };
  }

  Object.assign(sound, { bar, tempoOfTaps });
})((window.stavewrightSound = window.stavewrightSound || {}));
