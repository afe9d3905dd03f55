"""How loud each moment is: printed levels as steps, hairpins as slopes between them.

Loudness is counted as MIDI counts velocity, 0 to 127. The rules:

1. Levels stand sixteen apart (`LEVEL`), an even scale. Common practice, no source: the MIDI 1.0 specification
   says only that 64 is the middle and that 0 is no note.
2. Before the first sign the level is mf.
3. A hairpin goes evenly from the level that stands to the level printed at its end or on the first note
   after it; where none is printed there, or one that lies the other way, two levels up or down.
4. A hairpin from silence begins at 0 and rises to the level at its end, or else to the one that stood; one
   to silence ends at 0, and afterwards the level that stood before it holds again.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from fractions import Fraction

from builder.music.score import HAIRPIN_END, LEVELS
from builder.music.timing import Heard

LEVEL: dict[str, int] = {level: min(127, 16 * number) for number, level in enumerate(LEVELS, start=1)}
"""ppp 16, pp 32, p 48, mp 64, mf 80, f 96, ff 112, fff 127."""

FIRST = "mf"


@dataclass(frozen=True, slots=True)
class Curve:
    """Loudness over time: straight lines between points, two points at one time where it steps.

    `times` are whole ticks from the beginning, repeats counted, and begin at 0; `levels` are 0 to 127.
    """

    times: tuple[int, ...]
    levels: tuple[float, ...]

    def at(self, time: int) -> float:
        """The loudness from a moment on: after a step that stands there."""
        return self._between(bisect_right(self.times, time), time)

    def until(self, time: int) -> float:
        """The loudness up to a moment: before a step that stands there."""
        return self._between(bisect_left(self.times, time), time)

    def _between(self, after: int, time: int) -> float:
        if after == 0:
            return self.levels[0]
        if after == len(self.times):
            return self.levels[-1]
        before = after - 1
        way = (time - self.times[before]) / (self.times[after] - self.times[before])
        return self.levels[before] + way * (self.levels[after] - self.levels[before])

    def over(self, start: int, end: int) -> tuple[float, ...]:
        """The levels that a note has from `start` until `end`: at both ends and at every point between."""
        inside = self.levels[bisect_right(self.times, start) : bisect_left(self.times, end)]
        return (self.at(start), *inside, self.until(end))


def loudness(items: tuple[Heard, ...], whole: int) -> Curve:
    """The loudness of a line by the rules at the top of this module; `whole` is a whole note in ticks.

    `items` is the line as `timing.hearing` puts it.
    """
    signs = [
        (item.start + shade.at * item.event.length, shade.mark)
        for item in items
        for shade in item.event.shades
    ]
    drawing = _Drawing()
    for number, (time, mark) in enumerate(signs):
        if mark in LEVEL:
            drawing.level(time, mark)
        elif mark == HAIRPIN_END:
            drawing.close(time, _level_after(signs[number:], time, items))
        else:
            drawing.open(time, mark)
    points = drawing.finished(items[-1].end if items else Fraction(0))
    return Curve(tuple(round(time * whole) for time, _ in points), tuple(level for _, level in points))


def _level_after(signs: list[tuple[Fraction, str]], time: Fraction, items: tuple[Heard, ...]) -> str:
    """The level printed at a hairpin's end or on the first note after it, or an empty string."""
    onsets = (item.start for item in items if item.event.pitch is not None and item.start >= time)
    latest = next(onsets, time)
    for at, mark in signs[1:]:
        if at > latest or mark not in LEVEL:
            break
        return mark
    return ""


class _Drawing:
    """The curve so far, and the hairpin that is open."""

    def __init__(self) -> None:
        self.points: list[tuple[Fraction, float]] = [(Fraction(0), LEVEL[FIRST])]
        self.standing = FIRST
        self.hairpin = ""

    def _now(self) -> float:
        return self.points[-1][1]

    def _step(self, time: Fraction, to: float) -> None:
        if self._now() != to:
            self.points += [(time, self._now()), (time, to)]

    def level(self, time: Fraction, mark: str) -> None:
        if self.hairpin:
            self.close(time, mark)
        self._step(time, LEVEL[mark])
        self.standing = mark

    def open(self, time: Fraction, mark: str) -> None:
        if self.hairpin:
            self.close(time, "")
        self._step(time, 0 if mark == "o<" else LEVEL[self.standing])
        self.points.append((time, self._now()))
        self.hairpin = mark

    def close(self, time: Fraction, printed: str) -> None:
        if not self.hairpin:
            return
        if self.hairpin == ">o":
            self.points += [(time, 0), (time, LEVEL[self.standing])]
        else:
            self.standing = self._goal(printed)
            self.points.append((time, LEVEL[self.standing]))
        self.hairpin = ""

    def _goal(self, printed: str) -> str:
        place = LEVELS.index(self.standing)
        rises = self.hairpin != ">"
        if printed and (LEVEL[printed] > self._now() if rises else LEVEL[printed] < self._now()):
            return printed
        if self.hairpin == "o<":
            return self.standing
        return LEVELS[max(0, min(len(LEVELS) - 1, place + (2 if rises else -2)))]

    def finished(self, end: Fraction) -> list[tuple[Fraction, float]]:
        if self.hairpin:
            self.close(end, "")
        return self.points
