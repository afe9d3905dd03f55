// The desk: what the bar and its drawer start and stop.
"use strict";
(function (sound) {
  const SOON = 0.12, BEFORE_PLAYING = 0.5, TAIL = 0.4, WAITED = 2000;
  // All volumes together: three decibels a step, none at this one.
  const EVEN = 6;
  const NO_SOUND = stavewrightSay("This browser cannot make sound for a page. The music is here to read, to play and to print.");
  const NOT_ALLOWED = stavewrightSay("The browser does not let this page make sound now. Allow sound for this page in the browser, or see that another program does not hold the loudspeaker, and try again.");
  const NOT_KEPT = stavewrightSay("This browser is not saving data: your settings are lost when you leave the page.");

  // The notes of a drone, as ratios to its lowest: pure in every intonation, so that it does not beat by itself.
  const CHORDS = { alone: [1], fifth: [1, 3 / 2], octave: [1, 2], both: [1, 3 / 2, 2] };
  const CHORD_WORDS = { alone: "", fifth: stavewrightSay(" with its fifth"), octave: stavewrightSay(" with its octave"), both: stavewrightSay(" with fifth and octave") };

  const together = (number) => (number > 0 ? 10 ** ((3 * (number - EVEN)) / 20) : 0);

  function desk(section) {
    const form = section.querySelector("form");
    const fault = section.querySelector(".sound-fault");
    let ground = sound.readGround(section.dataset.ground);

    sound.fillNotes(form.elements.pitch, ground);
    const settings = sound.settings(form, ground);
    sound.labelTempo(section, ground);

    // Of one part alone there is no choice of what is heard.
    section.querySelector("[data-others-words]").hidden = !("others" in section.dataset);
    let context = null, whole = null, outs = null, droning = null, clicking = null, playing = null;
    // What was played last: it is played again, with the bars to repeat.
    let last = null;
    // The player's own playing: own_playing.js.
    let ear = null;
    const heard = () => context.currentTime - (context.outputLatency || context.baseLatency || 0);
    const times = sound.timeline(heard);

    // -- sound -----------------------------------------------------------------------------------------

    function complain(words) {
      section.querySelector("details").open = true;
      fault.textContent = words;
      fault.hidden = false;
    }

    // Browsers let a page sound only after the player has touched it: so nothing is made before.
    async function ready() {
      if (!context) {
        if (navigator.audioSession) navigator.audioSession.type = "playback";
        context = new AudioContext({ latencyHint: "interactive" });
        whole = new GainNode(context, { gain: together(settings.get("level")) });
        whole.connect(sound.output(context));
        outs = {};
        for (const name of ["drone", "pulse", "tone"]) {
          outs[name] = new GainNode(context, { gain: sound.level(settings.get(`${name}Level`)) });
          outs[name].connect(whole);
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

    // The note of the drone: its sounding MIDI number, its written name, and that with what sounds.
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
      return { midi, written: name, name: ground.sounds ? stavewrightSay("{note} (sounds {sounding})", { note: name, sounding }) : name };
    }

    // Begins the drone of the page, or of a piece that plays.
    function startDrone(piece = null) {
      const note = droneNote(piece && piece.drone), chord = settings.get("chord");
      const hertz = sound.hertz(note.midi, tuning(piece && piece.drone));
      droning = { ...sound.drone(context, outs.drone, hertz, context.currentTime, CHORDS[chord]), piece, name: note.written };
      droning.notes = CHORDS[chord].map((ratio) => hertz * ratio);
      droning.words = stavewrightSay("drone on {note}{chord}, {hertz} hertz", { note: note.name, chord: CHORD_WORDS[chord], hertz: hertz.toFixed(1) });
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

    // -- playing through -------------------------------------------------------------------------------

    const targetNow = () => (sound.stage ? sound.stage.target() : sound.targetInSight(section, last && last.target));

    // On a page of several exercises each has its own tempo: the player's last, or its slowest.
    const ownTempo = (target) => target && target.exercise && target.exercise !== ground.exercise
      ? settings.tempoOf(target.exercise, target.piece.tempos[0][1]) : settings.get("tempo");

    // A piece's own button, if it has one: its word, and for those who do not see where it stands, its piece.
    function nameButton(button, word) {
      if (!button) return;
      button.textContent = word;
      button.setAttribute("aria-label", `${word} ${button.dataset.playButton}`);
    }

    // `how` may say `at` which time of the audio clock to begin, with what `countIn`, in what `tempo`.
    function startPlaying(target, part = {}, how = {}) {
      stopPulse();
      stopPlaying();
      const { piece } = target;
      const mark = sound.mark(target, part.again ? sound.headsOf(piece, part) : []);
      const own = new GainNode(context), clicks = new GainNode(context);
      if (!target.isSilent) own.connect(outs.tone);
      clicks.connect(outs.pulse);
      const wishes = () => ({
        tempo: how.tempo ?? ownTempo(target),
        pulse: settings.get("withPulse"),
        parts: Number(settings.get("parts")),
        countIn: how.countIn ?? settings.get("countIn"),
        times: settings.get("times"),
        heard: settings.get("heard"),
        ladder: ladder(),
        tuning: tuning(piece.drone),
      });
      const begin = how.at ?? context.currentTime + (settings.get("countIn") ? SOON : BEFORE_PLAYING);
      const { tempo, countIn } = wishes();
      const wish = settings.get("withDrone");
      const ownDrone = (wish === "always" || (wish === "written" && piece.drone !== null)) && !droning;
      if (ownDrone) startDrone(piece);
      const player = sound.playThrough(context, { tones: own, pulse: clicks }, piece, begin, wishes, (news) => {
        if ("head" in news) times.add(news.at, () => mark.move(news.head));
        else if ("coming" in news) times.add(news.at, () => target.coming?.(news.coming));
        else if (news.over) times.add(news.at + TAIL, () => finish(target));
        else say({ ...news, of: piece.beat });
      }, part);
      const rest = sound.ahead(context, player);
      last = { target, part: part.again ? part : null };
      playing = {
        target,
        part,
        begin,
        tempo,
        countIn,
        words: [part.words ? stavewrightSay("Playing through {bars}, again and again", { bars: part.words }) : stavewrightSay("Playing through"), target.isSilent ? stavewrightSay("in silence") : ""].filter(Boolean).join(" "),
        stop() {
          rest();
          times.clear();
          mark.remove();
          // A tone cut off would click: it fades as a released one does.
          own.gain.setTargetAtTime(0, context.currentTime, 0.02);
          clicks.disconnect();
          setTimeout(() => { own.disconnect(); player.stop(); }, 300);
          nameButton(target.button, stavewrightSay("Play"));
          if (ownDrone) stopDrone();
        },
      };
      nameButton(target.button, stavewrightSay("Stop"));
      ear.playsAlong(playing);
      tell();
      return playing;
    }

    function stopPlaying() {
      const before = playing;
      playing = null;
      if (before) before.stop();
      tell();
    }

    async function finish(target) {
      stopPlaying();
      const next = target.next && (await target.next());
      if (next && !playing) startPlaying(next);
    }

    async function play(target, part) {
      if (target && (await ready())) startPlaying(target, part);
    }

    function playOrStop() {
      if (playing) return stopPlaying();
      const target = targetNow();
      const again = last && last.part && target && last.target.key === target.key;
      return play(target, again ? last.part : {});
    }

    function stopAll() {
      ear.stop();
      stopPlaying();
      stopPulse();
      stopDrone();
    }

    // -- words -----------------------------------------------------------------------------------------

    const say = (news) => times.add(news.at, () => bar.count(news, news.of || ground.beat));

    function tell() {
      form.elements.drone.textContent = droning ? stavewrightSay("Stop the drone") : stavewrightSay("Start the drone");
      form.elements.pulse.textContent = clicking ? stavewrightSay("Stop the metronome") : stavewrightSay("Start the metronome");
      const parts = [];
      if (playing) parts.push(playing.words);
      if (droning) parts.push(droning.words);
      if (clicking) parts.push(stavewrightSay("metronome"));
      if (ear?.words) parts.push(ear.words);
      const state = { playing: Boolean(playing), drone: Boolean(droning), pulse: Boolean(clicking), words: parts.join(", ") };
      bar.show(state, (droning ? droning.name : droneNote(null).written).replace(stavewrightSay(" sharp"), "♯").replace(stavewrightSay(" flat"), "♭").replaceAll(/[ ]|\/.*(?=\d)/g, ""));
      bar.tempo(ownTempo(playing && playing.target));
    }

    // -- controls --------------------------------------------------------------------------------------

    async function toggleDrone() {
      if (droning) stopDrone();
      else if (await ready()) startDrone();
    }

    async function togglePulse() {
      if (clicking) return stopPulse();
      if (!(await ready())) return undefined;
      stopPlaying();
      return startPulse();
    }

    function setTempo(beats) {
      const target = playing && playing.target;
      if (target && target.exercise && target.exercise !== ground.exercise) settings.keepTempo(target.exercise, beats);
      else settings.set("tempo", beats);
      bar.tempo(ownTempo(target));
    }

    const bar = sound.bar(section, {
      play: playOrStop,
      drone: toggleDrone,
      pulse: togglePulse,
      stop: stopAll,
      tempo: setTempo,
      step: (by) => setTempo(ownTempo(playing && playing.target) + by),
      volume(by) {
        settings.set("level", settings.get("level") + by);
        bar.say(stavewrightSay("Volume {level} of 10", { level: settings.get("level") }));
      },
    });
    const taps = sound.taps({
      targetOf: (svg) => (sound.stage ? sound.stage.targetOf(svg) : sound.targetOf(svg.closest("figure.part"))),
      begin: play,
      say: (words) => bar.say(words, true),
    });
    const pieces = Boolean(document.querySelector("figure.part [data-play]"));
    const offer = () => {
      for (const part of section.querySelectorAll("[data-pieces]")) part.hidden = !pieces && !sound.stage;
      section.querySelector("[data-tap-words]").hidden = Boolean(sound.stage);
      bar.offerPlay(pieces || Boolean(sound.stage));
    };
    offer();
    ear = sound.ownPlaying(section, {
      ready,
      get context() { return context; },
      get out() { return whole; },
      get playing() { return playing; },
      get a4() { return settings.get("a4"); },
      changed: tell,
      play: startPlaying,
      stop: stopPlaying,
      targetNow,
      say: bar.say,
      close: bar.close,
      // What a microphone may hear of the page: the drone, as `hertz`, `notes` and `just`, and music.
      sounds() {
        const { just } = tuning(droning?.piece ? droning.piece.drone : null);
        return { drone: droning && { ...droning, just }, isPlaying: ear.isHeard || Boolean(playing && !playing.target.isSilent) };
      },
      // A sounding MIDI note, by its written name.
      nameOf: (midi) => sound.noteName(sound.NAMES[sound.modulo(midi - ground.sounds, 12)], midi - ground.sounds),
    });
    tell();

    settings.changed((name, stored) => {
      section.querySelector(".sound-kept").textContent = stored ? "" : NOT_KEPT;
      if (name === "tempo") bar.tempo(ownTempo(playing && playing.target));
      if (context) {
        if (name === "level") whole.gain.setTargetAtTime(together(settings.get(name)), context.currentTime, 0.05);
        for (const voice of ["drone", "pulse", "tone"]) {
          if (name === `${voice}Level`) {
            outs[voice].gain.setTargetAtTime(sound.level(settings.get(name)), context.currentTime, 0.05);
          }
        }
      }
      if (!["pitch", "octave", "chord", "a4", "intonation"].includes(name)) return;
      if (droning) changeDrone();
      else tell();
    });

    // A pause stands on the stand: all is silent, and a drone comes back with the music after it.
    let resting = false;
    document.addEventListener("stavewright-paused", () => {
      resting = resting || Boolean(droning);
      stopAll();
    });

    // The stand shows another key, or another exercise. The page's drone goes with it; that of a piece that plays
    // stays.
    document.addEventListener("stavewright-turned", ({ detail }) => {
      ground = sound.readGround(detail);
      sound.fillNotes(form.elements.pitch, ground);
      settings.turnTo(ground);
      sound.labelTempo(section, ground);
      if (droning && !droning.piece) changeDrone();
      else if (resting) startDrone();
      else tell();
      resting = false;
    });

    form.elements.drone.addEventListener("click", ({ target }) => { bar.from(target); toggleDrone(); });
    form.elements.pulse.addEventListener("click", ({ target }) => { bar.from(target); togglePulse(); });
    for (const [name, mode] of [["pickNote", "note"], ["pickBars", "bars"]]) {
      form.elements[name].addEventListener("click", () => { bar.close(); taps.pick(mode); });
    }
    form.elements.repeatBars.addEventListener("click", () => {
      const target = targetNow();
      if (!target) return;
      const index = (name) => settings.get(name) - sound.numberOf(target.piece, 0);
      bar.close();
      play(target, sound.barsOf(target.piece, index("fromBar"), index("toBar")));
    });
    form.elements.playAll.addEventListener("click", () => { bar.close(); play(targetNow()); });
    for (const button of document.querySelectorAll("button[data-play-button]")) {
      nameButton(button, button.textContent);
      button.addEventListener("click", async () => {
        bar.from(button);
        const figure = button.closest("figure"), again = playing && playing.target.key === figure;
        if (playing) stopPlaying();
        if (!again) await play(sound.targetOf(figure));
      });
    }
    addEventListener("pagehide", stopAll);
    Object.assign(sound, {
      playOrStop,
      // The stand opens or closes: what it plays is none of the page's.
      setStage(stage) {
        if (playing && !stage && !playing.target.isOnPage) stopPlaying();
        if (!stage) resting = false;
        sound.stage = stage;
        offer();
      },
    });
  }

  for (const section of document.querySelectorAll("[data-sound]")) {
    if (window.AudioContext && window.DynamicsCompressorNode && window.OscillatorNode) {
      desk(section);
    } else {
      document.documentElement.classList.add("soundless");
      const words = document.createElement("p");
      words.className = "sound-fault";
      words.textContent = NO_SOUND;
      section.replaceWith(words);
    }
  }
})((window.stavewrightSound = window.stavewrightSound || {}));
