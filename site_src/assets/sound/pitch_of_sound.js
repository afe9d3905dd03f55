// The pitch of a sound: pure functions on samples, without a microphone and without a page.
//
// The method is that of P. McLeod and G. Wyvill, "A smarter way to find pitch", Proceedings of the International
// Computer Music Conference, 2005 (from memory): the sound is compared with itself, moved by each lag, by a
// difference function that is normalised to lie between -1 and 1. The first of its high peaks is the period, and
// the height of that peak is the clarity: 1 for a sound that repeats itself exactly.
"use strict";
(function (sound) {
  const LOWEST = 55, HIGHEST = 2200;
  // Softer than this the microphone hears the room: -55 dBFS.
  const SILENT = 10 ** (-55 / 20);
  // A peak is high from this share of the highest one on; a lower share would prefer the upper octave.
  const HIGH = 0.93;
  const CLEAR = 0.93;
  const HOP = 1024, MOST_TRIES = 80;

  // How many samples a pitch is found in: about 85 milliseconds, as a power of two.
  const windowOf = (rate) => (rate > 60000 ? 8192 : 4096);

  function levelOf(samples) {
    let power = 0;
    for (const sample of samples) power += sample * sample;
    return Math.sqrt(power / samples.length);
  }

  // The normalised difference function for the lags from 0 to `last`, over a window of one length for all lags.
  function likeness(samples, last) {
    const size = samples.length - last, found = new Float32Array(last + 1);
    let own = 0, moved = 0;
    for (let place = 0; place < size; place += 1) own += samples[place] ** 2;
    moved = own;
    for (let lag = 0; lag <= last; lag += 1) {
      let product = 0;
      for (let place = 0; place < size; place += 1) product += samples[place] * samples[place + lag];
      found[lag] = own + moved > 0 ? (2 * product) / (own + moved) : 0;
      moved += samples[lag + size] ** 2 - samples[lag] ** 2;
    }
    return found;
  }

  // The top of the parabola through a peak and its neighbours: { lag, height }.
  function topOf(values, lag) {
    const left = values[lag - 1], middle = values[lag], right = values[lag + 1];
    const bend = left - 2 * middle + right, shift = bend < 0 ? (left - right) / (2 * bend) : 0;
    return { lag: lag + shift, height: middle - ((left - right) * shift) / 4 };
  }

  const isPeak = (values, lag) => values[lag] > 0 && values[lag] >= values[lag - 1] && values[lag] > values[lag + 1];

  // The highest peak of each stretch above zero, after the first stretch, which every sound has at lag 0.
  function peaksOf(values, first) {
    const peaks = [];
    let lag = 1, best = 0;
    while (lag < values.length && values[lag] > 0) lag += 1;
    for (; lag < values.length - 1; lag += 1) {
      if (values[lag] <= 0) {
        if (best) peaks.push(best);
        best = 0;
      } else if (lag >= first && isPeak(values, lag) && (!best || values[lag] > values[best])) best = lag;
    }
    if (best) peaks.push(best);
    return peaks;
  }

  // The same period, measured over as many periods as there are lags for: that much more exactly.
  function refine(values, begin) {
    let period = begin.lag;
    for (let count = 2; ; count += 1) {
      let lag = Math.round(count * period);
      const reach = Math.max(1, Math.round(0.1 * period)), until = Math.min(lag + reach, values.length - 2);
      if (lag > until) return period;
      for (let near = lag - reach; near <= until; near += 1) if (values[near] > values[lag]) lag = near;
      if (!isPeak(values, lag) || values[lag] < HIGH * begin.height) return period;
      period = topOf(values, lag).lag / count;
    }
  }

  // The pitch of `samples` (of `windowOf(rate)`, from -1 to 1) at `rate` samples a second, as { hertz, clarity,
  // level }: clarity and level from 0 to 1. Null where there is none: in silence, in noise, and below 55 or above
  // 2,200 hertz. It is meant for one tone: of two at once it finds a tone of which both may be partials, or one
  // between them, or none.
  function pitchOf(samples, rate, clear = CLEAR) {
    const mean = samples.reduce((sum, sample) => sum + sample, 0) / samples.length;
    const centred = samples.map((sample) => sample - mean), level = levelOf(centred);
    if (level < SILENT) return null;
    const values = likeness(centred, Math.min(Math.ceil(rate / LOWEST) + 1, samples.length >> 1));
    const tops = peaksOf(values, Math.floor(rate / HIGHEST)).map((lag) => topOf(values, lag));
    const highest = Math.max(...tops.map(({ height }) => height));
    const top = tops.find(({ height }) => height >= HIGH * highest);
    if (!top || top.height < clear) return null;
    const hertz = rate / refine(values, top);
    return hertz >= LOWEST && hertz <= HIGHEST ? { hertz, clarity: Math.min(1, top.height), level } : null;
  }

  // When the first tone of a recording begins, in seconds; null where none is found. Two windows that follow each
  // other must have one pitch, and not be far softer than the loudest; it begins where it has a quarter of its
  // level.
  function firstTone(samples, rate) {
    const size = windowOf(rate), part = HOP / 4, levels = [];
    for (let place = 0; place + size <= samples.length; place += HOP) levels.push(levelOf(samples.subarray(place, place + size)));
    const loud = levels.reduce((most, level) => Math.max(most, level), SILENT) / 10;
    let before = null, tries = 0;
    for (let hop = 0; hop < levels.length && tries < MOST_TRIES; hop += 1) {
      const place = hop * HOP, heard = levels[hop] > loud;
      const found = heard ? pitchOf(samples.subarray(place, place + size), rate) : null;
      tries += heard ? 1 : 0;
      if (before && found && Math.abs(1200 * Math.log2(found.hertz / before.hertz)) < 50) {
        let begin = Math.max(0, place - size);
        while (levelOf(samples.subarray(begin, begin + part)) < found.level / 4) begin += part;
        return begin / rate;
      }
      before = found;
    }
    return null;
  }

  Object.assign(sound, { pitchOf, windowOf, firstTone });
})((window.stavewrightSound = window.stavewrightSound || {}));
