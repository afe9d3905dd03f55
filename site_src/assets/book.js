// What a page can do beyond being read: remember the look, and tick off what to attend to for today.
// Everything here may be missing, and the music is still there.

const storage = stavewrightStorage;

function lookChoice(form) {
  const now = document.documentElement.dataset.look || "device";
  for (const choice of form.elements.look) {
    choice.checked = choice.value === now;
    choice.addEventListener("change", () => {
      document.documentElement.dataset.look = choice.value;
      storage.write("look", choice.value);
    });
  }
  form.hidden = false;
}

function today() {
  const now = new Date();
  return [now.getFullYear(), now.getMonth() + 1, now.getDate()].join("-");
}

function checklist(section) {
  const name = "attend." + section.dataset.attend;
  let ticked = [];
  try {
    const kept = JSON.parse(storage.read(name));
    if (kept && kept.day === today() && Array.isArray(kept.ticked)) ticked = kept.ticked;
  } catch { /* what another version kept is no loss */ }
  const said = section.querySelector(".today");
  for (const box of section.querySelectorAll("input")) {
    const point = box.parentElement.textContent.trim();
    box.checked = ticked.includes(point);
    box.addEventListener("change", () => {
      ticked = ticked.filter((other) => other !== point);
      if (box.checked) ticked.push(point);
      if (!storage.write(name, JSON.stringify({ day: today(), ticked })))
        said.textContent = stavewrightSay("This browser is not saving data: your ticks are lost when you leave the page.");
    });
  }
}

// A book for several instruments: the last one chosen is the one that the contents lead to.
function instrument(page) {
  if (page.instrument) storage.write("instrument", page.instrument);
  const chosen = storage.read("instrument");
  const way = [...document.querySelectorAll("[data-choose]")].find((link) => link.dataset.choose === chosen);
  if (way) {
    way.append(" ", Object.assign(document.createElement("em"), { textContent: stavewrightSay("where you were") }));
    way.parentElement.parentElement.prepend(way.parentElement);
  }
  if (page.instrument || !chosen || !(page.instruments || "").split(" ").includes(chosen)) return;
  for (const link of document.querySelectorAll("[data-contents]"))
    link.href = page.root + chosen + "/index.html" + link.hash;
}

instrument(document.documentElement.dataset);
document.querySelectorAll("[data-look-choice]").forEach(lookChoice);
document.querySelectorAll("[data-attend]").forEach(checklist);
