// What is planned: the set of a day for so many minutes, out of the plans in sets.js beside the page. A set is
// sittings of blocks with their words and pieces. builder/views/daily_data.py says what the rows of the data are.
"use strict";
(function (daily) {
  const data = window.stavewrightDailySets;
  const storage = stavewrightStorage;
  if (!data) return;
  const lengths = Object.keys(data.plans).map(Number).sort((a, b) => a - b);

  // Days are counted by the calendar on the wall, so that a set changes at midnight here and not elsewhere.
  const dayNumber = (date) => Math.round(Date.UTC(date.getFullYear(), date.getMonth(), date.getDate()) / 86400000);
  const dayName = (date) => [date.getFullYear(), date.getMonth() + 1, date.getDate()].map((part) => String(part).padStart(2, "0")).join("-");
  const inWords = (date) => new Intl.DateTimeFormat(stavewrightLanguage, { weekday: "long", day: "numeric", month: "long" }).format(date);
  const clockTime = (seconds) => Math.floor(seconds / 60) + ":" + String(seconds % 60).padStart(2, "0");
  const listed = (names) => [names.slice(0, -1).join(", "), ...names.slice(-1)].filter(Boolean).join(stavewrightSay(" and "));

  const within = (minutes) => Math.min(data.most, Math.max(data.least, Math.round(minutes)));
  const readMinutes = () => within(Number(storage.read("daily.minutes")) || data.usual);
  const writeMinutes = (minutes) => storage.write("daily.minutes", String(minutes));

  const FROM = stavewrightSay("from {notes}", { notes: "" }), ON = stavewrightSay("on {notes}", { notes: "" }), IN = stavewrightSay("in {keys}", { keys: "" });
  const isOnNote = (name) => name.startsWith(ON);

  // `from D5, C sharp 5 and C5, going down`, or `in A minor and E minor`, or `on D and E flat`, each key as a part
  // of its own: [words, setting or null].
  function keyWords(byPitch, settings) {
    const names = settings.map((setting) => (byPitch ? setting[3] : setting[1]));
    const on = !byPitch && names.every(isOnNote);
    const parts = [[byPitch ? FROM : on ? ON : IN, null]];
    names.forEach((name, place) => {
      if (place) parts.push([place === names.length - 1 ? stavewrightSay(" and ") : ", ", null]);
      parts.push([on ? name.slice(ON.length) : name, settings[place]]);
    });
    if (byPitch && settings[0][4]) parts.push([", " + data.directions[settings[0][4]], null]);
    return parts;
  }

  const fileOf = (slug, key) => `${data.root}exercises/${slug}/${key}/index.html`;

  function blockOf(number) {
    const [exercise, first, count, way, plainFirst, register, seconds] = data.blocks[number];
    const [title, slug, byPitch, ways, settings] = data.exercises[exercise];
    const run = settings.slice(first, first + count);
    const pieces = [];
    for (const [name, end, lasts, ...left] of plainFirst ? [ways[0], ways[way]] : [ways[way]]) {
      run.forEach((setting, place) => {
        if (left.includes(first + place)) return;
        const [key, keyName, anchor] = setting;
        const where = isOnNote(keyName) ? keyName : IN + keyName;
        pieces.push({ file: fileOf(slug, key), id: anchor + end, title: `${title} ${where}`, way: name, seconds: lasts });
      });
    }
    return {
      id: [slug, run[0][2], count, ways[way][0]].join(" "),
      slug, exercise: title, keys: [...new Set(run.map(([key]) => key))],
      title: byPitch ? title + ", " + stavewrightSay("{register} register", { register: data.registers[register] }) : title,
      keyWords: keyWords(byPitch, run).map(([words, setting]) => [words, setting && `${fileOf(slug, setting[0])}#${setting[2]}${plainFirst ? ways[0][1] : ways[way][1]}`]),
      how: plainFirst ? stavewrightSay("{first}, then {second}", { first: ways[0][0], second: ways[way][0] }) : ways[way][0],
      seconds, pieces,
    };
  }

  // The set of a day: of the longest plan that is not above so many minutes; where none is, of the shortest.
  function setOf(date, minutes) {
    const planned = lengths.filter((length) => length <= minutes).pop() || lengths[0];
    const plan = data.plans[planned], days = plan.length;
    const sittings = plan[((dayNumber(date) % days) + days) % days].map((sitting) => sitting.map(blockOf));
    const blocks = sittings.flat();
    blocks.forEach((block, place) => { block.number = place + 1; });
    const rests = sittings.reduce((sum, sitting) => sum + data.between * Math.max(0, sitting.length - 1), data.pause * (sittings.length - 1));
    return { date, minutes, planned, sittings, blocks, seconds: rests + blocks.reduce((sum, block) => sum + block.seconds, 0) };
  }

  // What a device must keep to show a set: for each page also its music for a phone, where it has any.
  function filesOf(set) {
    const pages = set.blocks.flatMap((block) => block.pieces.map((piece) => piece.file));
    const phones = pages.map((page) => page.replace("index.html", "phone.js"));
    return [...new Set([data.root + "daily/index.html", data.root + "daily/sets.js", ...pages, ...phones])];
  }

  Object.assign(daily, { data, setOf, filesOf, dayName, inWords, clockTime, listed, within, readMinutes, writeMinutes });
})((window.stavewrightDaily = window.stavewrightDaily || {}));
