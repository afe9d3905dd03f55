// What was ticked on which day, kept on this device only: for the boxes of today, a table of the last weeks, and
// what has waited for long. It is a JSON object: of each day (`2026-11-28`) a list of
// { id, exercise, title, keys, seconds }, one for each block.
"use strict";
(function (daily) {
  const { data } = daily;
  if (!data) return;
  const storage = stavewrightStorage;
  const NAME = "daily.history " + data.root;
  const DAY = 86400000, WEEKS = 8, WAITED = 5;

  const isEntry = (entry) => entry && typeof entry.id === "string" && typeof entry.exercise === "string"
    && Array.isArray(entry.keys) && Number.isFinite(entry.seconds);

  function read() {
    const found = {};
    try {
      for (const [day, entries] of Object.entries(JSON.parse(storage.read(NAME)) || {}))
        if (/^\d{4}-\d\d-\d\d$/.test(day) && Array.isArray(entries)) found[day] = entries.filter(isEntry);
    } catch { /* what is damaged is no loss greater than it was */ }
    return found;
  }

  // Where nothing can be kept, what is ticked holds until the page is left.
  let kept = read();
  const write = () => storage.write(NAME, Object.keys(kept).length ? JSON.stringify(kept) : "");

  const isTicked = (date, block) => (kept[daily.dayName(date)] || []).some((entry) => entry.id === block.id);

  // Ticks a block of a day, or takes the tick away; says whether that was kept. Another window's ticks stay.
  function tick(date, block, on) {
    const name = daily.dayName(date), there = read();
    if (Object.keys(there).length) kept = there;
    const others = (kept[name] || []).filter((entry) => entry.id !== block.id);
    if (on) others.push({ id: block.id, exercise: block.slug, title: block.exercise, keys: block.keys, seconds: block.seconds });
    if (others.length) kept[name] = others;
    else delete kept[name];
    return write();
  }

  const daysOf = (name) => Date.parse(name + "T00:00:00Z") / DAY;

  // The last weeks with something in them, the newest first: { begins, days, blocks, seconds }; `begins` is a Monday.
  function weeks(date) {
    const today = daysOf(daily.dayName(date)), found = new Map();
    // The first of January 1970 was a Thursday.
    const monday = (day) => day - ((day + 3) % 7);
    for (const [name, entries] of Object.entries(kept)) {
      const begins = monday(daysOf(name));
      if (begins > today || begins <= monday(today) - 7 * WEEKS) continue;
      const week = found.get(begins) || { begins: new Date(begins * DAY), days: 0, blocks: 0, seconds: 0 };
      week.days += 1;
      week.blocks += entries.length;
      week.seconds += entries.reduce((sum, entry) => sum + entry.seconds, 0);
      found.set(begins, week);
    }
    return [...found.entries()].sort(([one], [other]) => other - one).map(([, week]) => week);
  }

  // What has waited longest, the longest first: [[name, days ago or null for never], ...] of the names given.
  function waiting(date, names, keysOf) {
    const today = daysOf(daily.dayName(date)), last = new Map();
    for (const [day, entries] of Object.entries(kept))
      for (const entry of entries)
        for (const key of keysOf(entry)) last.set(key, Math.max(last.get(key) ?? -Infinity, daysOf(day)));
    return [...names].map(([key, name]) => [name, last.has(key) ? today - last.get(key) : null])
      .sort(([, one], [, other]) => (other ?? Infinity) - (one ?? Infinity) || 0)
      .filter(([, ago]) => ago === null || ago > 0).slice(0, WAITED);
  }

  const exercisesWaiting = (date) => waiting(date, data.exercises.map(([title, slug]) => [slug, title]), (entry) => [entry.exercise]);
  const keysWaiting = (date) => waiting(date, Object.entries(data.keys), (entry) => entry.keys);

  const asText = () => JSON.stringify({ form: "stavewright daily history 1", days: kept }, null, 1) + "\n";
  const isEmpty = () => !Object.keys(kept).length;

  function erase() {
    kept = {};
    return write();
  }

  Object.assign(daily, { history: { isTicked, tick, weeks, exercisesWaiting, keysWaiting, asText, isEmpty, erase } });
})((window.stavewrightDaily = window.stavewrightDaily || {}));
