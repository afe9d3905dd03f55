"""Puts a plan into words: each day's sets, line by line, as every output shows them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from ..music.exercise import DIRECTION_TEXT
from .choices import Choice
from .plan import PAUSE_MINUTES, Plan, pauses_in

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
PAUSE = f"Pause: {PAUSE_MINUTES} minutes away from the instrument"


@dataclass(frozen=True, slots=True)
class Set:
    """One register of a day; a pause comes before the choice with the number `pause`."""

    register: str
    items: tuple[Choice, ...]
    pauses: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Day:
    """A day of a plan: its number from 1, its date if one is known, and its whole length with pauses."""

    number: int
    on: date | None
    sets: tuple[Set, ...]
    seconds: int

    @property
    def name(self) -> str:
        """`Day 3`, or `Day 3, Friday 27 November`."""
        if self.on is None:
            return f"Day {self.number}"
        return f"Day {self.number}, {date_in_words(self.on)}"


def date_in_words(on: date) -> str:
    """`Friday 27 November`."""
    return f"{_WEEKDAYS[on.weekday()]} {on.day} {_MONTHS[on.month - 1]}"


def how(item: Choice) -> str:
    """How a choice is played: `from D5, going down, slurred`."""
    return ", ".join(filter(None, (f"from {item.start}", DIRECTION_TEXT[item.direction], item.variation)))


def days(plan: Plan, start: date | None = None) -> tuple[Day, ...]:
    """Every day of a plan, with dates if the first one's is given."""
    return tuple(
        Day(
            number + 1,
            start + timedelta(days=number) if start else None,
            _sets(plan, items),
            sum(item.whole for item in items) + 60 * PAUSE_MINUTES * pauses_in(items),
        )
        for number, items in enumerate(plan.days)
    )


def _sets(plan: Plan, items: tuple[Choice, ...]) -> tuple[Set, ...]:
    """A day by registers, with pauses after equal shares of the playing."""
    count = pauses_in(items)
    whole = sum(item.whole for item in items)
    before: set[int] = set()
    played, due = 0, 1
    for number, item in enumerate(items):
        if due <= count and played and played * (count + 1) >= whole * due:
            before.add(number)
            due += 1
        played += item.whole
    found = []
    for register in plan.problem.registers:
        inside = [number for number, item in enumerate(items) if item.register == register]
        if inside:
            marks = frozenset(place for place, number in enumerate(inside) if number in before)
            found.append(Set(register, tuple(items[number] for number in inside), marks))
    return tuple(found)


def clock_time(seconds: int) -> str:
    """`12:05`, minutes and seconds."""
    return f"{seconds // 60}:{seconds % 60:02d}"


def plan_text(plan: Plan, start: date | None = None) -> str:
    """The whole plan as plain text."""
    rows = []
    for day in days(plan, start):
        rows.append(f"{day.name}: {clock_time(day.seconds)}")
        for group in day.sets:
            rows.append(f"  {group.register} register")
            for place, item in enumerate(group.items):
                if place in group.pauses:
                    rows.append(f"    -- {PAUSE} --")
                rows.append(
                    f"    [ ] {item.title}, {item.key_name}: {how(item)} ({clock_time(item.seconds)})"
                )
        rows.append("")
    return "\n".join(rows).rstrip()
