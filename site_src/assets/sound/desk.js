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

  // The notes of a drone, as ratios to its lowest: pure in every intonation, so that it does not beat by itself.
  const CHORDS = { alone: [1], fifth: [1, 3 / 2], octave: [1, 2], both: [1, 3 / 2, 2] };
  const CHORD_WORDS = { alone: "", fifth: " with its fifth", octave: " with its octave", both: " with fifth and octave" };

  // What the page says of an exercise, or of its key alone, or of neither; and the octave of its drone.
  function readGround(words) {
    const given = JSON.parse(words || "{}"), ground = { ...GROUND, ...given, inKey: "tonic" in given };
    const tonic = sound.modulo(ground.tonic + ground.sounds, 12);
    ground.octave = Math.floor((ground.drone === null ? 48 + tonic : ground.drone + ground.sounds) / 12) - 1;
    return ground;
  }

  function desk(details) {
    const form = details.querySelector("form");
    const fault = details.querySelector(".sound-fault");
    let ground = readGround(details.dataset.ground);

    fillNotes(form.elements.pitch, ground);
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

    // How notes are tuned. `written` is the drone of the piece that plays (`drone` of its JSON), or null.
    function tuning(written = null) {
      const wish = settings.get("intonation"), over = written !== null || ground.drone !== null;
      const tonic = sound.modulo(ground.tonic + ground.sounds, 12);
      return { a4: settings.get("a4"), just: wish === "just" || (wish === "written" && over), tonic };
    }

    // The note of the drone: its sounding MIDI number, and its written name with what sounds.
    function droneNote(written) {
      const chosen = settings.get("pitch");
      let midi, name;
      // On a page of several exercises each has its own drone for the keynote.
      if (written && ground.drone === null && chosen === "tonic") {
        midi = written[0] + ground.sounds;
        name = written[1];
      } else {
        const drone = ground.droneName.replace(/ ?-?\d+$/, "");
        const named = { tonic: [ground.tonic, ground.tonicName], drone: [ground.drone, drone] };
        const [place, letter] = named[chosen] || [Number(chosen), sound.NAMES[chosen]];
        midi = (settings.get("octave") + 1) * 12 + sound.modulo(place + ground.sounds, 12);
        name = sound.noteName(letter, midi - ground.sounds);
      }
      const sounding = sound.noteName(sound.NAMES[sound.modulo(midi, 12)], midi);
      return { midi, name: ground.sounds ? `${name} (sounds ${sounding})` : name };
    }

    // Begins the drone of the page, or of a piece that plays.
    function startDrone(piece = null) {
      const written = piece && piece.drone;
      const { midi, name } = droneNote(written), chord = settings.get("chord");
      const hertz = sound.hertz(midi, tuning(written));
      droning = { ...sound.drone(context, outs.drone, hertz, context.currentTime, CHORDS[chord]), piece };
      droning.words = `drone on ${name}${CHORD_WORDS[chord]}, ${hertz.toFixed(1)} hertz`;
      tell();
    }

    // The old drone fades while the new one begins.
    function changeDrone() {
      droning.stop();
      startDrone(droning.piece);
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
        tuning: tuning(piece.drone),
      });
      const begin = context.currentTime + (settings.get("countIn") ? SOON : BEFORE_PLAYING);
      const wish = settings.get("withDrone");
      const ownDrone = (wish === "always" || (wish === "written" && piece.drone !== null)) && !droning;
      if (ownDrone) startDrone(piece);
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
      if (droning) parts.push(droning.words);
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
      if (droning && ["pitch", "octave", "chord", "a4", "intonation"].includes(name)) changeDrone();
    });

    // The stand shows another key. The page's drone goes with it; that of a piece that plays stays.
    document.addEventListener("stavewright-turned", ({ detail }) => {
      ground = readGround(detail);
      fillNotes(form.elements.pitch, ground);
      settings.offer("octave", ground.octave);
      if (droning && !droning.piece) changeDrone();
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
  function fillNotes(select, ground) {
    const { inKey } = ground, chosen = select.value;
    select.replaceChildren();
    const option = (value, words) => select.append(new Option(words, value));
    if (ground.drone !== null) option("drone", `as written, ${ground.droneName}`);
    option("tonic", inKey ? `the keynote, ${ground.tonicName}` : "C");
    sound.NAMES.forEach((name, pitchClass) => {
      const sounding = sound.NAMES[sound.modulo(pitchClass + ground.sounds, 12)];
      if (inKey || pitchClass > 0) option(pitchClass, ground.sounds % 12 ? `${name} (sounds ${sounding})` : name);
    });
    if ([...select.options].some(({ value }) => value === chosen)) select.value = chosen;
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
