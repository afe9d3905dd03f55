// A recording of the player, in the memory of the page and nowhere else: made, heard back, erased.
"use strict";
(function (sound) {
  const LIMIT = 600, SOON = 0.25;
  // Heard back with peaks of -14 dBFS, about as loud as the music, if it was not far softer.
  const PEAK = 0.2, MOST_GAIN = 8;
  const KINDS = ["audio/webm;codecs=opus", "audio/ogg;codecs=opus", "audio/mp4"];

  // A kind of file that the browser writes and reads; undefined leaves the choice to it.
  function kindOfFile() {
    const player = document.createElement("audio");
    return KINDS.find((kind) => MediaRecorder.isTypeSupported(kind) && player.canPlayType(kind));
  }

  // When the music that was played along with begins, in seconds from the beginning of the recording. All times are
  // of the audio clock: `begin` when the music was due, `start` when the recording began. The player heard the
  // music later by `output`, and the recording had the player later by `input`.
  const placeOfMusic = ({ begin, start, output, input }) => begin + output + input - start;

  function peakOf(buffer) {
    let most = 1e-6;
    for (const sample of buffer.getChannelData(0)) if (Math.abs(sample) > most) most = Math.abs(sample);
    return most;
  }

  const clockWords = (seconds) => `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;

  // `own` has the controls and words of parts/own_playing.html, `player` what desk.js lends.
  function recording(own, player, microphone) {
    const strip = own.section.querySelector(".take"), time = strip.querySelector(".take-time");
    const said = strip.querySelector(".take-words");
    // `none`, `asking`, `recording`, `reading` what was recorded, `kept`, `hearing`.
    let state = "none", recorder = null, take = null, heard = null, ticking = 0, ending = 0;
    // Whether the keyboard was at what a change of state hides.
    let isLeft = false;
    // Counts what was begun, so that what was given up in the meantime is not carried on.
    let turn = 0;

    function show(to, seconds = null) {
      state = to;
      isLeft = isLeft || Boolean(strip.querySelector(":focus-visible"));
      const recorded = state === "recording" || state === "reading", there = state === "kept" || state === "hearing";
      own.raise("take", recorded || there);
      own.key("end").hidden = !recorded;
      for (const part of strip.querySelectorAll("[data-take-kept]")) part.hidden = !there;
      own.key("record").textContent = own.word(recorded ? "end" : "record");
      own.key("hear").textContent = own.word(state === "hearing" ? "stop" : "hear");
      const words = recorded ? own.word("recording") : there ? own.word("kept") : "";
      if (said.textContent !== words) said.textContent = words;
      time.textContent = seconds === null ? "" : clockWords(seconds);
      if (isLeft && !strip.contains(document.activeElement) && state !== "reading") {
        (there ? own.key("hear") : own.section).focus({ preventScroll: true });
        isLeft = false;
      }
      player.changed();
    }

    const latencies = (stream) => ({
      output: player.context.outputLatency || player.context.baseLatency || 0,
      input: stream.getAudioTracks()[0].getSettings().latency || 0,
    });

    async function record() {
      if (state === "recording") return end();
      if (state === "asking" || state === "reading") return undefined;
      if (!window.MediaRecorder) return own.refuse("recorder");
      stopHearing();
      const mine = (turn += 1), before = state;
      const byKeyboard = own.key("record").matches(":focus-visible");
      state = "asking";
      const opened = (await player.ready()) ? await microphone.open("recording") : null;
      if (mine !== turn) return undefined;
      own.refuse(opened?.refusal || "");
      if (!opened?.stream) return show(before, take && take.buffer.duration);
      try {
        begin(opened.stream, mine);
        if (byKeyboard) own.key("end").focus({ preventScroll: true });
      } catch {
        microphone.close("recording");
        own.refuse("recorder");
        show(before, take && take.buffer.duration);
      }
      return undefined;
    }

    function begin(stream, mine) {
      const pieces = [], kind = kindOfFile();
      recorder = new MediaRecorder(stream, { ...(kind && { mimeType: kind }), audioBitsPerSecond: 128000 });
      const made = { start: player.context.currentTime, ...latencies(stream), along: null, buffer: null };
      recorder.addEventListener("start", () => { made.start = player.context.currentTime; });
      recorder.addEventListener("dataavailable", ({ data }) => pieces.push(data));
      recorder.addEventListener("stop", () => { if (mine === turn) read(made, new Blob(pieces), mine); });
      recorder.start(1000);
      take = made;
      show("recording", 0);
      own.showDelay(made.output + made.input);
      player.close();
      if (player.playing) playsAlong(player.playing);
      ticking = setInterval(() => { time.textContent = clockWords(player.context.currentTime - made.start); }, 500);
      ending = setTimeout(end, LIMIT * 1000);
    }

    function end() {
      if (state !== "recording") return;
      show("reading");
      if (recorder.state !== "inactive") recorder.stop();
    }

    async function read(made, file, mine) {
      rest();
      try {
        const buffer = await player.context.decodeAudioData(await file.arrayBuffer());
        if (mine !== turn) return;
        made.buffer = buffer;
        show("kept", buffer.duration);
      } catch {
        if (mine !== turn) return;
        erase();
        own.refuse("unplayable");
      }
    }

    function rest() {
      clearInterval(ticking);
      clearTimeout(ending);
      microphone.close("recording");
    }

    function erase() {
      turn += 1;
      stopHearing();
      rest();
      if (recorder && recorder.state !== "inactive") recorder.stop();
      recorder = take = null;
      show("none");
    }

    // Music that begins while one records, or sounds then already: the last of it is heard beside the recording.
    function playsAlong(playing) {
      if (state === "recording" && take && !playing.target.isSilent) take.along = playing;
    }

    // What to play beside the recording, as { target, part, at, how }, `at` in seconds from its beginning; or null.
    function beside() {
      const { along } = take;
      if (along && (along.target.isOnPage || sound.stage)) {
        const at = placeOfMusic({ ...take, begin: along.begin });
        return { target: along.target, part: along.part, at, how: { countIn: along.countIn, tempo: along.tempo } };
      }
      const target = player.targetNow(), first = target && target.piece.tones.find((row) => row[4]);
      if (!first) return null;
      const at = sound.firstTone(take.buffer.getChannelData(0), take.buffer.sampleRate) || 0;
      return { target, part: { from: first[0] }, at, how: { countIn: 0 } };
    }

    async function hear() {
      if (state === "hearing") return stopHearing();
      if (state !== "kept" || !(await player.ready()) || state !== "kept") return undefined;
      const { context, out } = player, { buffer } = take;
      const source = new AudioBufferSourceNode(context, { buffer });
      const gain = new GainNode(context, { gain: Math.min(MOST_GAIN, PEAK / peakOf(buffer)) });
      const music = own.key("beside").checked ? beside() : null;
      const start = context.currentTime + SOON + (music ? Math.max(0, -music.at) : 0);
      player.stop();
      source.connect(gain).connect(out);
      source.start(start);
      const playing = music && player.play(music.target, music.part, { ...music.how, at: start + music.at });
      heard = { source, gain, playing };
      source.addEventListener("ended", () => { if (heard && heard.source === source) stopHearing(); });
      show("hearing", buffer.duration);
      return undefined;
    }

    function stopHearing() {
      if (!heard) return;
      const { source, gain, playing } = heard;
      heard = null;
      gain.gain.setTargetAtTime(0, player.context.currentTime, 0.02);
      setTimeout(() => { source.stop(); gain.disconnect(); }, 200);
      if (playing && player.playing === playing) player.stop();
      if (state === "hearing") show("kept", take.buffer.duration);
    }

    own.key("record").addEventListener("click", record);
    own.key("end").addEventListener("click", end);
    own.key("hear").addEventListener("click", hear);
    own.key("erase").addEventListener("click", () => {
      erase();
      own.say("erased");
    });
    return { end, erase, stopHearing, playsAlong, get isHeard() { return Boolean(heard); } };
  }

  Object.assign(sound, { recording, placeOfMusic });
})((window.stavewrightSound = window.stavewrightSound || {}));
