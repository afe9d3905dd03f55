"""Harmonics: overtones that sound over a fingered fundamental.

Partial n has n times the fundamental's frequency, and lies 12 log2(n) semitones above it. It is written as
the nearest note in equal temperament: the fifth partial sounds 14 cents lower than that, the seventh 31
(acoustics of any text book, from memory).
"""

from __future__ import annotations

from dataclasses import replace
from math import log2

from ..event import Event
from ..pitch import Interval, Pitch
from ..score import Bar, each_event
from ..spell import plain

_STEPS = {2: 7, 3: 11, 4: 14, 5: 16, 6: 18, 7: 20, 8: 21}
"""The partials that players are asked for, and how many letters each lies above its fundamental."""


def above_fundamental(partial: int) -> Interval:
    """The interval from the fundamental up to a partial (2 to 8), to the nearest semitone."""
    return Interval(_STEPS[partial], round(12 * log2(partial)))


def partial_of(sounding: Pitch, fundamental: Pitch) -> int:
    """The number of the partial (2 to 8) that one pitch is of another, or 0 where it is none."""
    distance = sounding.midi - fundamental.midi
    return next((each for each in _STEPS if above_fundamental(each).semitones == distance), 0)


def overtones(fundamental: Pitch) -> tuple[Pitch, ...]:
    """The pitches of partials 2 to 8, lowest first."""
    return tuple(plain(fundamental.up(above_fundamental(each))) for each in _STEPS)


def fit_fundamentals(bars: tuple[Bar, ...]) -> tuple[Bar, ...]:
    """Bars without double accidentals on fundamentals: each takes its overtone's name, else a plain one."""
    return each_event(bars, _fit_fundamental)


def _fit_fundamental(event: Event) -> Event:
    found = event.fundamental
    if found is None or event.pitch is None or abs(found.alter) < 2:
        return event
    interval = above_fundamental(partial_of(event.pitch, found))
    named = event.pitch.up(-interval)
    return replace(event, fundamental=named if abs(named.alter) < 2 else plain(found))
