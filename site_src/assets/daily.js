// Daily sets from today's date. The plans stand in the page as data, a round of so many days; this turns to
// today's and lets what is done be ticked off, for today only and on this device only.
"use strict";
(() => {
  const data = JSON.parse(document.getElementById("daily-data").textContent);
  const form = document.querySelector("[data-set-length]");
  const place = document.querySelector("[data-days]");
  const root = document.documentElement.dataset.root || "../";
  const AHEAD = 7;
  const storage = stavewrightStorage;

  const element = (tag, name, ...children) => {
    const made = document.createElement(tag);
    if (name) made.className = name;
    made.append(...children);
    return made;
  };
  const time = (seconds) => Math.floor(seconds / 60) + ":" + String(seconds % 60).padStart(2, "0");

  // Days are counted by the calendar on the wall, so that a set changes at midnight here and not elsewhere.
  const count = (date) => Math.round(Date.UTC(date.getFullYear(), date.getMonth(), date.getDate()) / 86400000);
  const named = new Intl.DateTimeFormat("en-GB", { weekday: "long", day: "numeric", month: "long" });
  const key = (date) => [date.getFullYear(), date.getMonth() + 1, date.getDate()].join("-");

  function link(item) {
    const [address, title] = data.items[item];
    const [path, anchor] = address.split("#");
    const made = element("a", "", title);
    made.href = root + path + "index.html#" + anchor;
    return made;
  }

  function ticks(date) {
    const name = "daily." + location.pathname;
    let done = [];
    try {
      const kept = JSON.parse(storage.read(name));
      if (kept && kept.day === key(date) && Array.isArray(kept.done)) done = kept.done;
    } catch { /* what another version kept is no loss */ }
    return {
      has: (item) => done.includes(data.items[item].slice(0, 3).join("|")),
      set(item, on) {
        const said = data.items[item].slice(0, 3).join("|");
        done = done.filter((other) => other !== said);
        if (on) done.push(said);
        return storage.write(name, JSON.stringify({ day: key(date), done }));
      },
    };
  }

  function row(item, ticked) {
    if (item < 0) return element("li", "pause", "Pause: five minutes away from the instrument");
    const [, title, how, seconds] = data.items[item];
    const made = element("li", "", link(item), " ", element("span", "how", how), " ", element("span", "lasts", time(seconds)));
    if (!ticked) return made;
    const box = document.createElement("input");
    box.type = "checkbox";
    box.checked = ticked.has(item);
    box.setAttribute("aria-label", "Done: " + title + ", " + how);
    made.classList.toggle("done", box.checked);
    box.addEventListener("change", () => {
      made.classList.toggle("done", box.checked);
      if (!ticked.set(item, box.checked)) notice.textContent = "This browser is not saving data: your ticks are lost when you leave the page.";
    });
    made.prepend(box, " ");
    return made;
  }

  const notice = element("p", "quiet", "Ticked for today only, and only on this device.");

  function section(date, days, ahead) {
    const day = days[((count(date) % data.days) + data.days) % data.days];
    const ticked = ahead === 0 ? ticks(date) : null;
    const sets = day.sets.flatMap(([register, items]) => [
      element("h3", "", register + " register"),
      element("ul", "set", ...items.map((item) => row(item, ticked))),
    ]);
    const words = (ahead === 0 ? "Today, " : ahead === 1 ? "Tomorrow, " : "") + named.format(date);
    if (ahead === 0)
      return element("section", "day", element("h2", "", words + " ", element("span", "lasts", time(day.seconds))), ...sets, notice);
    return element("details", "day", element("summary", "", words + " ", element("span", "lasts", time(day.seconds))), ...sets);
  }

  function show() {
    const days = data.plans[form.elements.minutes.value];
    const now = new Date();
    const made = [];
    for (let ahead = 0; ahead < AHEAD; ahead++)
      made.push(section(new Date(now.getFullYear(), now.getMonth(), now.getDate() + ahead), days, ahead));
    place.replaceChildren(...made);
    place.dataset.day = key(now);
  }

  const wanted = storage.read("daily.minutes");
  if (wanted && data.plans[wanted]) form.elements.minutes.value = wanted;
  form.addEventListener("change", () => { storage.write("daily.minutes", form.elements.minutes.value); show(); });
  form.addEventListener("submit", (event) => event.preventDefault());
  // A page left open over midnight shows the new day when one comes back to it.
  document.addEventListener("visibilitychange", () => { if (!document.hidden && place.dataset.day !== key(new Date())) show(); });
  form.hidden = false;
  show();
})();
