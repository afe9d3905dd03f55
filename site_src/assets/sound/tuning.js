// Pitches as numbers: what a note's frequency is, and what twelve notes are called.
// These are classic scripts in one namespace: a page opened from a folder may not load modules.
"use strict";
(function (sound) {
  // Five-limit just intonation above the keynote, by semitones: the ratios of builder/music/settings/tuning.py.
  const JUST = [1, 16 / 15, 9 / 8, 6 / 5, 5 / 4, 4 / 3, 45 / 32, 3 / 2, 8 / 5, 5 / 3, 9 / 5, 15 / 8];

  const NAMES = window.stavewrightWords?.notes || [
    "C", "C sharp, D flat", "D", "D sharp, E flat", "E", "F",
    "F sharp, G flat", "G", "G sharp, A flat", "A", "A sharp, B flat", "B",
  ];

  const modulo = (number, size) => ((number % size) + size) % size;

  // Equal temperament, in hertz; `a4` is the frequency of A4, MIDI note 69.
  const tempered = (midi, a4) => a4 * 2 ** ((midi - 69) / 12);

  // A sounding MIDI note in hertz. `tuning` holds `a4`, `just`, and `tonic`, the sounding pitch class from C;
  // in just intonation the keynote stays where temperament has it, and the rest is measured from there.
  // `cents`, where they are known, say how far a note lies above its tempered place by its spelling.
  function hertz(midi, tuning, cents = null) {
    if (!tuning.just) return tempered(midi, tuning.a4);
    if (cents !== null) return tempered(midi, tuning.a4) * 2 ** (cents / 1200);
    const above = modulo(midi - tuning.tonic, 12);
    return tempered(midi - above, tuning.a4) * JUST[above];
  }

  // A note by a name that may have two spellings, with the octave of a MIDI note: `D4`, `E flat 3`.
  function noteName(name, midi) {
    const called = new Map(window.stavewrightWords?.names || [["C flat", "c-flat"], ["B sharp", "b-sharp"]]).get(name);
    const over = { "c-flat": 1, "b-sharp": -1 }[called] || 0, octave = Math.floor(midi / 12) - 1 + over;
    return `${name.replace(", ", "/")}${name.includes(" ") ? " " : ""}${octave}`;
  }

  // Level 0 is silence; 1 to 10 are peaks of -36 to -9 dBFS, three decibels apart.
  const level = (number) => (number > 0 ? 10 ** ((3 * Math.min(number, 10) - 39) / 20) : 0);

  Object.assign(sound, { JUST, NAMES, hertz, level, modulo, noteName });
})((window.stavewrightSound = window.stavewrightSound || {}));
