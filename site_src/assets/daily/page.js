// The page of daily sets: the set of today or of the day in the address, how long it is to be, its boxes to tick, and
// the days that follow.
"use strict";
(function (daily) {
  const { data } = daily;
  const place = document.querySelector("[data-days]");
  if (!data || !place) return;
  const AHEAD = 7, FIVES = 25;
  const NOT_SAVED = stavewrightSay("This browser is not saving data: your ticks are lost when you leave the page.");
  const root = document.documentElement.dataset.root || "../";
  const form = document.querySelector("[data-set-length]");
  const minutes = form.elements.minutes, goesOn = form.elements.goesOn;
  const lasts = form.querySelector("[data-lasts]");
  const kept = make("p", "quiet kept");
  kept.setAttribute("role", "status");
  const notice = make("p", "quiet", stavewrightSay("Ticks are kept on this device only, in the history below."));
  let asked = null, drawn = "";

  function make(tag, name, ...children) {
    const made = document.createElement(tag);
    if (name) made.className = name;
    made.append(...children);
    return made;
  }

  function button(name, words, does) {
    const made = make("button", name, words);
    made.type = "button";
    made.addEventListener("click", does);
    return made;
  }

  function link(words, address) {
    const made = make("a", "", words);
    made.href = address;
    return made;
  }

  const dayAfter = (date, days) => new Date(date.getFullYear(), date.getMonth(), date.getDate() + days);
  const keyLine = (block) => make("p", "over", ...block.keyWords.map(([words, address]) => (address ? link(words, root + address) : words)));

  // -- a block ---------------------------------------------------------------------------------------------

  function box(block, row) {
    const now = new Date(), made = document.createElement("input");
    made.type = "checkbox";
    made.checked = daily.history.isTicked(now, block);
    row.classList.toggle("done", made.checked);
    made.addEventListener("change", () => tick(block, row, made.checked));
    return make("label", "tick", made, make("span", "vh", stavewrightSay("Played: block {number}, {title}", block)));
  }

  function tick(block, row, on) {
    row.querySelector("input").checked = on;
    row.classList.toggle("done", on);
    notice.textContent = daily.history.tick(new Date(), block, on) ? stavewrightSay("Ticks are kept on this device only, in the history below.") : NOT_SAVED;
    daily.showHistory?.();
  }

  function blockRow(set, block, withBox) {
    const row = make("li", "block");
    const title = make("h3", "");
    const play = withBox && daily.canPlay();
    title.append(play ? button("plain", block.title, () => putOnStand(set, block.number - 1)) : block.title);
    if (play) title.firstChild.setAttribute("aria-label", stavewrightSay("{title}: put the set on the stand from here", block));
    row.dataset.block = block.number;
    row.append(make("span", "number", `${block.number}.`), title, make("span", "lasts", daily.clockTime(block.seconds)), keyLine(block), make("p", "how", block.how));
    if (withBox) row.prepend(box(block, row));
    return row;
  }

  function sittings(set, withBoxes) {
    return set.sittings.flatMap((sitting, number) => {
      const list = make("ol", "set", ...sitting.map((block) => blockRow(set, block, withBoxes)));
      return number ? [make("p", "pause", data.pauseWords), list] : [list];
    });
  }

  // -- the stand -------------------------------------------------------------------------------------------

  const rowOf = (block) => place.querySelector(`.today [data-block="${block.number}"]`);

  function putOnStand(set, from) {
    daily.playSet(set, from, (block) => tick(block, rowOf(block), true));
  }

  // From the first block that is not ticked; where all are, from the first.
  const firstLeft = (set) => Math.max(0, set.blocks.findIndex((block) => !daily.history.isTicked(new Date(), block)));

  // -- the days --------------------------------------------------------------------------------------------

  function today(set, words) {
    const heading = make("h2", "", words + " ", make("span", "lasts", daily.clockTime(set.seconds)));
    const made = make("section", "day today", heading);
    if (daily.canPlay()) made.append(make("p", "play", button("strong", asked.date ? stavewrightSay("Put this set on the stand") : stavewrightSay("Put today’s set on the stand"), () => putOnStand(set, firstLeft(set)))));
    for (const fault of asked.faults) made.append(make("p", "remark", fault));
    if (asked.date) {
      const back = link(stavewrightSay("Today’s set"), "#");
      made.append(make("p", "quiet shared", stavewrightSay("The set of a shared address.") + " ", back));
    }
    const share = link(stavewrightSay("Address of this set"), daily.addressOf(set.date, set.minutes));
    made.append(...sittings(set, true), notice, kept, make("p", "quiet shared", share, stavewrightSay(": it shows the same to everybody with this book.")));
    return made;
  }

  function following(set, words) {
    const time = make("span", "lasts", daily.clockTime(set.seconds));
    return make("details", "day", make("summary", "", words + " ", time), ...sittings(set, false));
  }

  function show() {
    asked = daily.readAddress();
    const now = new Date(), shown = asked.date || now;
    const wanted = asked.minutes || daily.readMinutes();
    const same = daily.dayName(shown) === daily.dayName(now);
    if (same) asked.date = null;
    minutes.value = wanted;
    const set = daily.setOf(shown, wanted);
    const made = [today(set, same ? stavewrightSay("Today, {date}", { date: daily.inWords(shown) }) : daily.inWords(shown))];
    for (let ahead = 1; ahead < AHEAD; ahead++) {
      const date = dayAfter(shown, ahead);
      const words = daily.inWords(date);
      made.push(following(daily.setOf(date, wanted), same && ahead === 1 ? stavewrightSay("Tomorrow, {date}", { date: words }) : words));
    }
    place.replaceChildren(...made);
    place.dataset.drawn = "";
    const time = { time: daily.clockTime(set.seconds) };
    lasts.textContent = set.planned > wanted ? stavewrightSay("The shortest set of this book takes {time} with all rests.", time) : stavewrightSay("This set takes {time} with all rests.", time);
    drawn = daily.dayName(now);
    daily.showHistory?.();
    keepPages(set);
    return set;
  }

  // -- keeping its pages -----------------------------------------------------------------------------------

  const KEPT = {
    "": stavewrightSay("The pages of this set are kept on this device, and open without a network."),
    full: stavewrightSay("There is no more room on this device to keep the pages of this set: it needs a network."),
    network: stavewrightSay("The network failed before the pages of this set were kept on this device."),
    unlike: stavewrightSay("The host does not yet have every page of this set; it is not kept on this device."),
    refused: stavewrightSay("This browser does not keep pages on the device: this set needs a network."),
  };

  async function keepPages(set) {
    if (!window.stavewrightKeep) return;
    kept.textContent = KEPT[await stavewrightKeep.keepFiles(daily.filesOf(set))] || "";
  }

  // -- how long --------------------------------------------------------------------------------------------

  function choose(wanted) {
    const chosen = daily.within(wanted);
    if (!daily.writeMinutes(chosen)) notice.textContent = NOT_SAVED;
    const { date } = daily.readAddress();
    // The length in an address would stand above the one chosen now.
    history.replaceState(null, "", date ? daily.addressOf(date, chosen) : location.pathname + location.search);
    show();
  }

  // Minute by minute up to 25, then in fives.
  function step(by) {
    const now = daily.within(Number(minutes.value) || data.usual);
    if (by > 0) return choose(now < FIVES ? now + 1 : now - (now % 5) + 5);
    return choose(now <= FIVES ? now - 1 : now - (now % 5 || 5));
  }

  form.elements.less.addEventListener("click", () => step(-1));
  form.elements.more.addEventListener("click", () => step(1));
  minutes.addEventListener("change", () => choose(Number(minutes.value) || data.usual));
  form.addEventListener("submit", (event) => event.preventDefault());
  goesOn.checked = daily.readGoesOn();
  goesOn.addEventListener("change", () => daily.writeGoesOn(goesOn.checked));
  goesOn.closest("p").hidden = !daily.canPlay();
  addEventListener("hashchange", show);
  // A page left open over midnight shows the new day when one comes back to it.
  document.addEventListener("visibilitychange", () => { if (!document.hidden && drawn !== daily.dayName(new Date())) show(); });
  form.hidden = false;
  const set = show();
  if (asked.play && daily.canPlay()) {
    history.replaceState(null, "", location.hash.replace(/[#&]play=?$/, "") || location.pathname + location.search);
    putOnStand(set, firstLeft(set));
  }
})((window.stavewrightDaily = window.stavewrightDaily || {}));
