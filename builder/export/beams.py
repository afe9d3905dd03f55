"""Which notes share a beam: those of one beat, as a copyist joins them.

The beat is the meter's unit, or three of them in a compound meter (6/8, 9/8, 12/8). Rests break a beam.
Common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction

from builder.music.score import Bar, Event, Meter

Beam = tuple[int, str]
"""A beam's level, from 1 (the eighth's), and what it does at a note."""


def beat(meter: Meter) -> Fraction:
    """The length that beams keep to, in whole notes; no longer than a quarter in a simple meter."""
    if meter.unit >= 8 and meter.beats % 3 == 0 and meter.beats > 3:
        return Fraction(3, meter.unit)
    return min(Fraction(1, meter.unit), Fraction(1, 4)) if meter.unit < 8 else Fraction(1, 4)


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
    now = meter.length - bar.length if upbeat else Fraction(0)
    groups: list[list[int]] = [[]]
    last: int | None = None
    for place, event in enumerate(bar.events):
        number = int(now // beat(meter))
        beamed = event.pitch is not None and tails(event) > 0
        if not beamed or number != last:
            groups.append([])
        if beamed:
            groups[-1].append(place)
        last = number
        now += event.length
    return [group for group in groups if len(group) > 1]


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
