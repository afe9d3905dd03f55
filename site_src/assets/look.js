// Before anything is painted: that scripts are there, and the look that was chosen, so that no page flashes.
document.documentElement.dataset.script = "";
document.documentElement.dataset.look = stavewrightStorage.read("look") || "device";
// The letters of most words, asked for before the style that names them is read; from a disk, browsers refuse that.
if (location.protocol !== "file:")
  for (const face of ["regular", "italic"]) {
    const href = document.documentElement.dataset.root + "assets/fonts/stavewright-serif-1-" + face + ".woff2";
    const link = Object.assign(document.createElement("link"), { rel: "preload", as: "font", type: "font/woff2", href });
    link.crossOrigin = "anonymous";
    document.head.append(link);
  }
