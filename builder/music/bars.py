"""Finds where each bar begins in its meter, and its number. Some bars may be short.

A bar may be short if it is an upbeat (a pick-up at the beginning, after a double bar or a repeat), or if an
upbeat completes it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from .score import Bar, Meter, Staff


@dataclass(frozen=True, slots=True)
class BarPlace:
    """A bar's `meter`, where in it the bar begins in whole notes, and its number.

    A pick-up has the number of the bar before it, the first of all 0, so that the first full bar is bar 1.
    `upbeat` tells whether it is one.
    """

    meter: Meter
    start: Fraction
    number: int
    upbeat: bool


def bar_places(line: Staff, meter: Meter) -> Iterator[BarPlace]:
    """The place of each bar of a line that begins in a meter, in their order."""
    number = 0
    for index, bar in enumerate(line.bars):
        meter = bar.meter or meter
        upbeat = is_upbeat(line.bars, index, meter)
        number += not upbeat
        yield BarPlace(meter, meter.length - bar.length if upbeat else Fraction(0), number, upbeat)


def is_upbeat(bars: Sequence[Bar], index: int, meter: Meter) -> bool:
    """Whether a short bar's beats count from its end, because it begins a piece or a part of it."""
    bar = bars[index]
    if bar.length >= meter.length or index + 1 == len(bars) or bar.end != "|":
        return False
    return index == 0 or bars[index - 1].end != "|" or bar.opens_repeat
