"""Measures difficulty, so that easier music comes before harder music.

The measure is a sum of four parts, in points; common practice, no source. It compares pieces for one
instrument, not pieces for different instruments.

- intervals: the mean distance between neighbouring notes, one point a semitone;
- register: the mean distance of the notes, weighed by their time, from the register a set begins in, half a
  point a semitone beyond it;
- dynamics: the mean distance of the level from the two middle ones, mp and mf, two points a level;
- length: a point for every fifteen seconds, and one for every three seconds that the longest breath lasts
  beyond nine.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..music.instruments import Instrument
from ..music.score import LEVELS
from .measure import Moment, longest_breath, register_order

_MIDDLE = (LEVELS.index("mp"), LEVELS.index("mf"))
_EASY_BREATH = 9


@dataclass(frozen=True, slots=True)
class Difficulty:
    """The four parts of the measure, in points."""

    intervals: float
    register: float
    dynamics: float
    length: float

    @property
    def tenths(self) -> int:
        """The sum in tenths of a point, rounded; 0 and more."""
        return round(10 * (self.intervals + self.register + self.dynamics + self.length))


def difficulty(notes: tuple[Moment, ...], seconds: float, instrument: Instrument) -> Difficulty:
    """How difficult the notes of a score are on an instrument; `seconds` is its whole length."""
    return Difficulty(
        intervals=_intervals(notes),
        register=_register(notes, instrument),
        dynamics=_dynamics(notes),
        length=seconds / 15 + max(0.0, longest_breath(notes) - _EASY_BREATH) / 3,
    )


def _intervals(notes: tuple[Moment, ...]) -> float:
    steps = [abs(note.step.semitones) for note in notes if note.step is not None]
    return sum(steps) / len(steps) if steps else 0.0


def _register(notes: tuple[Moment, ...], instrument: Instrument) -> float:
    order = register_order(instrument)
    homes = [register for register in instrument.registers if register.name == order[0]] if order else []
    whole = sum((note.seconds for note in notes), 0.0)
    if not homes or not whole:
        return 0.0
    low, high = min(home.low.midi for home in homes), max(home.high.midi for home in homes)
    beyond = sum(
        (note.seconds * max(low - note.pitch.midi, note.pitch.midi - high, 0) for note in notes), 0.0
    )
    return beyond / whole / 2


def _dynamics(notes: tuple[Moment, ...]) -> float:
    shares = [share for note in notes for share in note.levels]
    whole = sum((seconds for _, seconds in shares), 0.0)
    if not whole:
        return 0.0
    low, high = _MIDDLE
    beyond = sum((seconds * max(low - level, level - high, 0) for level, seconds in shares), 0.0)
    return 2 * beyond / whole
