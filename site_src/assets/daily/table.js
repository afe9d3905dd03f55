// The history on the page: the last weeks in a table, what has waited for long, a file to take away, and erasing.
"use strict";
(function (daily) {
  const { data, history } = daily;
  const section = document.querySelector("[data-history]");
  if (!data || !section) return;
  const rows = section.querySelector("tbody");
  const said = section.querySelector("[role=status]");
  const [save, erase, yes, no] = ["save", "erase", "yes", "no"].map((name) => section.querySelector(`[name=${name}]`));

  function cells(...texts) {
    const row = document.createElement("tr");
    texts.forEach((text, place) => {
      const cell = document.createElement(place ? "td" : "th");
      if (!place) cell.scope = "row";
      cell.textContent = text;
      row.append(cell);
    });
    return row;
  }

  const monday = (date) => new Intl.DateTimeFormat(stavewrightLanguage, { day: "numeric", month: "long", timeZone: "UTC" }).format(date);
  const ago = (days) => (days === null ? stavewrightSay("not yet") : days === 1 ? stavewrightSay("yesterday") : stavewrightSayCount("{count} day ago", "{count} days ago", days));

  function list(name, found) {
    const place = section.querySelector(`[data-waiting=${name}]`);
    place.replaceChildren(...found.map(([words, days]) => {
      const item = document.createElement("li"), when = document.createElement("span");
      when.className = "quiet";
      when.textContent = ago(days);
      item.append(words + " ", when);
      return item;
    }));
    place.parentElement.hidden = !found.length;
  }

  function showHistory() {
    const now = new Date(), empty = history.isEmpty();
    for (const part of section.querySelectorAll("[data-kept]")) part.hidden = empty;
    section.querySelector("[data-none]").hidden = !empty;
    rows.replaceChildren(...history.weeks(now).map((week) =>
      cells(monday(week.begins), String(week.days), String(week.blocks), `${Math.round(week.seconds / 60)}`)));
    list("exercises", history.exercisesWaiting(now));
    list("keys", history.keysWaiting(now));
  }

  save.addEventListener("click", () => {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([history.asText()], { type: "application/json" }));
    link.download = `daily-history-${daily.dayName(new Date())}.json`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  });

  const ask = (asking) => {
    yes.parentElement.hidden = !asking;
    erase.parentElement.hidden = asking;
    (asking ? no : erase).focus();
  };
  erase.addEventListener("click", () => ask(true));
  no.addEventListener("click", () => ask(false));
  yes.addEventListener("click", () => {
    const done = history.erase();
    ask(false);
    said.textContent = done ? stavewrightSay("The history is erased.") : stavewrightSay("This browser is not saving data: what was kept before may still be there.");
    for (const box of document.querySelectorAll(".today .tick input")) {
      box.checked = false;
      box.closest(".block").classList.remove("done");
    }
    showHistory();
    section.querySelector("h2").focus();
  });

  Object.assign(daily, { showHistory });
  section.hidden = false;
  showHistory();
})((window.stavewrightDaily = window.stavewrightDaily || {}));
