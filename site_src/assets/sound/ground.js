// What the desk stands on: the key and the tempo that a page, or a block on the stand, says of itself.
"use strict";
(function (sound) {
  const GROUND = {
    exercise: "", a4: 440, sounds: 0, tonic: 0, tonicName: sound.NAMES[0], drone: null, droneName: "",
    beat: stavewrightSay("beat"), low: 60, high: 72, units: 4, slower: 1,
  };

  // What the page says of an exercise, or of its key alone, or of neither; and the octave of its drone.
  function readGround(words) {
    const given = JSON.parse(words || "{}"), ground = { ...GROUND, ...given, inKey: "tonic" in given };
    const tonic = sound.modulo(ground.tonic + ground.sounds, 12);
    ground.octave = Math.floor((ground.drone === null ? 48 + tonic : ground.drone + ground.sounds) / 12) - 1;
    return ground;
  }

  // Notes by their written names; where the instrument transposes, with the name of what sounds.
  function fillNotes(select, ground) {
    const { inKey } = ground, chosen = select.value;
    select.replaceChildren();
    const option = (value, words) => select.append(new Option(words, value));
    if (ground.drone !== null) option("drone", stavewrightSay("as written, {note}", { note: ground.droneName }));
    option("tonic", inKey ? stavewrightSay("the keynote, {note}", { note: ground.tonicName }) : sound.NAMES[0]);
    sound.NAMES.forEach((name, pitchClass) => {
      const sounding = sound.NAMES[sound.modulo(pitchClass + ground.sounds, 12)];
      if (inKey || pitchClass > 0) option(pitchClass, ground.sounds % 12 ? stavewrightSay("{note} (sounds {sounding})", { note: name, sounding }) : name);
    });
    if ([...select.options].some(({ value }) => value === chosen)) select.value = chosen;
  }

  // Says in the drawer what the tempo counts, and what the exercise asks for.
  function labelTempo(drawer, ground) {
    const beats = stavewrightLanguage === "en-GB" ? ground.beat.replace(/half$/, "halve") + "s" : ground.beat;
    drawer.querySelector("[data-beat]").textContent = beats[0].toUpperCase() + beats.slice(1);
    const asked = ground.low === ground.high ? `${ground.low}` : stavewrightSay("{low} to {high}", ground);
    drawer.querySelector("#sound-range").textContent = ground.exercise ? stavewrightSay("the exercise asks for {tempo}", { tempo: asked }) : "";
  }

  Object.assign(sound, { readGround, fillNotes, labelTempo });
})((window.stavewrightSound = window.stavewrightSound || {}));
