// A set on the stand: block after block, with what is left of each block's time, and the pauses between sittings.
"use strict";
(function (daily) {
  const { data } = daily;
  if (!data) return;
  const storage = stavewrightStorage;
  const TICK = 1000, PAUSED = stavewrightSay("Rest your lips, hands and ears.");

  // The places of a set on the stand, in order: the pieces of a block that stand on one page, or a pause.
  // `block` is the number of the block from 0, -1 for a pause.
  function placesOf(set, root) {
    const places = [];
    set.sittings.forEach((sitting, number) => {
      if (number) places.push({ title: stavewrightSay("Pause"), words: [data.pauseWords.replace(/^[^:]+: */, "").replace(/^./, (letter) => letter.toUpperCase()) + ".", PAUSED], how: "", block: -1, lasts: data.pause });
      for (const block of sitting) {
        let last = null;
        for (const piece of block.pieces) {
          if (last && last.file === piece.file) {
            last.ids.push(piece.id);
            last.lasts += piece.seconds;
            if (!last.how.includes(piece.way)) last.how = stavewrightSay("{first}, then {second}", { first: last.how, second: piece.way });
          } else {
            last = { file: piece.file, address: root + piece.file, ids: [piece.id], title: piece.title, how: piece.way, block: block.number - 1, lasts: piece.seconds };
            places.push(last);
          }
        }
      }
    });
    // From a folder the stand opens anew on each page, where no clock goes: there the whole time stands.
    for (const place of places) place.note = noteOf(set, place, minutesOf(totalOf(set, place)));
    return places;
  }

  const totalOf = (set, place) => (place.block < 0 ? place.lasts : set.blocks[place.block].seconds);
  const minutesOf = (seconds) => (seconds <= 60 ? stavewrightSay("a minute") : stavewrightSay("{minutes} minutes", { minutes: Math.ceil(seconds / 60) }));
  const leftOf = (seconds) => (seconds <= 0 ? stavewrightSay("the time is up") : stavewrightSay("{time} left", { time: minutesOf(seconds) }));
  const noteOf = (set, place, time) => (place.block < 0 ? time : stavewrightSay("Block {number} of {count}, {how} · {time}", { number: place.block + 1, count: set.blocks.length, how: place.how, time }));

  const readGoesOn = () => storage.read("daily.goes-on") === "yes";
  const writeGoesOn = (on) => storage.write("daily.goes-on", on ? "yes" : "no");

  // Puts a set on the stand, from one of its blocks on. `played(block)` hears of a block of which at least half the
  // time has passed when the player goes on from it, or closes the stand.
  function playSet(set, from, played) {
    const root = document.documentElement.dataset.root || "./";
    const places = placesOf(set, root);
    const spent = places.map(() => 0);
    let at = Math.max(0, places.findIndex((place) => place.block === from));
    let since = null, over = false;

    const now = () => performance.now() / 1000;
    const spentOf = (place) => (place.block < 0 ? spent[places.indexOf(place)]
      : places.reduce((sum, other, number) => sum + (other.block === place.block ? spent[number] : 0), 0));

    function count() {
      if (since === null) return;
      const moment = now();
      spent[at] += moment - since;
      since = moment;
    }

    function leave() {
      count();
      since = null;
      const place = places[at];
      if (place.block >= 0 && spentOf(place) >= totalOf(set, place) / 2) played(set.blocks[place.block]);
    }

    function tell() {
      if (over || since === null) return;
      count();
      const place = places[at];
      const note = noteOf(set, place, leftOf(totalOf(set, place) - spentOf(place)));
      if (note !== told) stand.say((told = note));
      // A rest stands between blocks, as the plan has it.
      const last = place.block < 0 || places[at + 1]?.block !== place.block;
      const rest = place.block >= 0 && last && places[at + 1]?.block >= 0 ? data.between : 0;
      if (readGoesOn() && places[at + 1] && spent[at] >= place.lasts + rest) stand.goTo(at + 1);
    }

    let told = "";
    const stand = stavewrightStand.putOnStand(places, {
      at,
      onBlock(number) {
        if (number > at && places[number].block !== places[at].block) leave();
        else count();
        over = false;
        at = number;
        since = now();
        told = "";
        tell();
      },
      onEnd() {
        leave();
        over = true;
      },
      onClose() {
        clearInterval(timer);
        if (!over) leave();
      },
    });
    const timer = setInterval(tell, TICK);
  }

  // Whether this browser has a stand.
  const canPlay = () => Boolean(window.stavewrightStand?.putOnStand);

  Object.assign(daily, { playSet, canPlay, readGoesOn, writeGoesOn });
})((window.stavewrightDaily = window.stavewrightDaily || {}));
