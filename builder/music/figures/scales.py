"""Scales, broken chords and what goes by the steps of a mode."""

from __future__ import annotations

from ..event import Event, Value
from ..keys import Key
from ..pitch import Interval, Pitch
from .climbs import DOWN, EXTENTS, UP, UP_AND_DOWN, WAYS, Climb, climbing
from .ladders import (
    CHORDS,
    MODE_WORDS,
    SCALE_WORDS,
    chord_ladder,
    chromatic_ladder,
    mode_steps,
    scale_ladder,
)
from .registry import choose, figure, held, under_slur, with_breath

_EXTENT_WORDS = tuple(EXTENTS)


def _chosen(words: tuple[str, ...], kinds: tuple[str, ...], ways: tuple[str, ...]) -> list[str]:
    """The kind and the way among a climb's words. An unknown word is told the extents too."""
    return choose(words, kinds, ways, _EXTENT_WORDS)[:2]


@climbing(
    "scale",
    "A scale of one octave from the home pitch, up and down (or up, or down), in the key's own mode or a "
    "named one (major, minor, dorian ..., harmonic-minor, melodic-minor, pentatonic, whole-tone, octatonic), "
    "or over more octaves.",
    "scale( e dorian )",
)
def scale(home: Pitch, key: Key, words: tuple[str, ...]) -> Climb:
    """Of one octave, eight values up or down and sixteen both ways. Melodic minor falls as natural minor."""
    name, way = _chosen(words, SCALE_WORDS, WAYS)
    return Climb(scale_ladder(home, key, name), (0,), way)


@climbing(
    "broken-chord",
    "The chord on the home pitch, note by note up to the octave and back (or up, or down), in the key's own "
    "mode or a named one, or a chord by its name (dominant-seventh, augmented ...); or over more octaves.",
    "broken-chord( q )",
)
def broken_chord(home: Pitch, key: Key, words: tuple[str, ...]) -> Climb:
    """Of one octave of a triad, four values one way and eight both ways."""
    name, way = _chosen(words, (*MODE_WORDS, *CHORDS), WAYS)
    return Climb(chord_ladder(home, key, name), (0,), way)


def _broken(name: str, number: int, said: str, example: str) -> None:
    """Register the figure of a scale broken into intervals of this many steps."""

    @climbing(
        name,
        f"The scale in {said}s from the home pitch up to the octave (or `down` from it, or `up-and-down`), "
        f"each {said} slurred; or over more octaves.",
        example,
    )
    def broken(home: Pitch, key: Key, words: tuple[str, ...]) -> Climb:
        """Of one octave seven pairs, then the last note for two values: sixteen values."""
        kind, way = _chosen(words, SCALE_WORDS, (UP, DOWN, UP_AND_DOWN))
        return Climb(scale_ladder(home, key, kind), (0, number - 1), way, mirrored=way == DOWN)


_broken("broken-thirds", 3, "third", "broken-thirds( e )")
_broken("broken-fourths", 4, "fourth", "broken-fourths( e )")
_broken("broken-fifths", 5, "fifth", "broken-fifths( e )")
_broken("broken-sixths", 6, "sixth", "broken-sixths( e harmonic-minor )")
_broken("broken-sevenths", 7, "seventh", "broken-sevenths( e )")
_broken("broken-octaves", 8, "octave", "broken-octaves( e )")

HIGHEST_DEGREE = 15
"""The highest degree of a pattern: two octaves above its first."""

MOST_DEGREES = 16
"""The most degrees of a pattern."""


@climbing(
    "pattern",
    "A pattern of degrees, from each degree of the scale in turn: `pattern( s 1 2 3 1 )` is the pattern "
    "1 2 3 1 up to the octave, and turned upside down on the way back (or only `up`, or `down`), each "
    "slurred; or over more octaves. It has two to sixteen degrees from 1 to 15, where 8 is the octave.",
    "pattern( s 1 2 3 1 )",
)
def pattern(home: Pitch, key: Key, words: tuple[str, ...]) -> Climb:
    """From each degree below the octave the cell, from the octave down its inversion, and the home pitch."""
    degrees = tuple(int(word) for word in words if word.isdecimal())
    rest = tuple(word for word in words if not word.isdecimal())
    kind, way = choose(rest, SCALE_WORDS, WAYS, _EXTENT_WORDS)[:2]
    if not 2 <= len(degrees) <= MOST_DEGREES:
        raise ValueError(f"a pattern has 2 to {MOST_DEGREES} degrees, not {len(degrees)}")
    if beyond := [degree for degree in degrees if not 1 <= degree <= HIGHEST_DEGREE]:
        raise ValueError(f"{beyond[0]} is no degree from 1 to {HIGHEST_DEGREE}")
    if len(set(degrees)) == 1:
        raise ValueError("the degrees of a pattern differ")
    return Climb(scale_ladder(home, key, kind), tuple(degree - 1 for degree in degrees), way)


@figure(
    "neighbours",
    "The home pitch with its upper and lower neighbour: the step above in the key and the semitone below, "
    "or, with `chromatic`, a semitone either way.",
    "neighbours( q )",
)
def neighbours(home: Pitch, key: Key, value: Value, words: tuple[str, ...]) -> tuple[Event, ...]:
    """Home, upper, home, lower for a value each, then home for four values: eight values."""
    (kind,) = choose(words, ("diatonic", "chromatic"))
    if kind == "diatonic" and not key.mode:
        raise ValueError("the exercise has no key, so there are no steps; write `chromatic`")
    above = home.up(Interval(1, 1)) if kind == "chromatic" else mode_steps(home, key, "as-key")[1]
    below = home.up(Interval(-1, -1))
    line = [Event(pitch, value) for pitch in (home, above, home, below)] + held(home, value, 4)
    return tuple(with_breath(under_slur(line)))


def _one_chromatic_octave(home: Pitch, key: Key, value: Value, words: tuple[str, ...]) -> tuple[Event, ...]:
    """Thirteen notes one way, the last for four values: sixteen values; both ways thirty-two."""
    way, _ = choose(words, WAYS, _EXTENT_WORDS)
    ladder = chromatic_ladder(home, key)
    up = [ladder.rung(step) for step in range(13)]
    down = [ladder.rung(step, rising=False) for step in range(12, -1, -1)]
    events: list[Event] = []
    for line in ([up] if way != DOWN else []) + ([down] if way != UP else []):
        notes = [Event(pitch, value) for pitch in line[:-1]] + held(line[-1], value, 4)
        events += with_breath(under_slur(notes))
    return tuple(events)


@climbing(
    "chromatic-run",
    "Every semitone from the home pitch to its octave and back (or up, or down): raised notes going up, "
    "lowered notes coming down; or over more octaves.",
    "chromatic-run( e up )",
    _one_chromatic_octave,
)
def chromatic_run(home: Pitch, key: Key, words: tuple[str, ...]) -> Climb:
    """Over more than one octave it turns at the top without a stop."""
    way, _ = choose(words, WAYS, _EXTENT_WORDS)
    return Climb(chromatic_ladder(home, key), (0,), way)
