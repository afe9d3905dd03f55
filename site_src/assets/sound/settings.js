// What the player chose, kept on this device where the browser lets us, and read from the desk's controls.
"use strict";
(function (sound) {
  const KEPT = "sound", TEMPOS = "tempos", MOST_TEMPOS = 200;

  const FIRST = {
    pitch: "", octave: "", chord: "alone", droneLevel: 5,
    parts: 1, countIn: 1, pulseLevel: 6,
    ladder: false, by: 2, every: 4,
    withPulse: false, withDrone: "written", times: 1, toneLevel: 5,
    a4: "", intonation: "written", open: false,
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
  function settings(form, ground) {
    const kept = { ...FIRST, ...read(KEPT) };
    const tempos = read(TEMPOS);
    const begins = {
      ...FIRST, octave: ground.octave, a4: ground.a4, tempo: ground.low, beats: ground.units, top: ground.high,
    };
    const controls = [...form.elements].filter((control) => control.name && control.type !== "button");
    for (const control of controls) {
      if (control.tagName === "FIELDSET") continue;
      show(control, begins[control.name]);
      show(control, control.name === "tempo" ? tempos[ground.exercise] : kept[control.name]);
      if (control.type === "number") control.dataset.good = control.value;
    }
    const listeners = [];

    function keep(control) {
      const name = control.name, now = value(control);
      let stored = true;
      if (name === "tempo") {
        if (!ground.exercise) return stored;
        delete tempos[ground.exercise];
        tempos[ground.exercise] = now;
        const names = Object.keys(tempos);
        names.slice(0, Math.max(0, names.length - MOST_TEMPOS)).forEach((old) => delete tempos[old]);
        stored = write(TEMPOS, tempos);
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
      // Another value to begin with, where the player has chosen none.
      offer(name, begin) {
        const control = form.elements[name];
        if (kept[name] !== "") return;
        show(control, begin);
        control.dataset.good = control.value;
      },
      open: kept.open === true,
      setOpen(open) {
        kept.open = open;
        write(KEPT, kept);
      },
      changed: (act) => listeners.push(act),
      get storing() { return write(KEPT, kept); },
    };
  }

  Object.assign(sound, { settings });
})((window.stavewrightSound = window.stavewrightSound || {}));
