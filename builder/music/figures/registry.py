"""Registers generators, and helps them with choices, slurs and breaths."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from ...visible import shown
from ..event import SLUR, Event, Value, values_for
from ..keys import Key
from ..pitch import Pitch

Maker = Callable[[Pitch, Key, Value, tuple[str, ...]], tuple[Event, ...]]
RangeMaker = Callable[[Pitch, Key, Value, tuple[str, ...], Pitch, Pitch], tuple[Event, ...]]


class UnknownWord(ValueError):
    """Raised on a word that a figure does not take; `known` are those that it takes."""

    def __init__(self, word: str, known: tuple[str, ...]) -> None:
        takes = ", ".join(known) or "a note value only"
        super().__init__(f"{shown(word)} says nothing to it; it takes {takes}")
        self.word, self.known = word, known


@dataclass(frozen=True, slots=True)
class Figure:
    """A generator: `make(home, key, value, words)` returns its notes without bar lines.

    `within(home, key, value, words, low, high)` returns them over all of a range, if the figure can have one;
    it returns none if the range has no room for them.
    Both raise ValueError, with a clause for a message, on words that they do not understand.
    """

    name: str
    means: str
    example: str
    make: Maker
    within: RangeMaker | None = None


FIGURES: dict[str, Figure] = {}


def figure(name: str, means: str, example: str) -> Callable[[Maker], Maker]:
    """Register a generator under its word."""

    def register(make: Maker) -> Maker:
        FIGURES[name] = Figure(name, means, example, make)
        return make

    return register


def choose(words: Sequence[str], *choices: Iterable[str]) -> list[str]:
    """One word from each set of choices, in the order of the sets; the first of a set if none is named.

    Raises UnknownWord on a word in no set, and ValueError on two of one set.
    """
    sets = [list(choice) for choice in choices]
    chosen = [""] * len(sets)
    for word in words:
        place = next((number for number, choice in enumerate(sets) if word in choice), None)
        if place is None:
            raise UnknownWord(word, tuple(word for choice in sets for word in choice))
        if chosen[place]:
            raise ValueError(f"{shown(chosen[place])} and {shown(word)} cannot both be")
        chosen[place] = word
    return [word or choice[0] for word, choice in zip(chosen, sets, strict=True)]


def held(pitch: Pitch, value: Value, times: int) -> list[Event]:
    """One pitch that lasts this many values, tied if no single note does."""
    parts = values_for(value.written * times)
    return [
        Event(pitch, replace(part, scale=value.scale), tie=number < len(parts))
        for number, part in enumerate(parts, start=1)
    ]


def under_slur(events: list[Event]) -> list[Event]:
    """The events under one slur, if there are at least two."""
    if len(events) < 2:
        return events
    first, *middle, last = events
    return [
        replace(first, opens=(*first.opens, SLUR)),
        *middle,
        replace(last, closes=(*last.closes, SLUR)),
    ]


def with_breath(events: list[Event]) -> list[Event]:
    """The events with a breath after the last."""
    return [*events[:-1], events[-1].marked("breath")]
