"""Generators: figures made from a rule instead of written note by note.

A generator is one function here, under the word that calls it in the text language.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from .keys import Key
from .pitch import Interval, Pitch
from .score import Event, Value, values_for

Maker = Callable[[Pitch, Key, Value], tuple[Event, ...]]


@dataclass(frozen=True, slots=True)
class Figure:
    """A generator: `make(home, key, value)` returns its notes without bar lines."""

    name: str
    means: str
    make: Maker


FIGURES: dict[str, Figure] = {}


def figure(name: str, means: str) -> Callable[[Maker], Maker]:
    """Register a generator under its word."""

    def register(make: Maker) -> Maker:
        FIGURES[name] = Figure(name, means, make)
        return make

    return register


_WIDTHS = ("m2", "M2", "m3", "M3", "P4", "A4", "P5", "m6", "M6", "m7", "M7", "P8")


def _outside(pitch: Pitch, key: Key) -> int:
    """How far a pitch's accidental is from what the key's signature gives its letter."""
    return abs(pitch.alter - key.alteration(pitch.letter))


def _spelled(low_midi: int, width: Interval, key: Key) -> tuple[Pitch, Pitch]:
    """Two pitches a spelled interval apart, on the names that leave the key least.

    No double accidentals, no E sharp, B sharp, C flat or F flat that the key has not; then the fewest
    accidentals outside the key, the fewest at all, and sharps in a sharp key.
    """
    octave = low_midi // 12 - 1
    lows = [
        pitch
        for step in range(octave * 7 - 1, octave * 7 + 8)
        if abs((pitch := Pitch(step % 7, 0, step // 7)).midi - low_midi) <= 1
    ]
    lows = [replace(pitch, alter=low_midi - pitch.midi) for pitch in lows]
    pairs = [(low, low.up(width)) for low in lows]

    def cost(pair: tuple[Pitch, Pitch]) -> tuple[int, int, int, int, int]:
        alters = [pitch.alter for pitch in pair]
        odd = sum(pitch.name in ("E#", "B#", "Cb", "Fb") and bool(_outside(pitch, key)) for pitch in pair)
        doubles = sum(abs(alter) > 1 for alter in alters)
        outside = sum(_outside(pitch, key) for pitch in pair)
        return doubles, odd, outside, sum(map(abs, alters)), -sum(alters) * key.fifths

    return min(pairs, key=cost)


@figure(
    "opened-octave",
    "The octave above the home pitch, opened from its middle outward: the middle note, then every interval "
    "from a semitone to the octave, the upper and the lower side giving way in turn, each pair slurred.",
)
def opened_octave(home: Pitch, key: Key, value: Value) -> tuple[Event, ...]:
    """Middle note of two values' length, then twelve slurred pairs from m2 to P8."""
    middle, _ = _spelled(home.midi + 6, Interval(0, 0), key)
    double = values_for(value.written * 2)
    events = [
        Event(middle, replace(part, scale=value.scale), tie=number < len(double))
        for number, part in enumerate(double, start=1)
    ]
    events[-1] = events[-1].marked("breath")
    for number, name in enumerate(_WIDTHS, start=1):
        low, high = _spelled(home.midi + 6 - number // 2, Interval.parse(name), key)
        events.append(Event(low, value, opens=("slur",)))
        events.append(Event(high, value, closes=("slur",)))
        if number % 2 == 0:
            events[-1] = events[-1].marked("breath")
    return tuple(events)
