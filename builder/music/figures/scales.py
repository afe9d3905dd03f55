"""Scales, broken chords and what goes by the steps of a mode."""

from __future__ import annotations

from ..keys import MODES, Key
from ..pitch import Interval, Pitch
from ..score import Event, Value
from ..spell import chromatic as chromatic_name
from .registry import choose, figure, held, under_slur, with_breath

_ALTERED = {"harmonic-minor": {6: 1}, "melodic-minor": {5: 1, 6: 1}}
_MODE_WORDS = ("as-key", *MODES, *_ALTERED)
_UP_DOWN = ("up-and-down", "up", "down")


def _degrees(home: Pitch, key: Key, mode: str) -> list[Pitch]:
    """Two octaves and a third of a mode upward from the home pitch, as spelled pitches."""
    altered = _ALTERED.get(mode, {})
    name = {"as-key": key.mode}.get(mode, "minor" if altered else mode)
    if not name:
        raise ValueError("the exercise has no key, so there are no steps; name a mode, such as `major`")
    scale = Key(home.letter, home.alter, name)
    found = []
    for step in range(home.step, home.step + 17):
        octave, letter = divmod(step, 7)
        raised = altered.get((step - home.step) % 7, 0)
        found.append(Pitch(letter, scale.alteration(letter) + raised, octave))
    return found


def _there_and_back(pitches: list[Pitch], value: Value, way: str) -> tuple[Event, ...]:
    """Pitches up, down, or up and down under a slur, the last note of a way and back twice as long."""
    if way == "up":
        return tuple(with_breath(under_slur([Event(pitch, value) for pitch in pitches])))
    if way == "down":
        return tuple(with_breath(under_slur([Event(pitch, value) for pitch in reversed(pitches)])))
    back = [*pitches, *reversed(pitches[1:-1])]
    return tuple(with_breath(under_slur([Event(p, value) for p in back] + held(pitches[0], value, 2))))


@figure(
    "scale",
    "A scale of one octave from the home pitch, up and down (or up, or down), in the key's own mode or a "
    "named one (major, minor, dorian ..., harmonic-minor, melodic-minor).",
    "scale( e dorian )",
)
def scale(home: Pitch, key: Key, value: Value, words: tuple[str, ...]) -> tuple[Event, ...]:
    """Eight values up or down; sixteen both ways. Melodic minor comes down as natural minor."""
    mode, way = choose(words, _MODE_WORDS, _UP_DOWN)
    pitches = _degrees(home, key, mode)[:8]
    if mode == "melodic-minor" and way != "up":
        down = _degrees(home, key, "minor")[:8]
        if way == "down":
            return _there_and_back(down, value, way)
        line = [Event(p, value) for p in [*pitches, *reversed(down[1:-1])]] + held(home, value, 2)
        return tuple(with_breath(under_slur(line)))
    return _there_and_back(pitches, value, way)


@figure(
    "broken-chord",
    "The chord on the home pitch, note by note up to the octave and back (or up, or down), in the key's own "
    "mode or a named one.",
    "broken-chord( q )",
)
def broken_chord(home: Pitch, key: Key, value: Value, words: tuple[str, ...]) -> tuple[Event, ...]:
    """First, third, fifth and octave: four values one way, eight both ways."""
    mode, way = choose(words, _MODE_WORDS, _UP_DOWN)
    degrees = _degrees(home, key, mode)
    return _there_and_back([degrees[0], degrees[2], degrees[4], degrees[7]], value, way)


@figure(
    "broken-thirds",
    "The scale in thirds from the home pitch up to the octave (or down from it), each third slurred.",
    "broken-thirds( e )",
)
def broken_thirds(home: Pitch, key: Key, value: Value, words: tuple[str, ...]) -> tuple[Event, ...]:
    """Seven thirds, then the octave (or the home pitch) for two values: sixteen values."""
    mode, way = choose(words, _MODE_WORDS, ("up", "down"))
    degrees = _degrees(home, key, mode)
    pairs = [(degrees[step], degrees[step + 2]) for step in range(7)]
    if way == "down":
        pairs = [(high, low) for low, high in reversed(pairs)]
    events = [event for pair in pairs for event in under_slur([Event(pitch, value) for pitch in pair])]
    return tuple(with_breath(events + held(degrees[7] if way == "up" else home, value, 2)))


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
    above = home.up(Interval(1, 1)) if kind == "chromatic" else _degrees(home, key, "as-key")[1]
    below = home.up(Interval(-1, -1))
    line = [Event(pitch, value) for pitch in (home, above, home, below)] + held(home, value, 4)
    return tuple(with_breath(under_slur(line)))


@figure(
    "chromatic-run",
    "Every semitone from the home pitch to its octave and back (or up, or down): raised notes going up, "
    "lowered notes coming down.",
    "chromatic-run( e up )",
)
def chromatic_run(home: Pitch, key: Key, value: Value, words: tuple[str, ...]) -> tuple[Event, ...]:
    """Thirteen notes one way, the last for four values: sixteen values; both ways thirty-two."""
    (way,) = choose(words, _UP_DOWN)
    up = [chromatic_name(home.midi + step, key, rising=True) for step in range(13)]
    down = [chromatic_name(home.midi + step, key, rising=False) for step in range(12, -1, -1)]
    events: list[Event] = []
    for line in ([up] if way != "down" else []) + ([down] if way != "up" else []):
        notes = [Event(pitch, value) for pitch in line[:-1]] + held(line[-1], value, 4)
        events += with_breath(under_slur(notes))
    return tuple(events)
