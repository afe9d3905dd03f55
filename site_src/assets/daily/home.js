// Today's set on the home page, in words.
"use strict";
(function (daily) {
  const { data } = daily;
  const place = document.querySelector("[data-today]");
  if (!place) return;
  place.hidden = !data;
  if (!data) return;
  const set = daily.setOf(new Date(), daily.readMinutes());
  place.querySelector("h2").textContent = stavewrightSay("Today, {date}", { date: daily.inWords(set.date) });
  place.querySelector("ol").replaceChildren(...set.blocks.map((block) => {
    const row = document.createElement("li"), title = document.createElement("span"), how = document.createElement("em");
    title.textContent = `${block.title} `;
    how.textContent = block.how;
    row.append(title, how);
    row.classList.toggle("done", daily.history.isTicked(set.date, block));
    return row;
  }));
  const link = place.querySelector("a");
  link.textContent = stavewrightSay("Play today’s set");
  link.href += "#play";
  place.querySelector("[data-lasts]").textContent = ` ${daily.clockTime(set.seconds)}`;
})((window.stavewrightDaily = window.stavewrightDaily || {}));
