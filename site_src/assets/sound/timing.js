// Time: from places in the music to seconds of the audio clock, and what is due next.
// No timer ever makes a sound: a timer only asks, well ahead, for what the audio clock is to do.
"use strict";
(function (sound) {
  const AHEAD = 0.6, AHEAD_HIDDEN = 2.5, ASK_EVERY = 80;
  const LATE = 0.02;

  // The tempo raised by `by` after every `every` bars, up to `top`; `ladder` is null where it stays.
  function raised(tempo, ladder, barsDone) {
    if (!ladder) return tempo;
    return Math.max(tempo, Math.min(ladder.top, tempo + ladder.by * Math.floor(barsDone / ladder.every)));
  }

  // The seconds of each place in a play-through (see builder/views/playback.py for its rows) at `tempo` beats
  // a minute of its first tempo; other tempos keep the same place within their range.
  function clock(piece, tempo) {
    const [, low, high] = piece.tempos[0];
    const rate = ([beat, slow, fast]) => {
      const inside = tempo > low && tempo < high;
      const beats = inside ? slow + ((fast - slow) * (tempo - low)) / (high - low)
        : tempo >= high ? (fast * tempo) / high : (slow * tempo) / low;
      return 60 / (beats * beat);
    };
    let at = 0;
    const stretches = piece.speeds.map(([start, number, factor], place) => {
      const stretch = { start, at, factor, rate: rate(piece.tempos[number]) * factor };
      const next = piece.speeds[place + 1];
      if (next) at += (next[0] - start) * stretch.rate;
      return stretch;
    });
    const find = (tick) => stretches.findLast((stretch) => stretch.start <= tick) || stretches[0];
    return {
      find,
      // The places at which time changes its pace.
      starts: stretches.map(({ start }) => start),
      seconds(tick) {
        const stretch = find(tick);
        return stretch.at + (tick - stretch.start) * stretch.rate;
      },
    };
  }

  // Asks `player` for its chunks before they are due. A player has `next`, the time at which its next chunk
  // begins (Infinity where there is none), and `advance()`, which schedules it.
  function ahead(context, player) {
    const ask = () => {
      const until = context.currentTime + (document.hidden ? AHEAD_HIDDEN : AHEAD);
      while (player.next < until) player.advance();
    };
    const timer = setInterval(ask, ASK_EVERY);
    document.addEventListener("visibilitychange", ask);
    ask();
    return () => {
      clearInterval(timer);
      document.removeEventListener("visibilitychange", ask);
    };
  }

  // A pulse with no end, a chunk a beat. `wishes()` is asked at every beat for `tempo` (beats a minute),
  // `beats` in a bar (0 for none), `parts` of each beat, `countIn` in bars, `ladder`, and `slower`, the
  // length of a beat of the pulse in beats of the tempo. `say` hears of every beat before it sounds.
  function pulse(context, out, begin, wishes, say = () => {}) {
    let beat = 0, bars = 0, counting = null;
    const player = {
      next: begin,
      advance() {
        const { tempo, beats, parts, countIn, ladder, slower } = wishes();
        if (counting === null) counting = countIn * Math.max(beats, 1);
        if (counting <= 0 && beats > 0 && beat >= beats) { beat = 0; bars += 1; }
        const now = raised(tempo, ladder, bars), length = (60 / now) * slower, at = player.next;
        const counted = counting > 0, place = counted ? beat % Math.max(beats, 1) : beat;
        for (let part = 0; part < (counted ? 1 : parts); part += 1) {
          const when = at + (part * length) / parts;
          const kind = counted ? "count" : part ? "part" : beats > 0 && place === 0 ? "bar" : "beat";
          if (when > context.currentTime - LATE) sound.click(context, out, kind, Math.max(when, context.currentTime));
        }
        say({ at, bar: bars + 1, beat: beats > 0 ? place + 1 : 0, tempo: now, counting: counted });
        beat += 1;
        if (counted && (counting -= 1) === 0) beat = 0;
        player.next = at + length;
      },
    };
    return player;
  }

  Object.assign(sound, { raised, clock, ahead, pulse });
})((window.stavewrightSound = window.stavewrightSound || {}));
