// How loud each moment of a play-through is, and how bright: one line of corners, drawn bar by bar.
"use strict";
(function (sound) {
  // A jump takes a moment, the last before its place: at once it would click within a slur.
  const SOFTENED = 0.015;
  // How far a tone's own filter opens with each decibel above mf, in cents, and the decibels below which it
  // closes no further. A wind tone grows brighter as it grows louder; how much is our choice, no source.
  const OPENS = 90, CLOSED = -10;
  const SAME = 1e-6;

  const ratio = (decibels) => 10 ** (decibels / 20);
  const opening = (decibels) => Math.max(decibels, CLOSED) * OPENS;

  // The level at each place, from the rows of `levels` (see builder/views/playback.py): corners of a tick and
  // decibels from mf, with even slopes between them, and two corners at one tick where it jumps.
  function shape(levels) {
    const corners = [[0, 0]];
    for (const [tick, decibels, gradual] of levels) {
      if (!gradual) corners.push([tick, corners[corners.length - 1][1]]);
      corners.push([tick, decibels]);
    }
    const between = (after, tick) => {
      if (after < 0) return corners[corners.length - 1][1];
      const [[from, low], [to, high]] = [corners[after - 1], corners[after]];
      return low + ((high - low) * (tick - from)) / (to - from);
    };
    return {
      corners,
      // The level from a place on, after a jump there.
      at: (tick) => between(corners.findIndex((corner) => corner[0] > tick), tick),
      // The level up to a place after the beginning, before a jump there.
      until: (tick) => between(corners.findIndex((corner) => corner[0] >= tick), tick),
    };
  }

  // Moves `gain`, and the cents of `colour`, along a piece's level. `begin()` sets the level of the place
  // that is heard first; `draw(ticks, when)` goes on to the last of `ticks`, places in order at which time may change its
  // pace, as the first of them is where it has come to. Every slope begins at the very moment at which the
  // last one ended, so none can fall before another, whatever the tempo does from bar to bar.
  function levels(context, piece, gain, colour) {
    const line = shape(piece.levels);
    let reached = 0, decibels = 0;

    function set(to, time) {
      reached = Math.max(time, reached, context.currentTime);
      decibels = to;
      gain.setValueAtTime(ratio(to), reached);
      colour.setValueAtTime(opening(to), reached);
    }

    function slope(to, time) {
      reached = Math.max(time, reached, context.currentTime);
      decibels = to;
      gain.exponentialRampToValueAtTime(ratio(to), reached);
      colour.linearRampToValueAtTime(opening(to), reached);
    }

    return {
      begin: (time, tick) => set(line.at(tick), time),
      draw(ticks, when) {
        // Drawn late, it goes on from the level that is heard.
        if (reached < context.currentTime) set(decibels, context.currentTime);
        const start = ticks[0], end = ticks[ticks.length - 1];
        const turns = ticks.slice(1).map((tick) => [tick, line.until(tick)]);
        const corners = line.corners.filter(([tick]) => tick > start && tick <= end);
        for (const [tick, to] of [...turns, ...corners].sort(([one], [other]) => one - other)) {
          const time = when(tick), jumps = Math.abs(to - line.at(tick)) > SAME;
          if (!jumps) slope(to, time);
          // Before a jump it leaves its slope where it has come to.
          else if (time - SOFTENED > reached) {
            slope(decibels + ((to - decibels) * (time - SOFTENED - reached)) / (time - reached), time - SOFTENED);
          }
        }
      },
    };
  }

  Object.assign(sound, { levels });
})((window.stavewrightSound = window.stavewrightSound || {}));
