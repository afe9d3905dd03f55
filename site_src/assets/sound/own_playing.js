// What the bar has of the player's own playing: a recording and the pitch, and when both let the microphone go.
"use strict";
(function (sound) {
  // `player` is what desk.js lends: `ready()`, `context`, `out`, `changed()`, `play(target, part, how)`, `stop()`,
  // `playing`, `targetNow()`, `sounds()`, `a4`, `nameOf(midi)`, `say(words)`, `close()`.
  function ownPlaying(section, player) {
    const fields = section.querySelector("[data-own]");
    const words = {};
    for (const { dataset, textContent } of fields.querySelector("[data-own-words]").content.querySelectorAll("[data-word]")) {
      words[dataset.word] = textContent;
    }
    const delay = fields.querySelector("[data-own-delay]"), delayWords = delay.textContent;
    const fill = (text, values) => text.replace(/\{(\w+)\}/g, (_, name) => values[name]);

    const tellWhy = (name) => {
      for (const reason of fields.querySelectorAll("[data-refusal]")) reason.hidden = reason.dataset.refusal !== name;
    };

    const own = {
      section,
      key: (name) => section.querySelector(`[data-own-key=${name}]`),
      word: (name, values = {}) => fill(words[name], values),
      say: (name) => player.say(words[name]),
      // Says why something cannot be done, where the player has just tapped; "" when it can.
      refuse(name) {
        tellWhy(name);
        if (name) section.querySelector("details").open = true;
      },
      // Shows a strip above the keys of the bar, or takes it away; the page keeps room for it.
      raise(name, there) {
        section.querySelector(`.${name}`).hidden = !there;
        document.documentElement.classList.toggle(`with-${name}`, there);
      },
      showDelay(seconds) {
        delay.hidden = !seconds;
        delay.textContent = fill(delayWords, { delay: Math.round(1000 * seconds) });
      },
    };
    const microphone = sound.microphone((refusal) => {
      release();
      own.refuse(refusal);
    });
    const recording = sound.recording(own, player, microphone), pitch = sound.ownPitch(own, player, microphone);

    function release() {
      recording.end();
      pitch.stop();
      microphone.closeAll();
    }

    // Without a microphone there is nothing to offer, only a reason.
    async function offer() {
      const obstacle = sound.obstacle() || ((await sound.hasMicrophone()) ? "" : "none");
      for (const part of fields.querySelectorAll("[data-own-part]")) part.hidden = Boolean(obstacle);
      if (obstacle || !fields.querySelector("[data-refusal=none]").hidden) tellWhy(obstacle);
    }
    offer();
    navigator.mediaDevices?.addEventListener?.("devicechange", offer);

    // Nobody is recorded who does not look at the page; who leaves it leaves nothing behind.
    document.addEventListener("visibilitychange", () => { if (document.hidden) release(); });
    addEventListener("pagehide", () => {
      recording.erase();
      release();
    });
    return {
      stop: recording.stopHearing,
      playsAlong: recording.playsAlong,
      get words() { return recording.isHeard ? own.word("hearing") : ""; },
      get isHeard() { return recording.isHeard; },
    };
  }

  Object.assign(sound, { ownPlaying });
})((window.stavewrightSound = window.stavewrightSound || {}));
