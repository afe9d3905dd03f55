// What the player chose, kept on this device where the browser lets us, and read from the desk's controls.
"use strict";
(function (sound) {
  const KEPT = "sound", TEMPOS = "tempos", MOST_TEMPOS = 200;

  const FIRST = {
    pitch: "", octave: "", chord: "alone", droneLevel: 5,
    parts: 1, countIn: 1, pulseLevel: 6,
    ladder: false, by: 2, every: 4,
    withPulse: false, withDrone: "written", heard: "all", times: 1, toneLevel: 5,
    a4: "", intonation: "written", level: 6,
  };

  function read(name) {
    try {
      const found = JSON.parse(stavewrightStorage.read(name));
      return found && typeof found === "object" && !Array.isArray(found) ? found : {};
    } catch {
      return {};
    }
  }

  const write = (name, values) => stavewrightStorage.write(name, JSON.stringify(values));

  const choices = (select) => [...select.options].map((option) => option.value);

  // Shows a value in a control where the control may have it: what is kept may be from another version, or
  // nothing.
  function show(control, value) {
    if (control.type === "checkbox") control.checked = value === true;
    else if (control.tagName === "SELECT") {
      if (choices(control).includes(String(value))) control.value = String(value);
    } else if (value !== "" && value !== undefined && value !== null && Number.isFinite(Number(value))) {
      control.value = Math.min(Number(control.max), Math.max(Number(control.min), Number(value)));
    }
  }

  // A control's value: a number field that is empty or out of bounds counts as its last good value.
  function value(control) {
    if (control.type === "checkbox") return control.checked;
    if (control.tagName === "SELECT") return control.value;
    if (control.value !== "" && control.validity.valid) control.dataset.good = control.value;
    return Number(control.dataset.good);
  }

  // The desk's settings: `get(name)`, and `changed(act)` to hear of a change once it is kept.
  function settings(form, first) {
    const kept = { ...FIRST, ...read(KEPT) };
    const tempos = read(TEMPOS);
    let ground = first;
    const begins = { ...FIRST, ...ofGround() };
    const controls = [...form.elements].filter((control) => control.name && control.type !== "button");
    for (const control of controls) {
      if (control.tagName === "FIELDSET" || !(control.name === "tempo" || control.name in begins)) {
        control.dataset.good = control.value;
        continue;
      }
      show(control, begins[control.name]);
      show(control, control.name === "tempo" ? tempos[ground.exercise] : kept[control.name]);
      if (control.type === "number") control.dataset.good = control.value;
    }
    const listeners = [];

    function ofGround() {
      return { octave: ground.octave, a4: ground.a4, tempo: ground.low, beats: ground.units, top: ground.high };
    }

    function keepTempo(exercise, beats) {
      delete tempos[exercise];
      tempos[exercise] = beats;
      const names = Object.keys(tempos);
      names.slice(0, Math.max(0, names.length - MOST_TEMPOS)).forEach((old) => delete tempos[old]);
      return write(TEMPOS, tempos);
    }

    function keep(control) {
      const name = control.name, now = value(control);
      let stored = true;
      if (name === "tempo") {
        if (ground.exercise) stored = keepTempo(ground.exercise, now);
      } else if (name in FIRST) {
        kept[name] = now;
        stored = write(KEPT, kept);
      }
      return stored;
    }

    form.addEventListener("input", ({ target }) => {
      if (target.type === "number" && (target.value === "" || !target.validity.valid)) return;
      const stored = keep(target);
      listeners.forEach((act) => act(target.name, stored));
    });
    // Left empty or out of bounds, a number goes back to the last good one.
    form.addEventListener("change", ({ target }) => {
      if (target.type === "number" && (target.value === "" || !target.validity.valid)) target.value = target.dataset.good;
    });
    form.addEventListener("submit", (event) => event.preventDefault());

    return {
      // The tempo kept for another exercise, within what the control may have.
      tempoOf(exercise, otherwise) {
        const { min, max } = form.elements.tempo;
        return Number.isFinite(tempos[exercise]) ? Math.min(max, Math.max(min, tempos[exercise])) : otherwise;
      },
      get: (name) => value(form.elements[name]),
      // Sets a control within its bounds, as the player would.
      set(name, to) {
        const control = form.elements[name];
        show(control, to);
        control.dispatchEvent(new Event("input", { bubbles: true }));
      },
      keepTempo: (exercise, beats) => keepTempo(exercise, Math.min(form.elements.tempo.max, Math.max(form.elements.tempo.min, beats))),
      // Another ground, of another key or another exercise: what the player has not chosen begins with it.
      turnTo(next) {
        const other = next.exercise !== ground.exercise;
        ground = next;
        for (const [name, begin] of Object.entries(ofGround())) {
          const control = form.elements[name];
          if (name in FIRST ? kept[name] !== "" : !other) continue;
          show(control, name === "tempo" ? tempos[ground.exercise] ?? begin : begin);
          control.dataset.good = control.value;
        }
      },
      changed: (act) => listeners.push(act),
      get storing() { return write(KEPT, kept); },
    };
  }

  Object.assign(sound, { settings });
})((window.stavewrightSound = window.stavewrightSound || {}));
