// What can be played on a page.
"use strict";
(function (sound) {
  // What is played of a figure, or null: `piece` is its JSON, `key` tells it from others, `drawings()` are those that
  // show it, `isOnPage` says that the page follows the mark. On the stand there may be `isSilent`, `coming(head)`, and
  // `next()`, which gives what to play after it.
  function targetOf(figure) {
    const data = figure && figure.querySelector("script[data-play]");
    if (!data) return null;
    const named = figure.closest("[data-exercise]");
    return {
      key: figure,
      piece: JSON.parse(data.textContent),
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
    const figures = [...document.querySelectorAll("figure.part")].filter((figure) => figure.querySelector("script[data-play]"));
    const all = figures.filter(isInSight);
    const whole = all.find((figure) => figure.querySelector(".piece").getBoundingClientRect().top >= 0);
    return targetOf(whole || all[0] || figures[0]);
  }

  Object.assign(sound, { targetOf, targetInSight });
})((window.stavewrightSound = window.stavewrightSound || {}));
