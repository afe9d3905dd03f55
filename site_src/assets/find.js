// Finding in the book. The page carries what there is to find, so this works from a folder without a server.
"use strict";
(() => {
  const form = document.querySelector("[data-find]");
  const list = document.querySelector(".found");
  const status = form.querySelector("[role=status]");
  const rows = JSON.parse(document.getElementById("book-data").textContent);

  // Letters without their marks, signs as words: D♭, Db and d-flat are one key.
  const plain = (text) => text.normalize("NFD").replace(/[\u0300-\u036f]/g, "").toLowerCase();
  // Names of notes in the book's language, the longest first: Des, or re bemol.
  const names = new Map((window.stavewrightWords?.names || []).map(([name, key]) => [plain(name), key]));
  const named = names.size && new RegExp(`(?<![\\p{L}\\p{N}])(${[...names.keys()].sort((one, other) => other.length - one.length).join("|")})(?![\\p{L}\\p{N}♭♯])`, "gu");
  const inEnglish = (text) => (named ? text.replace(/-(dur|moll)\b/g, " $1").replace(named, (name) => names.get(name)) : text);

  function folded(text) {
    if (named) return inEnglish(plain(text));
    return plain(text)
      .replace(/\b([a-g])\s*(?:♭|b\b)/g, "$1-flat").replace(/\b([a-g])\s*(?:♯|#)/g, "$1-sharp")
      .replace(/\b([a-g])[\s-]+(flat|sharp)\b/g, "$1-$2");
  }
  const words = (text) => folded(text).split(/[^\p{L}\p{N}-]+/u).filter(Boolean);

  for (const row of rows) {
    row.words = words([row.title, row.kind, row.purpose, row.more].join(" "));
    for (const key of row.keys) key.words = words(key.name);
  }
  const isKey = (word) => /^[a-g](-flat|-sharp)?$/.test(word);
  // A key by any name: who asks for D sharp finds E flat, and for D flat C sharp.
  const LETTERS = { c: 0, d: 2, e: 4, f: 5, g: 7, a: 9, b: 11 };
  const pitch = (word) => (LETTERS[word[0]] + (word.endsWith("-flat") ? 11 : word.endsWith("-sharp") ? 1 : 0)) % 12;
  // A single letter names a key, and nothing else begins with it.
  const holds = (all, word) => all.some((one) => (isKey(word) ? isKey(one) && pitch(one) === pitch(word) : one.startsWith(word)));
  const within = (text, low, high) => {
    if (!text) return true;
    const [from, to] = text.split("-").map(Number);
    return low <= to && high >= from;
  };

  function found(wanted) {
    const asked = words(wanted.words || "");
    const result = [];
    for (const row of rows) {
      if (wanted.instrument && row.instrument !== wanted.instrument) continue;
      if (wanted.kind && row.kind !== wanted.kind) continue;
      if (!within(wanted.tempo, ...(row.tempo || [-1, -1])) || !within(wanted.length, row.seconds, row.seconds)) continue;
      const rest = asked.filter((word) => isKey(word) || !holds(row.words, word));
      const keys = row.keys.filter((key) =>
        rest.every((word) => holds(key.words, word)) && (!wanted.register || key.registers.includes(wanted.register)));
      if (keys.length) result.push({ row, keys });
    }
    return result;
  }

  // The page lists everything; what is not found is hidden.
  const items = [...list.children].map((item) => ({ item, keys: [...item.querySelectorAll(".keys li:not(.mode)")] }));

  // Pages of the author's have words alone: a choice of any other kind is not for them.
  const pages = [...document.querySelectorAll(".found-pages li")].map((item) => ({ item, words: words(item.dataset.words) }));
  function showPages({ words: typed, ...choices }) {
    const asked = Object.values(choices).some(Boolean) ? null : words(typed || "");
    for (const page of pages) page.item.hidden = !asked || !asked.every((word) => page.words.some((one) => one.startsWith(word)));
    const count = pages.filter((page) => !page.item.hidden).length;
    if (pages.length) pages[0].item.closest("section").hidden = !count;
    return count;
  }

  function show() {
    const wanted = Object.fromEntries(new FormData(form));
    const result = found(wanted);
    rows.forEach((row, number) => {
      const here = result.find((one) => one.row === row);
      items[number].item.hidden = !here;
      items[number].keys.forEach((key, place) => { key.hidden = !here || !here.keys.includes(row.keys[place]); });
    });
    const keys = result.reduce((sum, item) => sum + item.keys.length, 0);
    const others = showPages(wanted);
    const counts = [...(result.length ? [stavewrightSayCount("{count} exercise", "{count} exercises", result.length), stavewrightSayCount("{count} key", "{count} keys", keys)] : []), ...(others && wanted.words ? [stavewrightSayCount("{count} page", "{count} pages", others)] : [])];
    status.textContent = counts.join(", ") || stavewrightSay("No exercise matches. Remove a word or a choice.");
    const said = new URLSearchParams(Object.entries(wanted).filter(([, value]) => value)).toString();
    history.replaceState(null, "", said ? "#" + said : "#");
  }

  for (const [name, value] of new URLSearchParams(location.hash.slice(1)))
    if (form.elements[name]) form.elements[name].value = value;
  form.addEventListener("input", show);
  form.addEventListener("submit", (event) => event.preventDefault());
  if (location.hash.length > 1) show();
})();
