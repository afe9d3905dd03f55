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

  self.stavewrightStorage = { root, name, read, write };
})();
