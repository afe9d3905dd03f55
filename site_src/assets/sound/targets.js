// What can be played on a page.
"use strict";
(function (sound) {
  // A play-through in the rows of builder/views/playback.py, from its short form (builder/views/short_play.py).
  function readPlay(text) {
    const { pitches, ...short } = JSON.parse(text);
    const all = (rows) => rows.flatMap((row, at) => (Array.isArray(row) ? [row] : Array(row).fill(rows[at - 1])));
    const part = ({ tones, levels = [], vibrato = [] }) => {
      let end = 0, head = -1;
      const rows = all(tones).map(([pitch, length, touch = 0, sounds = length, number = head + 1, late = 0, ...bend]) => {
        const [midi, cents = 0] = pitches[pitch], start = end + late;
        [end, head] = [start + length, number];
        return [start, length, midi, head, sounds, touch, cents, ...bend];
      });
      return { tones: rows, levels, vibrato };
    };
    let end = 0;
    const bars = all(short.bars).map(([length, offset, unit, late = 0]) => {
      const start = end + late;
      end = start + length;
      return [start, length, offset, unit];
    });
    const others = {};
    for (const name of ["second", "chords"]) if (short[name]) others[name] = part(short[name]);
    return { speeds: [[0, 0, 1]], drone: null, ...short, ...part(short), bars, ...others };
  }

  // What is played of a figure, or null: `piece` is its JSON, `key` tells it from others, `drawings()` are those that
  // show it, `isOnPage` says that the page follows the mark. On the stand there may be `isSilent`, `coming(head)`, and
  // `next()`, which gives what to play after it.
  function targetOf(figure) {
    const data = figure && figure.querySelector("[data-play]");
    if (!data) return null;
    const named = figure.closest("[data-exercise]");
    return {
      key: figure,
      piece: readPlay(data.dataset.play),
      exercise: named ? named.dataset.exercise : "",
      button: figure.querySelector("button[data-play-button]"),
      drawings: () => [...figure.querySelectorAll("svg.ink")],
      isOnPage: true,
    };
  }

  // What the bar plays on a page: the `last` target, if it is in sight; else the first piece in sight.
  function targetInSight(bar, last) {
    const foot = innerHeight - bar.offsetHeight;
    const isInSight = (figure) => {
      const box = (figure.querySelector(".piece") || figure).getBoundingClientRect();
      return box.height > 0 && box.top < foot - 40 && box.bottom > 40;
    };
    if (last && last.isOnPage && isInSight(last.key)) return last;
    const figures = [...document.querySelectorAll("figure.part")].filter((figure) => figure.querySelector("[data-play]"));
    const all = figures.filter(isInSight);
    const whole = all.find((figure) => figure.querySelector(".piece").getBoundingClientRect().top >= 0);
    return targetOf(whole || all[0] || figures[0]);
  }

  Object.assign(sound, { readPlay, targetOf, targetInSight });
})((window.stavewrightSound = window.stavewrightSound || {}));
