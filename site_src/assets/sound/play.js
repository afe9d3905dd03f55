// A piece played through: its tones, its pulse where wanted, and when the mark moves to which note head.
"use strict";
(function (sound) {
  const VIBRATO_HERTZ = 5.5, VIBRATO_CENTS = 14, VIBRATO_GROWS = 0.15;
  const JOINED = 1, ACCENTED = 2, FAINT = 4;
  // How much of a note has passed when the next one is said to be coming: time to turn a page.
  const COMING = 0.6;

  // Plays `piece` (the JSON of builder/views/playback.py) from `begin` on, a chunk a bar. `outs` has where
  // tones and clicks go. `wishes()` is asked at every bar for `tempo`, `pulse` (whether it sounds), `parts`,
  // `countIn`, `times`, `ladder` and `tuning`; a changed tempo holds from the next bar on. Of `heard` ("all", "first"
  // or "others") it is asked at the beginning. In free time there is neither pulse nor count-in. `say` hears of
  // `{ at, head }` for every head (null for a rest), `{ at, bar, beat, tempo, counting }` for every beat,
  // `{ at, coming }` before the next head, and `{ at, over: true }` at the end. `part` may say that it begins at
  // the tick `from`, ends with the bar of index `lastBar`, and goes round `again` for ever.
  function playThrough(context, outs, piece, begin, wishes, say = () => {}, part = {}) {
    const from = part.from || 0, lastBar = part.lastBar ?? piece.bars.length - 1;
    const beginning = piece.bars.findLastIndex((row) => row[0] <= from);
    const stop = piece.bars[lastBar][0] + piece.bars[lastBar][1];
    const others = [piece.second, piece.chords].filter(Boolean);
    // The first part is not heard only where there is another.
    const heard = others.length ? wishes().heard : "all", alone = heard === "first", silent = heard === "others";
    const begun = (rows, out) => line(context, out, rows, piece.end, from, stop);
    const first = begun(piece, silent ? new GainNode(context, { gain: 0 }) : outs.tones);
    const lines = [first, ...(alone ? [] : others.map((rows) => begun(rows, outs.tones)))];
    const tones = first.tones;
    // Musicians count from the first full bar: a pick-up is bar 0.
    const firstBar = piece.bars[0][2] ? 0 : 1;
    let bar = -1, passes = 0, done = 0;

    function countIn() {
      const want = wishes(), first = piece.bars[beginning], full = first[1] + first[2];
      const clock = sound.clock(piece, sound.raised(want.tempo, want.ladder, done));
      const second = clock.find(from).rate / clock.find(from).factor;
      // The beats of its own bar before it count too.
      const ticks = want.countIn > 0 && !piece.free ? want.countIn * full + first[2] + from - first[0] : 0;
      for (let tick = 0, number = 0; tick < ticks; tick += first[3], number += 1) {
        const at = player.next + tick * second;
        sound.click(context, outs.pulse, "count", at);
        const beat = Math.round((tick % full) / first[3]) + 1;
        say({ at, bar: 0, beat, tempo: 0, counting: true });
      }
      say({ at: player.next, head: tones.length ? tones[0][3] : null });
      player.next += ticks * second;
      bar = beginning;
    }

    function oneBar() {
      const want = wishes(), tempo = sound.raised(want.tempo, want.ladder, done);
      const clock = sound.clock(piece, tempo), [barStart, length, offset, unit] = piece.bars[bar];
      const start = Math.max(barStart, bar === beginning ? from : 0), end = barStart + length, last = bar === lastBar;
      // The bar begins at the very moment at which the last one ended: no place has two times.
      const time = player.next, zero = clock.seconds(start), when = (tick) => time + (clock.seconds(tick) - zero);

      for (let tick = barStart - offset, number = 0; tick < end; tick += unit, number += 1) {
        if (tick < start || waits(clock, tick)) continue;
        const at = when(tick), kind = number ? "beat" : "bar";
        say({ at, bar: bar + firstBar, beat: number + 1, tempo, counting: false, free: piece.free });
        if (!want.pulse || piece.free) continue;
        sound.click(context, outs.pulse, kind, at);
        for (let part = 1; part < want.parts; part += 1) {
          const between = tick + (unit * part) / want.parts;
          if (between < end && !waits(clock, between)) sound.click(context, outs.pulse, "part", when(between));
        }
      }
      const turns = [start, ...clock.starts.filter((tick) => tick > start && tick < end), end];
      for (const each of lines) {
        if (bar === beginning) each.begin(time, start);
        each.play(turns, last, when, want.tuning, each === first ? say : () => {});
      }
      player.next = when(end);
      bar += 1;
      if (!last) return;
      done += lastBar + 1 - beginning;
      passes += 1;
      bar = part.again ? beginning : -1;
      if (passes >= want.times && !part.again) {
        say({ at: player.next, over: true });
        player.next = Infinity;
      }
    }

    // Within a note that is held the pulse waits.
    function waits(clock, tick) {
      const stretch = clock.find(tick);
      return stretch.factor > 1 && tick > stretch.start;
    }

    const player = {
      next: begin,
      advance() {
        if (bar < 0) countIn();
        else oneBar();
      },
      stop() {
        for (const each of lines) each.stop();
      },
    };
    return player;
  }

  // One staff's part of a play-through: `rows` has its tones, levels and vibrato. The second part of a duet has a
  // loudness and a vibrato of its own, and so have chords.
  function line(context, out, rows, pieceEnd, from, stop) {
    const shaped = context.createGain();
    shaped.connect(out);
    const colour = new ConstantSourceNode(context, { offset: 0 });
    colour.start();
    const level = sound.levels(context, rows, shaped.gain, colour.offset);
    const bend = rows.vibrato.length ? vibrato(context) : null;
    const starts = new Map(rows.tones.filter((row) => row[4]).map((row) => [row[0] + row[4], row]));
    const tones = tonesOf(rows.tones, pieceEnd, from, stop);
    // Tones that have begun, each with the place at which it ends.
    let held = [];

    return {
      tones,
      begin: level.begin,
      // Plays what begins between the first and the last of `turns`, places at which time may change its pace.
      play(turns, last, when, tuning, say) {
        const start = turns[0], end = turns[turns.length - 1];
        const inBar = (tick) => tick >= start && tick < end;
        level.draw(turns, when);
        const spans = rows.vibrato.filter(([begins, until]) => begins < stop && until > from);
        const waves = spans.map(([begins, until]) => [Math.max(begins, from), Math.min(until, stop)]);
        if (bend) bend.wave(waves, (tick) => inBar(tick) || (last && tick === end), when);
        for (const [place, row] of tones.entries()) {
          const [tick, ticks, midi, head, sounds, touch, cents, bends = 0] = row;
          if (!inBar(tick)) continue;
          const at = Math.max(when(tick), context.currentTime);
          say({ at, head });
          if (tones[place + 1]) say({ at: at + COMING * (when(tick + ticks) - at), coming: tones[place + 1][3] });
          if (!tones.some((other) => other[0] === tick + ticks)) say({ at: when(tick + ticks), head: null });
          if (!sounds) continue;
          const before = starts.get(tick);
          const tone = sound.tone(context, { out: shaped, colour, bend: bend && bend.node }, {
            hertz: sound.hertz(midi, tuning, cents),
            start: at,
            length: when(tick + sounds) - at,
            from: Boolean(before && before[5] & JOINED),
            accented: Boolean(touch & ACCENTED),
            faint: Boolean(touch & FAINT),
            bends,
          });
          const to = Boolean(touch & JOINED) && tones.some((other) => other[0] === tick + sounds);
          held.push({ tone, to, end: tick + sounds });
        }
        // A tone ends by the clock of the bar in which it ends: the tempo may have changed since it began.
        for (const { tone, to, end: place } of held.filter((each) => each.end <= end)) tone.release(when(place), to);
        held = held.filter((each) => each.end > end);
      },
      stop() {
        shaped.disconnect();
        colour.stop();
        for (const { tone } of held) tone.release(context.currentTime, false);
        if (bend) bend.stop();
      },
    };
  }

  // The tones of a part: one that sounds on into it begins with it, and none sounds beyond its end.
  function tonesOf(tones, end, from, stop) {
    if (!from && stop >= end) return tones;
    const sounding = tones.findLast((row) => row[4] && row[0] < from && row[0] + row[4] > from);
    return tones.filter((row) => row[0] >= from && row[0] < stop).map((row) => {
      const [tick, ticks, midi, head, sounds, ...others] = row;
      const carried = sounding && tick === from && !sounds;
      const lasts = carried ? sounding[0] + sounding[4] - from : sounds;
      return [tick, Math.min(ticks, stop - tick), midi, head, Math.min(lasts, stop - tick), ...others];
    });
  }

  // A slow wave of the pitch for the tones that connect to it, still until `wave` tells it where to move.
  function vibrato(context) {
    const oscillator = new OscillatorNode(context, { frequency: VIBRATO_HERTZ });
    const node = new GainNode(context, { gain: 0 });
    oscillator.connect(node);
    oscillator.start();
    return {
      node,
      wave(spans, inBar, when) {
        for (const [begin, end] of spans) {
          if (inBar(begin)) node.gain.setTargetAtTime(VIBRATO_CENTS, Math.max(0, when(begin)), VIBRATO_GROWS);
          if (inBar(end)) node.gain.setTargetAtTime(0, Math.max(0, when(end)), VIBRATO_GROWS);
        }
      },
      stop() {
        oscillator.stop();
        node.disconnect();
      },
    };
  }

  Object.assign(sound, { playThrough });
})((window.stavewrightSound = window.stavewrightSound || {}));
