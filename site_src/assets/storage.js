// The names of all that this book keeps on a device. Several books may lie on one host, and a browser gives them
// one store there: so each name holds the book's own root, its path on the host (or on the disk). A path holds no
// space, so no book's names begin like another's. For pages and for the worker; a blocked store keeps nothing.
"use strict";
(() => {
  const way = self.document ? document.documentElement.dataset.root : "./";
  const root = new URL(way, self.location.href).pathname;
  const name = (what) => `stavewright ${root} ${what}`;

  function read(what) {
    try { return localStorage.getItem(name(what)); } catch { return null; }
  }

  function write(what, text) {
    try { localStorage.setItem(name(what), text); return true; } catch { return false; }
  }

  // The words of the scripts in the book's language, unless that is English: `words.js`, which is made with the site,
  // has messages by their English words, as the catalogs have them. `{names}` within a message are replaced.
  const others = self.stavewrightWords || { language: "en", messages: {} };
  const plurals = new Intl.PluralRules(others.language);
  const filled = (text, values) => text.replace(/\{(\w+)\}/g, (all, word) => (word in values ? values[word] : all));

  self.stavewrightLanguage = others.language === "en" ? "en-GB" : others.language;
  self.stavewrightSay = (text, values = {}) => filled(others.messages[text] || text, values);
  self.stavewrightSayCount = (one, many, count, values = {}) => {
    const forms = others.messages[one] || [one, many];
    return filled(forms[plurals.select(count) === "one" ? 0 : 1], { count, ...values });
  };
  self.stavewrightStorage = { root, name, read, write };
})();
