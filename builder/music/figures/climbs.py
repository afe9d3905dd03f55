"""Figures that climb a ladder: over one octave or several, or over the whole range of an instrument.

A line over the range begins on the lowest first note of the ladder that the instrument has, goes up to the
ladder's highest note in the range, down to its lowest, and back to where it began (common practice of scale
studies, no source). It turns only on notes that sound the same both ways, so melodic minor never meets a
raised and a natural step at a turn.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ..event import Event, Value
from ..keys import Key
from ..pitch import Pitch
from .ladders import Ladder
from .registry import FIGURES, Figure, Maker, choose, held, under_slur, with_breath

WHOLE_RANGE = "whole range"
EXTENTS = {"one octave": 1, "two octaves": 2, "three octaves": 3, "four octaves": 4, WHOLE_RANGE: 0}
"""The words for how far a figure goes, each with its octaves; 0 is the whole range of the instrument."""

UP_AND_DOWN, UP, DOWN = "up-and-down", "up", "down"
WAYS = (UP_AND_DOWN, UP, DOWN)


@dataclass(frozen=True, slots=True)
class Climb:
    """A ladder and what is played on it.

    `cell` are the rungs that are played from each rung, counted from it: (0,) is the ladder itself, (0, 2)
    thirds. Going down, the cell is inverted; with `mirrored`, a cell that only goes down is instead read
    backwards. A ladder has one slur each way, cells have one each.
    """

    ladder: Ladder
    cell: tuple[int, ...]
    way: str
    mirrored: bool = False

    @property
    def reach(self) -> int:
        """How many rungs a cell reaches beyond the rung it begins from."""
        return max(self.cell)

    def over(self, octaves: int, value: Value) -> tuple[Event, ...]:
        """The figure over whole octaves from rung 0."""
        last = self.ladder.per_octave * octaves
        if self.way == UP:
            return self._events([self._rising(0, last - 1)], last, True, value, octaves)
        if self.way == DOWN:
            leg = self._backwards(last - 1, 0) if self.mirrored else self._falling(last, 1)
            return self._events([leg], 0, False, value, octaves)
        if self.reach:
            legs = [self._rising(0, last - 1), self._falling(last, 1)]
        else:
            legs = [self._rising(0, last), self._falling(last - 1, 1)]
        return self._events(legs, 0, False, value, octaves)

    def within(self, low: Pitch, high: Pitch, value: Value) -> tuple[Event, ...]:
        """The figure over all of a range; empty if the range has no room for it."""
        climb, bottom, top = self._placed(low, high)
        if top - bottom < max(1, climb.reach):
            return ()
        last = top - climb.reach
        # Where no cell fits beside the first note of the ladder, the line begins at the bottom.
        begin = 0 if last >= 0 or bottom + climb.reach <= 0 else bottom
        begin = max(begin, bottom)
        if climb.way == UP:
            end = last + 1 if climb.reach else top
            return climb._events([climb._rising(bottom, end - 1)], end, True, value, 0)
        if climb.way == DOWN and climb.mirrored:
            return climb._events([climb._backwards(last, bottom)], bottom, False, value, 0)
        if climb.way == DOWN:
            end = bottom + climb.reach - 1 if climb.reach else bottom
            return climb._events([climb._falling(top, end + 1)], end, False, value, 0)
        if climb.reach:
            down = climb._falling(max(last + 1, begin), bottom + climb.reach)
            back = climb._rising(bottom + 1, min(last, begin - 1))
            legs = [climb._rising(begin, last), [*down, *back]]
        else:
            down = climb._falling(top - 1, bottom if bottom < begin else bottom + 1)
            legs = [climb._rising(begin, top), [*down, *climb._rising(bottom + 1, begin - 1)]]
        return climb._events(legs, begin, True, value, 0)

    def _placed(self, low: Pitch, high: Pitch) -> tuple[Climb, int, int]:
        """The climb with rung 0 in the range, as low as can be, and its lowest and highest rung there.

        The highest is the lowest or below it if fewer than two rungs are in the range.
        """
        first = self.ladder.rung(0).midi
        octaves = -((first - low.midi) // 12)
        if first + 12 * octaves > high.midi:
            octaves -= 1
        ladder = self.ladder.octaves(octaves)
        bottom = 0
        while ladder.rung(bottom).midi < low.midi:
            bottom += 1
        while ladder.rung(bottom - 1).midi >= low.midi:
            bottom -= 1
        top = bottom - 1
        while ladder.rung(top + 1).midi <= high.midi:
            top += 1
        while bottom < top and not ladder.turns(bottom):
            bottom += 1
        while top > bottom and not ladder.turns(top):
            top -= 1
        return Climb(ladder, self.cell, self.way, self.mirrored), bottom, top

    def _rising(self, first: int, last: int) -> list[list[Pitch]]:
        return [[self.ladder.rung(place + step) for step in self.cell] for place in range(first, last + 1)]

    def _falling(self, first: int, last: int) -> list[list[Pitch]]:
        return [
            [self.ladder.rung(place - step, rising=False) for step in self.cell]
            for place in range(first, last - 1, -1)
        ]

    def _backwards(self, first: int, last: int) -> list[list[Pitch]]:
        return [
            [self.ladder.rung(place + step, rising=False) for step in reversed(self.cell)]
            for place in range(first, last - 1, -1)
        ]

    def _events(
        self, legs: list[list[list[Pitch]]], end: int, rising: bool, value: Value, octaves: int
    ) -> tuple[Event, ...]:
        """Legs of cells and the last rung as events.

        A ladder of one octave is one slur, and ends with a value if it goes one way. In all else the last
        note has two values, and a breath follows each leg.
        """
        final = self.ladder.rung(end, rising)
        one_way = self.way != UP_AND_DOWN
        closing = held(final, value, 1 if one_way and octaves == 1 and not self.reach else 2)
        legs = [leg for leg in legs if leg]
        if self.reach:
            cells = [[[Event(pitch, value) for pitch in cell] for cell in leg] for leg in legs]
            if cells and legs[-1][-1][-1] == final and not self.mirrored:
                # The last cell arrives on the last note, so that this is not begun again.
                cells[-1][-1][-1:], closing = closing, []
            rows = [[event for cell in leg for event in under_slur(cell)] for leg in cells]
            return tuple(event for row in _breathing(rows, closing) for event in row)
        rows = [[Event(pitch, value) for cell in leg for pitch in cell] for leg in legs]
        if octaves == 1:
            return tuple(with_breath(under_slur([*(event for row in rows for event in row), *closing])))
        return tuple(event for row in _breathing(rows, closing, slurred=True) for event in row)


def _breathing(rows: list[list[Event]], closing: list[Event], slurred: bool = False) -> list[list[Event]]:
    """Rows of events with a breath after each, the last of them with the closing note."""
    rows = [row for row in rows if row]
    rows = [*rows[:-1], [*rows[-1], *closing]] if rows else [closing]
    return [with_breath(under_slur(row) if slurred else row) for row in rows]


Planner = Callable[[Pitch, Key, tuple[str, ...]], Climb]
"""Makes the climb of a figure from home, key and the words that are left when its extent is taken out."""


def climbing(
    name: str, means: str, example: str, one_octave: Maker | None = None
) -> Callable[[Planner], Planner]:
    """Register a figure that climbs a ladder, under its word.

    It takes the words of `EXTENTS`. Without an instrument, the whole range is one octave, which `one_octave`
    makes if it has a form of its own.
    """

    def register(plan: Planner) -> Planner:
        def make(home: Pitch, key: Key, value: Value, words: tuple[str, ...]) -> tuple[Event, ...]:
            extent, rest = extent_of(words)
            if one_octave and EXTENTS[extent] <= 1:
                return one_octave(home, key, value, rest)
            return plan(home, key, rest).over(EXTENTS[extent] or 1, value)

        def within(
            home: Pitch, key: Key, value: Value, words: tuple[str, ...], low: Pitch, high: Pitch
        ) -> tuple[Event, ...]:
            return plan(home, key, extent_of(words)[1]).within(low, high, value)

        FIGURES[name] = Figure(name, means, example, make, within)
        return plan

    return register


def extent_of(words: Sequence[str]) -> tuple[str, tuple[str, ...]]:
    """How far a figure goes, and its other words. Raises ValueError if it is said twice."""
    said = [word for word in words if word in EXTENTS]
    (extent,) = choose(said, EXTENTS)
    return extent, tuple(word for word in words if word not in EXTENTS)
