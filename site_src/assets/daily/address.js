// The address of a day's set, the same for everybody with the same book: `#day=2026-11-28&minutes=15`. `&play` puts it
// on the stand.
"use strict";
(function (daily) {
  const { data } = daily;
  if (!data) return;

  const shown = (text) => `“${text.slice(0, 20)}${text.length > 20 ? "…" : ""}”`;

  function readDay(text) {
    const parts = /^(\d{4})-(\d\d)-(\d\d)$/.exec(text)?.slice(1).map(Number);
    if (!parts) return null;
    const date = new Date(parts[0], parts[1] - 1, parts[2]);
    return daily.dayName(date) === text ? date : null;
  }

  // What the page's address asks for: { date, minutes, play, faults }. `date` and `minutes` are null where it does
  // not say them; `faults` are sentences about what could not be read.
  function readAddress() {
    const asked = new URLSearchParams(location.hash.slice(1)), faults = [];
    const found = { date: null, minutes: null, play: asked.has("play"), faults };
    if (asked.has("day")) {
      found.date = readDay(asked.get("day"));
      if (!found.date) faults.push(stavewrightSay("The address asks for the day {day}, which is no date such as 2026-11-28: this is today’s set.", { day: shown(asked.get("day")) }));
    }
    if (asked.has("minutes")) {
      const minutes = /^\d{1,3}$/.test(asked.get("minutes")) ? Number(asked.get("minutes")) : 0;
      if (minutes && minutes === daily.within(minutes)) found.minutes = minutes;
      else faults.push(stavewrightSay("The address asks for {minutes} minutes, which is no number from {least} to {most}: this is a set of your usual length.", { minutes: shown(asked.get("minutes")), least: data.least, most: data.most }));
    }
    return found;
  }

  const addressOf = (date, minutes) => `#day=${daily.dayName(date)}&minutes=${minutes}`;

  Object.assign(daily, { readAddress, addressOf });
})((window.stavewrightDaily = window.stavewrightDaily || {}));
