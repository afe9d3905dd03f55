// Before anything is painted: that scripts are there, and the look that was chosen, so that no page flashes.
document.documentElement.dataset.script = "";
document.documentElement.dataset.look = stavewrightStorage.read("look") || "device";
