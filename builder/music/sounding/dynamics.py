"""How loud each moment is: printed levels as steps, hairpins as slopes between them.

Loudness is counted in steps of the printed levels: 0 is ppp, 7 is fff, -1 is silence. The page's sound, the
MIDI file and the daily sets all read the same curve. Its rules are common practice, no source:

1. A level holds from its sign until the next. Before the first sign it is mf.
2. A hairpin goes evenly from the level that stands to the level printed at its end or on the first note
   after it. Where none is printed there, or one that lies the other way, it goes two levels up or down.
3. A hairpin from silence rises to the level at its end, or else to the one that stood. After one to silence
   the level that stood before it holds again.
4. A sign at the end of a note comes before a sign at the beginning of the next.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from fractions import Fraction

from ..event import HAIRPIN_END, LEVELS
from .timing import UnfoldedEvent

FIRST = "mf"
SILENCE = -1
"""The step of silence: as far below ppp as ppp is below pp."""

_WITHOUT_LEVEL = 2
"""Levels that a hairpin goes where its end names none."""


@dataclass(frozen=True, slots=True)
class DynamicCurve:
    """Loudness over time: straight lines between points, two points at one time where it jumps.

    `times` are in whole notes from the beginning, repeats counted, and begin at 0. `steps` are -1 (silence)
    to 7 (fff), one for each time. `known_from` is the time of the first sign, None where there is none.
    """

    times: tuple[Fraction, ...]
    steps: tuple[float, ...]
    known_from: Fraction | None

    def at(self, time: Fraction) -> float:
        """The step from a moment on: after the jump, if there is one at that moment."""
        return self._between(bisect_right(self.times, time), time)

    def until(self, time: Fraction) -> float:
        """The step up to a moment: before the jump, if there is one at that moment."""
        return self._between(bisect_left(self.times, time), time)

    def _between(self, after: int, time: Fraction) -> float:
        if after == 0:
            return self.steps[0]
        if after == len(self.times):
            return self.steps[-1]
        before = after - 1
        way = (time - self.times[before]) / (self.times[after] - self.times[before])
        return self.steps[before] + float(way) * (self.steps[after] - self.steps[before])

    def over(self, start: Fraction, end: Fraction) -> tuple[float, ...]:
        """The steps that a note has from `start` until `end`: at both ends and at every point between."""
        inside = self.steps[bisect_right(self.times, start) : bisect_left(self.times, end)]
        return (self.at(start), *inside, self.until(end))


def dynamic_curve(items: tuple[UnfoldedEvent, ...]) -> DynamicCurve:
    """The loudness of a line, from its events as `timing.unfold` orders them."""
    signs = [sign for item in items for sign in item.shades]
    drawing = _Drawing()
    for number, (time, mark) in enumerate(signs):
        if mark in LEVELS:
            drawing.level(time, mark)
        elif mark == HAIRPIN_END:
            drawing.close(time, _level_after(signs[number:], time, items))
        else:
            drawing.open(time, mark)
    points = drawing.finished(items[-1].end if items else Fraction(0))
    known_from = signs[0][0] if signs else None
    return DynamicCurve(tuple(time for time, _ in points), tuple(step for _, step in points), known_from)


def _level_after(signs: list[tuple[Fraction, str]], time: Fraction, items: tuple[UnfoldedEvent, ...]) -> str:
    """The level printed at a hairpin's end or on the first note after it, or an empty string."""
    onsets = (item.start for item in items if item.event.pitch is not None and item.start >= time)
    latest = next(onsets, time)
    for at, mark in signs[1:]:
        if at > latest or mark not in LEVELS:
            break
        return mark
    return ""


class _Drawing:
    """The curve so far, and the hairpin that is open."""

    def __init__(self) -> None:
        self.standing = LEVELS.index(FIRST)
        self.points: list[tuple[Fraction, float]] = [(Fraction(0), self.standing)]
        self.hairpin = ""

    def _now(self) -> float:
        return self.points[-1][1]

    def _jump(self, time: Fraction, to: float) -> None:
        if self._now() != to:
            self.points += [(time, self._now()), (time, to)]

    def level(self, time: Fraction, mark: str) -> None:
        if self.hairpin:
            self.close(time, mark)
        self.standing = LEVELS.index(mark)
        self._jump(time, self.standing)

    def open(self, time: Fraction, mark: str) -> None:
        if self.hairpin:
            self.close(time, "")
        self._jump(time, SILENCE if mark == "o<" else self.standing)
        self.points.append((time, self._now()))
        self.hairpin = mark

    def close(self, time: Fraction, printed: str) -> None:
        if not self.hairpin:
            return
        if self.hairpin == ">o":
            self.points += [(time, SILENCE), (time, self.standing)]
        else:
            self.standing = self._goal(printed)
            self.points.append((time, self.standing))
        self.hairpin = ""

    def _goal(self, printed: str) -> int:
        rises = self.hairpin != ">"
        if printed:
            goal = LEVELS.index(printed)
            if goal > self._now() if rises else goal < self._now():
                return goal
        if self.hairpin == "o<":
            return self.standing
        further = self.standing + (_WITHOUT_LEVEL if rises else -_WITHOUT_LEVEL)
        return max(0, min(len(LEVELS) - 1, further))

    def finished(self, end: Fraction) -> list[tuple[Fraction, float]]:
        if self.hairpin:
            self.close(end, "")
        return self.points
