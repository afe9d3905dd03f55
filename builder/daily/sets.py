"""Puts a plan into words: each day's blocks as every output shows them, and the plan as JSON values."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from ..book.pieces import AS_WRITTEN
from ..music.exercise import DIRECTION_TEXT
from ..music.winds.instrument import register_words
from ..translation.said import Said, dated, joined, key_name, listed, note_name, phrase
from ..variations.printed_names import label_words
from .blocks import Block
from .plan import PAUSE_MINUTES, Plan, Sitting, whole_seconds

_WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
PAUSE = phrase("Pause: {minutes} minutes away from the instrument", minutes=PAUSE_MINUTES)


@dataclass(frozen=True, slots=True)
class Day:
    """A day of a plan: its number from 1, its date if one is known, and its whole length with pauses.

    There is a pause between two sittings.
    """

    number: int
    on: date | None
    sittings: tuple[Sitting, ...]
    seconds: int

    @property
    def name(self) -> Said:
        """`Day 3`, or `Day 3, Friday 27 November`."""
        if self.on is None:
            return phrase("Day {number}", number=self.number)
        return phrase("Day {number}, {date}", number=self.number, date=date_in_words(self.on))

    @property
    def blocks(self) -> tuple[Block, ...]:
        """Its blocks in the order they are played."""
        return tuple(block for sitting in self.sittings for block in sitting)


def date_in_words(on: date) -> Said:
    """`Friday 27 November`."""
    return dated(f"{_WEEKDAYS[on.weekday()]} {on.day} {_MONTHS[on.month - 1]}", on)


def days(plan: Plan, start: date | None = None) -> tuple[Day, ...]:
    """Every day of a plan, with dates if the first one's is given."""
    return tuple(
        Day(
            number + 1,
            start + timedelta(days=number) if start else None,
            sittings,
            sum(map(whole_seconds, sittings)) + 60 * PAUSE_MINUTES * (len(sittings) - 1),
        )
        for number, day in enumerate(plan.days)
        if (sittings := tuple(filter(None, day)))
    )


def block_title(block: Block) -> str:
    """`Slow tide, middle register`; without a register where the exercise goes by key."""
    item = block.items[0]
    if not item.by_pitch:
        return item.title
    return joined((item.title, register_words(block.portion.register)), ", ")


def block_keys(block: Block) -> Said:
    """`from D5, C sharp 5 and C5, going down`, or `in A minor and E minor`, or `on D and E flat`."""
    items = block.keys
    if items[0].by_pitch:
        direction = DIRECTION_TEXT[block.portion.direction]
        starts = listed(note_name(item.start) for item in items)
        return joined((phrase("from {notes}", notes=starts), direction), ", ")
    names = [item.key_name for item in items]
    if all(name.startswith("on ") for name in names):
        return phrase("on {notes}", notes=listed(note_name(name.removeprefix("on ")) for name in names))
    return phrase("in {keys}", keys=listed(map(key_name, names)))


def block_how(block: Block) -> Said:
    """`as written, then swell up`."""
    if not block.plain_first:
        return way_words(block.way)
    return phrase("{first}, then {second}", first=AS_WRITTEN, second=way_words(block.way))


def way_words(way: str) -> Said:
    """A way as the page names it: an author's name for it stays hers."""
    return label_words(way)


def passes(block: Block) -> tuple[str, ...]:
    """The ways in which the block's keys are gone through, in their order: `as written`, `swell up`."""
    return (AS_WRITTEN, block.way) if block.plain_first else (block.way,)


def clock_time(seconds: int) -> str:
    """`12:05`, minutes and seconds."""
    return f"{seconds // 60}:{seconds % 60:02d}"


def plan_text(plan: Plan, start: date | None = None) -> str:
    """The whole plan as plain text."""
    rows = []
    for day in days(plan, start):
        rows.append(f"{day.name}: {clock_time(day.seconds)}")
        number = 0
        for place, sitting in enumerate(day.sittings):
            if place:
                rows.append(f"  -- {PAUSE} --")
            for block in sitting:
                number += 1
                boxes = ", then ".join(f"[ ] {way}" for way in passes(block))
                rows.append(f"  {number}. {block_title(block)} ({clock_time(block.seconds)})")
                rows.append(f"     {block_keys(block)}")
                rows.append(f"     {boxes}")
        rows.append("")
    return "\n".join(rows).rstrip()


def plan_json(plan: Plan, start: date | None = None) -> dict[str, Any]:
    """The plan as JSON values: days, each with blocks, each with its pieces in the order played.

    `keys` are key pages (`d-flat`), `starts` the first notes, `seconds` lengths with short rests; a day's
    also has the rests between blocks and the pauses between sittings.
    """
    return {"minutes": plan.problem.wish.minutes, "days": [_day_json(day) for day in days(plan, start)]}


def _day_json(day: Day) -> dict[str, Any]:
    return {
        "day": day.number,
        "date": day.on.isoformat() if day.on else None,
        "seconds": day.seconds,
        "blocks": [
            {
                "sitting": number,
                "exercise": block.exercise,
                "title": block.items[0].title,
                "variation": block.way,
                "as_written_first": block.plain_first,
                "register": block.portion.register,
                "direction": block.portion.direction,
                "keys": [item.key for item in block.keys],
                "starts": [item.start for item in block.keys],
                "grade": block.grade,
                "seconds": block.seconds,
                "pieces": [
                    {
                        "key": item.key,
                        "setting": item.anchor,
                        "variation": item.variation,
                        "seconds": item.seconds,
                        "rest": item.rest,
                    }
                    for item in block.items
                ],
            }
            for number, sitting in enumerate(day.sittings, 1)
            for block in sitting
        ],
    }
