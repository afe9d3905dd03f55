"""Where a piece's lines end: at the ends of phrases, alike in every key, and never crowded.

A line's width is reckoned from its note values and not from its key: room is left for a signature of six
signs, so that an exercise has the same lines in all twelve keys. Among all ways to break a piece the one is
taken whose lines are most alike in density and most often end where the player breathes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from math import inf, log2

from builder.music.score import Event, Line, Score

CROWDED = 0.9
"""A line is never set tighter than this part of its natural width, unless it is a single beat that long."""

JUSTIFIED = 0.72
"""A piece of one line fills the line where it is naturally this part of it at least."""

# In staff spaces, fitted to 150 random rows set by LilyPond 2.24 with the house style's spacing; off by 1 in
# a row of 50 as a rule, by 4 at most.
_OPENING = 4.5
_METER = 3.2
_SIGNATURE = 8.3
_BAR = 1.7
_NOTE = 2 * 1.7 - 0.5
_DOUBLING = 1.7
_SHORTEST = 2.5
_GRACE = 1.5
_CHANGE = 3.0
_ACCIDENTALS = 0.15
_LETTER = 1.1

# What a line costs; a line set twice as wide as it would naturally be costs 1.
_LINE = 0.15
_TIGHT = 8.0
_NO_PHRASE_END = 0.5
_IN_A_SLUR = 0.5
_IN_A_BAR = 3.0


@dataclass(frozen=True, slots=True)
class LineEnd:
    """A place where a line ends: after which event of which bar, from 0. `calm` where the player has time."""

    bar: int
    event: int
    calm: bool
    mid_bar: bool = False


@dataclass(frozen=True, slots=True)
class Lines:
    """How a piece is broken: its inner line ends, and whether its lines are as wide as the paper allows."""

    ends: tuple[LineEnd, ...]
    justified: bool


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Music between two places where a line may end. `price` is what ending a line after it costs."""

    width: float
    end: LineEnd
    price: float


@cache
def _space(length: Fraction) -> float:
    return max(_SHORTEST, _NOTE + _DOUBLING * log2(8 * length)) if length else 0.0


def event_width(event: Event) -> float:
    """The room a note or rest takes naturally, in staff spaces."""
    space = _space(event.length)
    space += _GRACE * len(event.graces) + (_CHANGE if event.clef else 0.0) + _ACCIDENTALS
    return max(space, _LETTER * len(event.syllable) + 1) if event.syllable else space


def is_calm(line: Line, bar: int, event: int) -> bool:
    """Whether the player has time after an event: a rest, a breath, a fermata or the end of a section."""
    here = line.bars[bar].events[event]
    if here.pitch is None or not {"breath", "fermata"}.isdisjoint(here.marks):
        return True
    if event + 1 < len(line.bars[bar].events):
        return line.bars[bar].events[event + 1].pitch is None
    following = line.bars[bar + 1].events[0] if bar + 1 < len(line.bars) else None
    return line.bars[bar].end != "|" or (following is not None and following.pitch is None)


def lines(score: Score, room: float) -> Lines:
    """The lines of a piece on paper `room` staff spaces wide."""
    stretches = list(_stretches(score.line, room))
    whole = sum(stretch.width for stretch in stretches) + _OPENING + _SIGNATURE + _METER
    if whole <= room:
        return Lines((), whole >= JUSTIFIED * room)
    count = len(stretches)
    best: list[tuple[float, int]] = [(0.0, 0)] + [(inf, 0)] * count
    for start in range(count):
        width = _OPENING + _SIGNATURE + (0.0 if start else _METER)
        for end in range(start + 1, count + 1):
            width += stretches[end - 1].width
            crowded = width * CROWDED > room
            if crowded and end > start + 1:
                break
            price = stretches[end - 1].price if end < count else 0.0
            cost = best[start][0] + _LINE + _looks(width, room) + price
            if cost < best[end][0]:
                best[end] = (cost, start)
            if crowded:
                break
    ends = []
    at = count
    while at > 0:
        at = best[at][1]
        if at:
            ends.append(stretches[at - 1].end)
    return Lines(tuple(reversed(ends)), True)


def _looks(width: float, room: float) -> float:
    """The cost of a line's density: 0 as it would naturally be, 1 twice as wide."""
    return (room / width - 1) ** 2 if width <= room else _TIGHT * (width / room - 1)


def _stretches(line: Line, room: float) -> Iterator[_Stretch]:
    """The music cut wherever a line may end: at bar lines, and within bars that no line holds."""
    inside = 0
    fits = room * 1.0 - _OPENING - _SIGNATURE
    for number, bar in enumerate(line.bars):
        total = sum(map(event_width, bar.events)) + _BAR
        long = total * CROWDED > fits
        width = _CHANGE if bar.meter else 0.0
        in_tuplet = False
        now = bar.events[0].length * 0
        for place, event in enumerate(bar.events):
            width += event_width(event)
            now += event.length
            inside += sum(span == "slur" for span in event.opens) - sum(
                span == "slur" for span in event.closes
            )
            in_tuplet = (in_tuplet or any(span.startswith("tuplet") for span in event.opens)) and not any(
                span.startswith("tuplet") for span in event.closes
            )
            last = place + 1 == len(bar.events)
            # Within a bar a line ends after a whole beat, where no group of notes is open.
            if not last and (not long or in_tuplet or now.denominator > 4):
                continue
            calm = is_calm(line, number, place)
            price = 0.0 if calm else _NO_PHRASE_END
            price += _IN_A_SLUR if inside > 0 or event.tie else 0.0
            price += 0.0 if last else _IN_A_BAR
            yield _Stretch(width + (_BAR if last else 0.0), LineEnd(number, place, calm, not last), price)
            width = 0.0
