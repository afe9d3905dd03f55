"""Joins the notes of each group of the meter under a beam, as a copyist does.

The groups are the author's (`7/8 = 2+2+3`) or the usual ones (`Meter.group_lengths`). In common time four
eighths of half a bar are one beam. In free time a beam is a quarter long. Rests break a beam. Compare
E. Gould, Behind Bars (2011), from memory.
"""

from __future__ import annotations

from bisect import bisect_right
from fractions import Fraction
from itertools import accumulate
from math import ceil

from .event import Event, Value
from .score import Bar, Meter

EIGHTH = Value(Fraction(1, 8))

_FREE_GROUP = Fraction(1, 4)
"""The length of a beam in free time, in whole notes."""

Beam = tuple[int, str]
"""A beam's level, from 1 (the eighth's), and what it does at a note."""


def tails(event: Event) -> int:
    """How many tails or beams a note of this value has: 1 for an eighth, 2 for a sixteenth."""
    return max(0, event.value.base.denominator.bit_length() - 3)


def beams(bar: Bar, meter: Meter, upbeat: bool = False) -> tuple[tuple[Beam, ...], ...]:
    """The beams at each event of a bar; `upbeat` counts a short bar's beats from its end."""
    found: list[tuple[Beam, ...]] = [()] * len(bar.events)
    for group in _groups(bar, meter, upbeat):
        for place, at in zip(group, _joined([tails(bar.events[place]) for place in group]), strict=True):
            found[place] = at
    return tuple(found)


def _groups(bar: Bar, meter: Meter, upbeat: bool) -> list[list[int]]:
    """The places of the notes under one beam, for beams of two notes at least."""
    ends = list(accumulate(meter.group_lengths or (_FREE_GROUP,) * ceil(bar.length / _FREE_GROUP)))
    now = meter.length - bar.length if upbeat else Fraction(0)
    groups: list[list[int]] = [[]]
    numbers: list[int] = [0]
    last: int | None = None
    for place, event in enumerate(bar.events):
        number = bisect_right(ends, now)
        beamed = event.pitch is not None and tails(event) > 0
        if not beamed or number != last:
            groups.append([])
            numbers.append(number)
        if beamed:
            groups[-1].append(place)
        last = number if beamed else None
        now += event.length
    if not meter.groups and (meter.beats, meter.unit) in ((4, 4), (2, 2)):
        _join_halves(bar, groups, numbers)
    return [group for group in groups if len(group) > 1]


def _join_halves(bar: Bar, groups: list[list[int]], numbers: list[int]) -> None:
    """Join the two beams of a half bar where both are pairs of eighths: four eighths are one beam."""
    for place in range(len(groups) - 1):
        pair = groups[place], groups[place + 1]
        first, second = numbers[place], numbers[place + 1]
        eighths = all(
            len(group) == 2 and all(bar.events[index].value == EIGHTH for index in group) for group in pair
        )
        if eighths and first % 2 == 0 and second == first + 1:
            groups[place], groups[place + 1] = [*pair[0], *pair[1]], []


def _joined(counts: list[int]) -> list[tuple[Beam, ...]]:
    found: list[list[Beam]] = [[] for _ in counts]
    for level in range(1, max(counts) + 1):
        for place, count in enumerate(counts):
            if count < level:
                continue
            before = place > 0 and counts[place - 1] >= level
            after = place + 1 < len(counts) and counts[place + 1] >= level
            if before and after:
                word = "continue"
            elif before or after:
                word = "end" if before else "begin"
            else:
                word = "backward hook" if place else "forward hook"
            found[place].append((level, word))
    return [tuple(at) for at in found]
