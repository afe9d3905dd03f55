"""The octave opened from its middle, closed to it, and framed while its inner notes move apart."""

from __future__ import annotations

from ..event import Event, Value
from ..keys import Key
from ..pitch import Interval, Pitch
from ..spell import spelled_pair
from .registry import choose, figure, held, under_slur, with_breath

_WIDTHS = ("m2", "M2", "m3", "M3", "P4", "A4", "P5", "m6", "M6", "m7", "M7")


def _pairs(home: Pitch, key: Key) -> list[tuple[Pitch, Pitch]]:
    """The middle note twice, then every interval from the semitone to the octave around it.

    Each is spelled by itself in the key. The middle note is named as in the semitone beside it, and the
    octave as the home pitch.
    """
    pairs = [
        spelled_pair(home.midi + 6 - number // 2, Interval.parse(name), key)
        for number, name in enumerate(_WIDTHS, start=1)
    ]
    middle, _ = pairs[0]
    return [(middle, middle), *pairs, (home, home.octaves(1))]


def _breathing(pairs: list[list[Event]]) -> tuple[Event, ...]:
    return tuple(
        event for number, pair in enumerate(pairs) for event in (with_breath(pair) if number % 2 else pair)
    )


@figure(
    "opened-octave",
    "The octave above the home pitch, opened from its middle outward: the middle note, then every interval "
    "from a semitone to the octave, the upper and the lower side giving way in turn, each pair slurred.",
    "opened-octave( h )",
)
def opened_octave(home: Pitch, key: Key, value: Value, words: tuple[str, ...]) -> tuple[Event, ...]:
    """The middle note for two values, then twelve slurred pairs from m2 to P8; a breath after each two."""
    choose(words)
    (middle, _), *rest = _pairs(home, key)
    first = with_breath(held(middle, value, 2))
    pairs = [under_slur([Event(low, value), Event(high, value)]) for low, high in rest]
    return (*first, *_breathing(pairs))


@figure(
    "closed-octave",
    "The octave above the home pitch, closed inward to its middle: from the octave through every interval "
    "down to the semitone, then the middle note, each pair slurred.",
    "closed-octave( h )",
)
def closed_octave(home: Pitch, key: Key, value: Value, words: tuple[str, ...]) -> tuple[Event, ...]:
    """Twelve slurred pairs from P8 to m2, a breath after each two, then the middle note for two values."""
    choose(words)
    (middle, _), *rest = _pairs(home, key)
    pairs = [under_slur([Event(low, value), Event(high, value)]) for low, high in reversed(rest)]
    return (*_breathing(pairs), *held(middle, value, 2))


_INNER_WIDTHS = ("M2", "M3", "A4", "m6", "m7")
"""The intervals between the two inner notes, from one semitone either side of the middle to five."""


@figure(
    "framed-octave",
    "The octave above the home pitch as a frame: its bottom note, two inner notes and its top note, under "
    "one slur. The inner notes begin together on the tritone and move apart by semitones to the frame.",
    "framed-octave( q )",
)
def framed_octave(home: Pitch, key: Key, value: Value, words: tuple[str, ...]) -> tuple[Event, ...]:
    """Seven slurs of four values each, a breath after each: bottom, lower inner, upper inner, top.

    In the first the inner notes are one note of two values; in the last they are the frame itself.
    """
    choose(words)
    top = home.octaves(1)
    (middle, _), *_ = _pairs(home, key)
    inner = [
        spelled_pair(home.midi + 6 - number, Interval.parse(name), key)
        for number, name in enumerate(_INNER_WIDTHS, 1)
    ]
    steps = [
        [Event(home, value), *held(middle, value, 2), Event(top, value)],
        *(
            [Event(home, value), Event(low, value), Event(high, value), Event(top, value)]
            for low, high in inner
        ),
        [*held(home, value, 2), *held(top, value, 2)],
    ]
    return tuple(event for step in steps for event in with_breath(under_slur(step)))
