"""Intervals that widen from one note, and the overtones above it."""

from __future__ import annotations

from ..event import Event, Value
from ..keys import Key
from ..pitch import Interval, Pitch
from .registry import choose, figure, held, under_slur, with_breath

_CHROMATIC = ("m2", "M2", "m3", "M3", "P4", "A4", "P5", "m6", "M6", "m7", "M7", "P8")
_PARTIALS = ("P1", "P8", "P12", "P15", "M17", "P19", "m21", "P22")
_COUNTS = {"six": 6, "four": 4, "five": 5, "eight": 8}


def _plain(home: Pitch, name: str, sign: int) -> Pitch:
    """The pitch an interval away, with its plain name if it would have a double accidental."""
    interval = Interval.parse(name)
    pitch = home.up(interval if sign > 0 else -interval)
    if abs(pitch.alter) > 1:
        pitch = pitch.respelled(1 if pitch.alter > 0 else -1)
    return pitch


@figure(
    "widening",
    "The home pitch and every interval above it in turn (or below it, with `down`), from the semitone to the "
    "octave; with `diatonic`, only the notes of the key.",
    "widening( q diatonic )",
)
def widening(home: Pitch, key: Key, value: Value, words: tuple[str, ...]) -> tuple[Event, ...]:
    """Slurred pairs of home and its interval, a breath after each two; then home for two values."""
    way, kind = choose(words, ("up", "down"), ("chromatic", "diatonic"))
    sign = 1 if way == "up" else -1
    if kind == "chromatic":
        others = [_plain(home, name, sign) for name in _CHROMATIC]
    elif not key.mode:
        raise ValueError("the exercise has no key, so there are no steps; leave out `diatonic`")
    else:
        others = []
        for step in range(1, 8):
            octave, letter = divmod(home.step + sign * step, 7)
            others.append(Pitch(letter, key.alteration(letter), octave))
    events: list[Event] = []
    for number, other in enumerate(others, start=1):
        pair = under_slur([Event(home, value), Event(other, value)])
        events += pair if number % 2 else with_breath(pair)
    return (*events, *with_breath(held(home, value, 2)))


@figure(
    "harmonics",
    "The overtone series above the home pitch: its first six partials (or `four`, `five`, `eight`) "
    "up and back. The fifth partial lies about a seventh of a semitone below the piano, the seventh a third.",
    "harmonics( q four )",
)
def harmonics(home: Pitch, key: Key, value: Value, words: tuple[str, ...]) -> tuple[Event, ...]:
    """Partials up and back under a slur, the last home note for two values."""
    (count,) = choose(words, _COUNTS)
    pitches = [home.up(Interval.parse(name)) for name in _PARTIALS[: _COUNTS[count]]]
    line = [Event(p, value) for p in [*pitches, *reversed(pitches[1:-1])]] + held(home, value, 2)
    return tuple(with_breath(under_slur(line)))
