// What a pitch is near to: an interval above the drone, or a note. Pure functions.
"use strict";
(function (sound) {
  const SPAN = 0.5, FEWEST = 4, APART = 60;
  // The drone is dead still: no player is, over this time.
  const DRONE_SPAN = 0.8, STILL = 0.4, NEAR_DRONE = 3;

  const centsOf = (ratio) => 1200 * Math.log2(ratio);

  // The nearest interval above (or, with fewer than 0 semitones, below) the drone, in just intonation or in
  // temperament, as { semitones, cents }: `cents` from there to the pitch, upward.
  function nearestInterval(hertz, drone, just) {
    const above = centsOf(hertz / drone);
    if (!just) {
      const semitones = Math.round(above / 100);
      return { semitones, cents: above - 100 * semitones };
    }
    const octave = Math.floor(above / 1200), inside = above - 1200 * octave;
    const places = [...sound.JUST, 2].map(centsOf);
    const step = places.reduce((best, place, at) => (Math.abs(place - inside) < Math.abs(places[best] - inside) ? at : best), 0);
    return { semitones: 12 * octave + step, cents: inside - places[step] };
  }

  // The nearest tempered note, as { midi, cents }.
  function nearestNote(hertz, a4) {
    const exact = 69 + centsOf(hertz / a4) / 100, midi = Math.round(exact);
    return { midi, cents: 100 * (exact - midi) };
  }

  // The readings of one tone up to `now`: [{ at, hertz }], newest last. A leap or a pause begins anew.
  function sameTone(readings, now, span) {
    const found = [];
    let later = now;
    for (const reading of [...readings].reverse()) {
      if (now - reading.at > span || later - reading.at > 0.25) break;
      if (found.length && Math.abs(centsOf(reading.hertz / found[0].hertz)) > APART) break;
      found.unshift(reading);
      later = reading.at;
    }
    return found;
  }

  // The mean pitch of a tone in hertz, over the last half of a second: about three waves of a vibrato. Null while
  // there is no tone, or not for long enough.
  function meanPitch(readings, now) {
    const tone = sameTone(readings, now, SPAN);
    if (tone.length < FEWEST) return null;
    return 2 ** (tone.reduce((sum, { hertz }) => sum + Math.log2(hertz), 0) / tone.length);
  }

  // Whether what the microphone hears is the drone itself, whose notes are `notes` in hertz.
  function hearsDrone(readings, now, notes) {
    const tone = sameTone(readings, now, DRONE_SPAN + 0.1);
    if (!tone.length || now - tone[0].at < DRONE_SPAN) return false;
    const places = tone.map(({ hertz }) => centsOf(hertz / tone[0].hertz));
    if (Math.max(...places) - Math.min(...places) > STILL) return false;
    // Several of its notes together have the period of a lower one.
    return notes.some((note) => [1, 2, 3, 4].some((part) => Math.abs(centsOf((tone[0].hertz * part) / note)) < NEAR_DRONE));
  }

  Object.assign(sound, { nearestInterval, nearestNote, meanPitch, hearsDrone });
})((window.stavewrightSound = window.stavewrightSound || {}));
