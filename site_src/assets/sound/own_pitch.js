// The pitch that the player plays, in words and as a short trace on a straight scale.
"use strict";
(function (sound) {
  const EVERY = 100, TEXT_EVERY = 3, KEPT = 3, REST = 0.6;
  // Cents at either end of the scale, and of what counts as no difference: the measurement is not finer.
  const REACH = 50, NEAR = 2;
  // A screen reader hears of a tone that has lasted, now and then, and of no small change.
  const SETTLED = 1, SAY_EVERY = 4, SAY_FROM = 5;

  const side = (cents, above, below, near) => (Math.abs(cents) < NEAR + 0.5 ? near : cents > 0 ? above : below);

  // How an interval is called; 0 semitones have words of their own.
  function intervalWords(word, semitones) {
    const size = Math.abs(semitones);
    if (size <= 24) return word(`interval-${size}`);
    const octaves = Math.floor(size / 12), rest = size % 12;
    return rest ? word("with-octaves", { interval: word(`interval-${rest}`), octaves }) : word("octaves", { octaves });
  }

  // What is said of a pitch in hertz: { name, words, cents, place }, `place` the hertz from which cents are counted.
  // `over` is { hertz, just } of the drone, or null; `note(midi)` names a sounding note as it is written.
  function describe(word, hertz, over, a4, note) {
    if (over) {
      const { semitones, cents } = sound.nearestInterval(hertz, over.hertz, over.just);
      const place = semitones > 0 ? "over" : semitones < 0 ? "under" : "own";
      const kind = side(cents, `${place}-high`, `${place}-low`, `${place}-near`);
      const interval = semitones ? intervalWords(word, semitones) : "";
      const words = word(kind, { interval, cents: Math.round(Math.abs(cents)) });
      return { name: `drone ${semitones}`, words, cents, place: hertz / 2 ** (cents / 1200) };
    }
    const { midi, cents } = sound.nearestNote(hertz, a4);
    const words = word(side(cents, "note-above", "note-below", "note-near"), { note: note(midi), cents: Math.round(Math.abs(cents)) });
    return { name: `note ${midi}`, words, cents, place: hertz / 2 ** (cents / 1200) };
  }

  // Decides what a screen reader hears: `hear(found, now)` gives words, or "" where nothing is to be said.
  function reader() {
    let name = "", since = 0, at = -Infinity, said = { name: "", cents: 0 };
    return {
      hear(found, now) {
        if (!found) { name = ""; return ""; }
        if (found.name !== name) [name, since] = [found.name, now];
        const isNew = said.name !== name || Math.abs(said.cents - found.cents) >= SAY_FROM;
        if (!isNew || now - since < SETTLED || now - at < SAY_EVERY) return "";
        [said, at] = [found, now];
        return found.words;
      },
    };
  }

  function scale(node) {
    const svg = node.querySelector("svg"), namespace = "http://www.w3.org/2000/svg";
    const make = (name, kind) => {
      const made = document.createElementNS(namespace, name);
      made.setAttribute("class", kind);
      svg.append(made);
      return made;
    };
    const ruler = make("path", "pitch-ruler"), trace = make("path", "pitch-trace"), mark = make("ellipse", "pitch-mark");
    for (const [name, value] of [["rx", 5], ["ry", 3.6]]) mark.setAttribute(name, value);
    const still = matchMedia("(prefers-reduced-motion: reduce)");
    let width = 0;

    function rule(height) {
      if (width === svg.clientWidth) return;
      width = svg.clientWidth;
      svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
      let path = `M${across(-REACH)} ${height - 11}H${across(REACH)}`;
      for (let cents = -REACH; cents <= REACH; cents += 10) path += `M${across(cents)} ${height - 11}v${cents ? (cents % 50 ? 4 : 7) : 11}`;
      ruler.setAttribute("d", path);
    }

    const across = (cents) => (width / 2 + (Math.max(-REACH, Math.min(REACH, cents)) / REACH) * (width / 2 - 6)).toFixed(1);

    // `past` are [seconds ago, cents], oldest first; `cents` is where the mark stands, or null.
    return (past, cents) => {
      const height = svg.clientHeight, foot = height - 11;
      rule(height);
      const shown = still.matches ? [] : past;
      trace.setAttribute("d", shown.map(([ago, place], at) => `${at ? "L" : "M"}${across(place)} ${(foot - 4 - (ago / KEPT) * (foot - 6)).toFixed(1)}`).join(""));
      const place = `${across(cents || 0)} ${foot - 4}`;
      mark.setAttribute("transform", `translate(${place}) rotate(-20)`);
      mark.classList.toggle("shown", cents !== null);
    };
  }

  // `own` has the controls and words of parts/own_playing.html, `player` what desk.js lends.
  function ownPitch(own, player, microphone) {
    const strip = own.section.querySelector(".pitch"), status = strip.querySelector("[role=status]");
    const text = strip.querySelector(".pitch-words"), draw = scale(strip.querySelector(".pitch-scale"));
    let source = null, timer = 0, turn = 0, count = 0, readings = [], hears = reader();
    // The drone has been heard by the microphone, and since when it has not.
    let leaks = false, quiet = 0;

    function write(words, aloud) {
      if (text.textContent !== words) text.textContent = words;
      if (aloud && status.textContent !== aloud) status.textContent = aloud;
    }

    function say(name) {
      const words = own.word(name);
      draw([], null);
      hears.hear(null);
      write(words, name === "listening" ? "" : words);
    }

    function read(analyser, samples) {
      const now = player.context.currentTime, { drone, isPlaying } = player.sounds();
      if ((drone || isPlaying) && !own.key("headphones").checked) {
        readings = [];
        return say("headphones");
      }
      analyser.getFloatTimeDomainData(samples);
      const found = sound.pitchOf(samples, player.context.sampleRate);
      readings = readings.filter(({ at }) => now - at < KEPT);
      if (found) readings.push({ at: now, hertz: found.hertz });
      if (found) quiet = now;
      if (!drone || now - quiet > REST) leaks = false;
      if (drone && sound.hearsDrone(readings, now, drone.notes)) leaks = true;
      if (leaks) return say("hears-drone");
      return tell(now, drone);
    }

    function tell(now, drone) {
      const hertz = sound.meanPitch(readings, now);
      count += 1;
      if (hertz === null) {
        if (count % TEXT_EVERY === 0) say("listening");
        return;
      }
      const found = describe(own.word, hertz, drone, player.a4, player.nameOf);
      if (count % TEXT_EVERY === 0) write(found.words, hears.hear(found, now));
      const past = readings.map((each) => [now - each.at, 1200 * Math.log2(each.hertz / found.place)]);
      draw(past.filter(([, cents]) => Math.abs(cents) <= REACH), found.cents);
    }

    async function start() {
      const mine = (turn += 1), byKeyboard = own.key("pitch").matches(":focus-visible");
      const opened = (await player.ready()) ? await microphone.open("pitch") : null;
      if (mine !== turn) return;
      own.refuse(opened?.refusal || "");
      if (!opened?.stream) return;
      const { context } = player;
      try {
        source = context.createMediaStreamSource(opened.stream);
      } catch {
        microphone.close("pitch");
        own.refuse("unable");
        return;
      }
      const analyser = new AnalyserNode(context, { fftSize: sound.windowOf(context.sampleRate) });
      const samples = new Float32Array(analyser.fftSize);
      source.connect(analyser);
      [readings, leaks, hears] = [[], false, reader()];
      own.raise("pitch", true);
      own.key("pitch").textContent = own.word("hide");
      say("listening");
      player.close();
      if (byKeyboard) own.key("hide").focus({ preventScroll: true });
      timer = setInterval(() => read(analyser, samples), EVERY);
    }

    function stop() {
      turn += 1;
      clearInterval(timer);
      microphone.close("pitch");
      source?.disconnect();
      source = null;
      const isLeft = Boolean(strip.querySelector(":focus-visible"));
      own.raise("pitch", false);
      if (isLeft) own.section.focus({ preventScroll: true });
      own.key("pitch").textContent = own.word("show");
      status.textContent = "";
    }

    own.key("pitch").addEventListener("click", () => (source ? stop() : start()));
    own.key("hide").addEventListener("click", stop);
    return { stop };
  }

  Object.assign(sound, { ownPitch, describePitch: describe, pitchReader: reader });
})((window.stavewrightSound = window.stavewrightSound || {}));
