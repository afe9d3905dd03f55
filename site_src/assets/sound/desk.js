// The desk: its controls, what they start and stop, and the line that says what sounds.
"use strict";
(function (sound) {
  const SOON = 0.12, BEFORE_PLAYING = 0.5, TAIL = 0.4, WAITED = 2000;
  const NO_SOUND = "This browser cannot make sound for a page. The music is here to read, to play and to print.";
  const NOT_ALLOWED = "The browser does not let this page make sound now. Allow sound for this page in the browser, or see that another program does not hold the loudspeaker, and try again.";
  const NOT_KEPT = "This browser is not saving data: your settings are lost when you leave the page.";

  const GROUND = {
    exercise: "", a4: 440, sounds: 0, tonic: 0, tonicName: "C", drone: null, droneName: "",
    beat: "beat", low: 60, high: 72, units: 4, slower: 1,
  };

  function desk(details) {
    const form = details.querySelector("form");
    // Of the exercise's page, or of its key alone, or of neither.
    const given = JSON.parse(details.dataset.ground || "{}"), ground = { ...GROUND, ...given };
    const inKey = "tonic" in given;
    const fault = details.querySelector(".sound-fault");
    const tonic = sound.modulo(ground.tonic + ground.sounds, 12);

    fillNotes(form.elements.pitch, ground, inKey);
    ground.octave = Math.floor((ground.drone === null ? 48 + tonic : ground.drone + ground.sounds) / 12) - 1;
    const settings = sound.settings(form, ground);
    label(details, ground);

    let context = null, outs = null, droning = null, clicking = null, playing = null;
    const line = sound.nowLine(() => stopAll());
    const heard = () => context.currentTime - (context.outputLatency || context.baseLatency || 0);
    const times = sound.timeline(heard);

    // -- sound -----------------------------------------------------------------------------------------

    function complain(words) {
      details.open = true;
      fault.textContent = words;
      fault.hidden = false;
    }

    // Browsers let a page sound only after the player has touched it: so nothing is made before.
    async function ready() {
      if (!context) {
        if (navigator.audioSession) navigator.audioSession.type = "playback";
        context = new AudioContext({ latencyHint: "interactive" });
        const out = sound.output(context);
        outs = {};
        for (const name of ["drone", "pulse", "tone"]) {
          outs[name] = new GainNode(context, { gain: sound.level(settings.get(`${name}Level`)) });
          outs[name].connect(out);
        }
      }
      if (context.state !== "running") {
        const late = new Promise((resolve) => setTimeout(resolve, WAITED));
        await Promise.race([context.resume().catch(() => {}), late]);
      }
      fault.hidden = context.state === "running";
      if (context.state !== "running") complain(NOT_ALLOWED);
      return context.state === "running";
    }

    const tuning = () => ({ a4: settings.get("a4"), just: settings.get("intervals") === "just", tonic });

    function droneHertz() {
      const chosen = settings.get("pitch");
      let pitchClass = sound.modulo(Number(chosen) + ground.sounds, 12);
      if (chosen === "tonic") pitchClass = tonic;
      if (chosen === "drone") pitchClass = sound.modulo(ground.drone + ground.sounds, 12);
      return sound.hertz((settings.get("octave") + 1) * 12 + pitchClass, tuning());
    }

    function startDrone() {
      droning = sound.drone(context, outs.drone, droneHertz());
      tell();
    }

    function stopDrone() {
      if (droning) droning.stop();
      droning = null;
      tell();
    }

    const ladder = () => settings.get("ladder")
      ? { by: settings.get("by"), every: settings.get("every"), top: settings.get("top") } : null;

    function startPulse() {
      const wishes = () => ({
        tempo: settings.get("tempo"),
        beats: settings.get("beats"),
        parts: Number(settings.get("parts")),
        countIn: settings.get("countIn"),
        slower: ground.slower,
        ladder: ladder(),
      });
      const out = new GainNode(context);
      out.connect(outs.pulse);
      const player = sound.pulse(context, out, context.currentTime + SOON, wishes, say);
      const rest = sound.ahead(context, player);
      clicking = { stop() { rest(); out.disconnect(); times.clear(); } };
      tell();
    }

    function stopPulse() {
      if (clicking) clicking.stop();
      clicking = null;
      tell();
    }

    function startPlaying(figure, button) {
      stopPulse();
      const piece = JSON.parse(figure.querySelector("script[data-play]").textContent);
      const mark = sound.mark(figure), word = button.querySelector("span");
      const own = new GainNode(context), clicks = new GainNode(context);
      own.connect(outs.tone);
      clicks.connect(outs.pulse);
      // On a page of several exercises each has its own tempo: the player's last, or its slowest.
      const named = button.closest("[data-exercise]");
      const tempo = () => named ? settings.tempoOf(named.dataset.exercise, piece.tempos[0][1]) : settings.get("tempo");
      const wishes = () => ({
        tempo: tempo(),
        pulse: settings.get("withPulse"),
        parts: Number(settings.get("parts")),
        countIn: settings.get("countIn"),
        times: settings.get("times"),
        ladder: ladder(),
        tuning: tuning(),
      });
      const begin = context.currentTime + (settings.get("countIn") ? SOON : BEFORE_PLAYING);
      const ownDrone = settings.get("withDrone") && !droning;
      if (ownDrone) startDrone();
      const player = sound.playThrough(context, { tones: own, pulse: clicks }, piece, begin, wishes, (news) => {
        if ("head" in news) times.add(news.at, () => mark.move(news.head));
        else if (news.over) times.add(news.at + TAIL, () => stopPlaying());
        else say({ ...news, of: piece.beat });
      });
      const rest = sound.ahead(context, player);
      playing = {
        figure,
        stop() {
          rest();
          times.clear();
          mark.remove();
          // A tone cut off would click: it fades as a released one does.
          own.gain.setTargetAtTime(0, context.currentTime, 0.02);
          clicks.disconnect();
          setTimeout(() => { own.disconnect(); player.stop(); }, 300);
          word.textContent = "Play";
          if (ownDrone) stopDrone();
        },
      };
      word.textContent = "Stop";
      tell();
    }

    function stopPlaying() {
      const before = playing;
      playing = null;
      if (before) before.stop();
      tell();
    }

    function stopAll() {
      stopPlaying();
      stopPulse();
      stopDrone();
    }

    // -- words -----------------------------------------------------------------------------------------

    const say = (news) => times.add(news.at, () => line.count(news, news.of || ground.beat));

    function tell() {
      form.elements.drone.textContent = droning ? "Stop the drone" : "Start the drone";
      form.elements.pulse.textContent = clicking ? "Stop the metronome" : "Start the metronome";
      const parts = [];
      if (playing) parts.push("Playing through");
      if (droning) parts.push(`drone at ${droning.hertz.toFixed(1)} hertz`);
      if (clicking) parts.push("metronome");
      line.show(parts.join(", "));
    }

    // -- controls --------------------------------------------------------------------------------------

    settings.changed((name, stored) => {
      details.querySelector(".sound-kept").textContent = stored ? "" : NOT_KEPT;
      if (!context) return;
      for (const voice of ["drone", "pulse", "tone"]) {
        if (name === `${voice}Level`) {
          outs[voice].gain.setTargetAtTime(sound.level(settings.get(name)), context.currentTime, 0.05);
        }
      }
      if (droning && ["pitch", "octave", "a4", "intervals"].includes(name)) {
        droning.stop();
        startDrone();
      }
    });

    form.elements.drone.addEventListener("click", async ({ target }) => {
      line.from(target);
      if (droning) stopDrone();
      else if (await ready()) startDrone();
    });
    form.elements.pulse.addEventListener("click", async ({ target }) => {
      line.from(target);
      if (clicking) return stopPulse();
      if (!(await ready())) return undefined;
      stopPlaying();
      return startPulse();
    });
    for (const button of document.querySelectorAll("button[data-play-button]")) {
      button.addEventListener("click", async () => {
        line.from(button);
        const figure = button.closest("figure"), again = playing && playing.figure === figure;
        if (playing) stopPlaying();
        if (!again && (await ready())) startPlaying(figure, button);
      });
    }
    details.open = settings.open;
    details.addEventListener("toggle", () => settings.setOpen(details.open));
    addEventListener("pagehide", stopAll);
  }

  // Notes by their written names; where the instrument transposes, with the name of what sounds.
  function fillNotes(select, ground, inKey) {
    const option = (value, words) => select.append(new Option(words, value));
    if (ground.drone !== null) option("drone", `as written, ${ground.droneName}`);
    option("tonic", inKey ? `the keynote, ${ground.tonicName}` : "C");
    sound.NAMES.forEach((name, pitchClass) => {
      const sounding = sound.NAMES[sound.modulo(pitchClass + ground.sounds, 12)];
      if (inKey || pitchClass > 0) option(pitchClass, ground.sounds % 12 ? `${name} (sounds ${sounding})` : name);
    });
  }

  function label(details, ground) {
    const beats = ground.beat.replace(/half$/, "halve") + "s";
    details.querySelector("[data-beat]").textContent = beats[0].toUpperCase() + beats.slice(1);
    const asked = ground.low === ground.high ? `${ground.low}` : `${ground.low} to ${ground.high}`;
    if (ground.exercise) details.querySelector("#sound-range").textContent = `the exercise asks for ${asked}`;
    const pieces = document.querySelector("button[data-play-button]");
    details.querySelector("[data-pieces]").hidden = !pieces;
  }

  // The line at the foot of the page while anything sounds, with the one way to stop it all.
  function nowLine(stop) {
    const line = document.createElement("div"), words = document.createElement("p");
    const count = document.createElement("p"), button = document.createElement("button");
    let back = null;
    line.className = "sound-now";
    // Always in the page, so that what is written into it is read out.
    words.className = "sound-words";
    words.setAttribute("role", "status");
    count.setAttribute("aria-hidden", "true");
    button.type = "button";
    button.textContent = "Stop all sound";
    button.hidden = true;
    button.addEventListener("click", () => {
      stop();
      if (back) back.focus({ preventScroll: true });
    });
    line.append(words, count, button);
    // Outside an open dialog nothing can be reached: the line goes where the player is.
    const move = () => {
      const home = document.querySelector("dialog[open]") || document.body;
      if (line.parentNode !== home) home.append(line);
    };
    new MutationObserver(move).observe(document.body, { subtree: true, attributeFilter: ["open"] });
    move();
    return {
      // The control that the keyboard goes back to when the line goes.
      from(control) { back = control; },
      show(text) {
        button.hidden = !text;
        document.documentElement.classList.toggle("sounding-now", Boolean(text));
        words.textContent = text && text[0].toUpperCase() + text.slice(1);
        if (!text) count.textContent = "";
      },
      count(news, beat) {
        const place = news.beat ? `, beat ${news.beat}` : "";
        const bar = news.bar ? `bar ${news.bar}` : "pick-up";
        count.textContent = news.counting ? `Counting in: ${news.beat}`
          : `${beat} = ${Math.round(news.tempo)}, ${bar}${place}`;
      },
    };
  }

  Object.assign(sound, { nowLine });

  for (const details of document.querySelectorAll("[data-sound]")) {
    if (window.AudioContext && window.DynamicsCompressorNode && window.OscillatorNode) {
      desk(details);
    } else {
      document.documentElement.classList.add("soundless");
      const words = document.createElement("p");
      words.className = "sound-fault";
      words.textContent = NO_SOUND;
      details.replaceWith(words);
    }
  }
})((window.stavewrightSound = window.stavewrightSound || {}));
