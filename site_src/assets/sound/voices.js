// What sounds: the drone, the tones of a play-through, the clicks of the pulse, and the way out to the ears.
// Every function takes its audio context, so that all of it can be rendered and measured off line.
"use strict";
(function (sound) {
  // The drone's partials stand exactly in tune and still: any beating that is heard is the player's own.
  const DRONE = [1, 0.62, 0.5, 0.34, 0.24, 0.17, 0.12, 0.09, 0.06, 0.04];
  const TONE = [1, 0.5, 0.22, 0.12, 0.06, 0.03];
  const FADE_IN = 0.6, FADE_OUT = 0.4;
  const BEGUN = 0.035, SLURRED = 0.06, LET_GO = 0.07, GAP = 0.02;
  const ACCENT_FALLS = 0.15, ACCENT_FALLS_TO = 0.8, FAINT = 0.6;
  // At mf a tone's filter lies this many times above its pitch. A Q of -3 decibels has no peak (Butterworth);
  // but the filter delays the partials unevenly, which may raise the wave's, so the tone is a little softer.
  const OPEN = 3, FLAT = -3.0103, FULL = 0.94;

  // Clicks: a struck bar's two partials, too short to be heard as a pitch against the drone.
  const CLICKS = {
    bar: { hertz: 1480, gain: 1 },
    beat: { hertz: 1110, gain: 0.7 },
    part: { hertz: 830, gain: 0.35 },
    count: { hertz: 740, gain: 0.7 },
  };
  const CLICK_LENGTH = 0.09, CLICK_DECAY = 0.016, CLICK_RISE = 0.001;

  // A limiter, then a ceiling that nothing passes. The compressor brings its own gain (Web Audio 1.1,
  // DynamicsCompressorNode: the full range gain to the power of -0.6), which is taken off again.
  const THRESHOLD = -9, RATIO = 20, BEND = 0.5, CEILING = 0.7;

  function output(context) {
    const input = context.createGain();
    const limiter = new DynamicsCompressorNode(context, {
      threshold: THRESHOLD, ratio: RATIO, knee: 0, attack: 0.003, release: 0.2,
    });
    const makeup = -0.6 * THRESHOLD * (1 - 1 / RATIO);
    const takenOff = new GainNode(context, { gain: 10 ** (-makeup / 20) });
    const curve = Float32Array.from({ length: 1025 }, (_, place) => {
      const value = place / 512 - 1, size = Math.abs(value), room = CEILING - BEND;
      return size <= BEND ? value : Math.sign(value) * (BEND + room * Math.tanh((size - BEND) / room));
    });
    input.connect(limiter).connect(takenOff).connect(new WaveShaperNode(context, { curve }))
      .connect(context.destination);
    return input;
  }

  const waves = new WeakMap();

  // Normalised by Web Audio to a peak of 1, so that levels say what they are.
  function wave(context, partials) {
    const kept = waves.get(context) || new Map();
    waves.set(context, kept);
    if (!kept.has(partials)) {
      const imag = Float32Array.from([0, ...partials]);
      kept.set(partials, context.createPeriodicWave(new Float32Array(imag.length), imag));
    }
    return kept.get(partials);
  }

  const RISE = Float32Array.from({ length: 65 }, (_, step) => Math.sin((step / 64) * (Math.PI / 2)) ** 2);
  const FALL = RISE.slice().reverse();

  // Begins a drone of `hertz` softly at `when`; `stop(when)` ends it as softly. `ratios` are those of its notes
  // to `hertz`; together they are as loud as one.
  function drone(context, out, hertz, when = context.currentTime, ratios = [1]) {
    // One gain to begin with and one to end with: it can be stopped while it still begins.
    const rising = new GainNode(context, { gain: 0 });
    const falling = new GainNode(context), shared = new GainNode(context, { gain: 1 / ratios.length });
    const oscillators = ratios.map((ratio) => new OscillatorNode(context, { frequency: hertz * ratio }));
    rising.gain.setValueCurveAtTime(RISE, when, FADE_IN);
    shared.connect(rising).connect(falling).connect(out);
    for (const oscillator of oscillators) {
      oscillator.setPeriodicWave(wave(context, DRONE));
      oscillator.connect(shared);
      oscillator.start(when);
    }
    return {
      hertz,
      stop(end = context.currentTime) {
        falling.gain.setValueCurveAtTime(FALL, end, FADE_OUT);
        for (const oscillator of oscillators) oscillator.stop(end + FADE_OUT + 0.05);
        oscillators[0].onended = () => falling.disconnect();
      },
    };
  }

  // Begins a tone of a play-through at `start`, to last about `length` seconds. `from` says that it is slurred
  // to from the tone before. It goes to `out`; `colour` opens its filter and `bend` may bend its pitch, both in
  // cents; it `bends` by so many semitones from its middle to its end. `release(when, to)` ends it: `to` says that the next one is slurred to.
  function tone(context, { out, colour, bend }, { hertz, start, length, from, accented, faint = false, bends = 0 }) {
    const oscillator = new OscillatorNode(context, { frequency: hertz });
    oscillator.setPeriodicWave(wave(context, TONE));
    const filter = new BiquadFilterNode(context, { type: "lowpass", frequency: hertz * OPEN, Q: FLAT });
    filter.detune.automationRate = "k-rate";
    const gain = new GainNode(context, { gain: 0 });
    const peak = faint ? FAINT * FULL : FULL;
    const full = accented ? ACCENT_FALLS_TO * peak : peak, risen = start + Math.min(from ? SLURRED : BEGUN, length / 3);
    let steady = risen;
    gain.gain.setValueAtTime(0, start);
    gain.gain.linearRampToValueAtTime(peak, risen);
    if (accented) {
      steady += Math.min(ACCENT_FALLS, length / 6);
      gain.gain.linearRampToValueAtTime(full, steady);
    }
    oscillator.connect(filter).connect(gain).connect(out);
    colour.connect(filter.detune);
    if (bend) bend.connect(oscillator.detune);
    if (bends) {
      oscillator.detune.setValueAtTime(0, start + length / 2);
      oscillator.detune.linearRampToValueAtTime(100 * bends, start + length);
    }
    oscillator.start(start);
    oscillator.onended = () => {
      gain.disconnect();
      colour.disconnect(filter.detune);
      if (bend) bend.disconnect(oscillator.detune);
    };
    return {
      release(when, to) {
        const lasted = Math.max(0, when - start), fall = to ? SLURRED : Math.min(LET_GO, lasted / 3);
        const silent = when + (to ? SLURRED : -Math.min(GAP, lasted / 6));
        const falling = Math.max(silent - fall, steady, context.currentTime);
        gain.gain.setValueAtTime(full, falling);
        gain.gain.linearRampToValueAtTime(0, falling + fall);
        oscillator.stop(falling + fall + 0.01);
      },
    };
  }

  const clicks = new WeakMap();

  function clickBuffer(context, kind) {
    const kept = clicks.get(context) || {};
    clicks.set(context, kept);
    if (!kept[kind]) {
      const rate = context.sampleRate, { hertz, gain } = CLICKS[kind];
      const values = Float32Array.from({ length: Math.ceil(CLICK_LENGTH * rate) }, (_, sample) => {
        const time = sample / rate, turn = 2 * Math.PI * hertz * time;
        const shape = Math.min(1, time / CLICK_RISE) * Math.exp(-time / CLICK_DECAY)
          * Math.min(1, (CLICK_LENGTH - time) / 0.01);
        return shape * (Math.sin(turn) + 0.4 * Math.sin(2.76 * turn));
      });
      const peak = values.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
      kept[kind] = context.createBuffer(1, values.length, rate);
      kept[kind].copyToChannel(values.map((value) => (value * gain) / peak), 0);
    }
    return kept[kind];
  }

  // A click of a kind (`bar`, `beat`, `part` of a beat, `count` before the music) at an exact time.
  function click(context, out, kind, when) {
    const source = new AudioBufferSourceNode(context, { buffer: clickBuffer(context, kind) });
    source.connect(out);
    source.start(when);
    source.onended = () => source.disconnect();
  }

  Object.assign(sound, { output, drone, tone, click });
})((window.stavewrightSound = window.stavewrightSound || {}));
