"""The notes that a figure climbs: the steps of a scale or the notes of a chord, in every octave.

The steps of the modes are those of their key signatures. The other scales and the chords are intervals above
the first note as any theory primer has them (for example E. Prout, "Harmony", 1889, on the chords of the
seventh); whole-tone and octatonic scales: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..keys import MODES, Key
from ..pitch import Interval, Pitch
from ..spell import chromatic

ALTERED = {"harmonic-minor": {6: 1}, "melodic-minor": {5: 1, 6: 1}}
"""The raised steps of the two other minor scales, counted from 0."""

MODE_WORDS = ("as-key", *MODES, *ALTERED)
"""The words for scales of seven steps; the first is the key's own mode."""

_FIVE_STEPS = {
    "major-pentatonic": ("P1", "M2", "M3", "P5", "M6"),
    "minor-pentatonic": ("P1", "m3", "P4", "P5", "m7"),
}
_SYMMETRIC = {
    "whole-tone": (0, 2, 4, 6, 8, 10),
    "octatonic": (0, 2, 3, 5, 6, 8, 9, 11),
    "octatonic-semitone-first": (0, 1, 3, 4, 6, 7, 9, 10),
}
SCALE_WORDS = (*MODE_WORDS, *_FIVE_STEPS, *_SYMMETRIC)
"""The words for every scale."""

CHORDS = {
    "augmented": ("P1", "M3", "A5"),
    "diminished": ("P1", "m3", "d5"),
    "dominant-seventh": ("P1", "M3", "P5", "m7"),
    "major-seventh": ("P1", "M3", "P5", "M7"),
    "minor-seventh": ("P1", "m3", "P5", "m7"),
    "half-diminished": ("P1", "m3", "d5", "m7"),
    "diminished-seventh": ("P1", "m3", "d5", "d7"),
}
"""Chords by their names, as intervals above the first note."""


@dataclass(frozen=True, slots=True)
class Ladder:
    """The rungs of one octave going up and going down, each upward from the same first note, rung 0."""

    rising: tuple[Pitch, ...]
    falling: tuple[Pitch, ...]

    @property
    def per_octave(self) -> int:
        """How many rungs an octave has."""
        return len(self.rising)

    def rung(self, number: int, rising: bool = True) -> Pitch:
        """A rung by its number, also below 0 and beyond the octave."""
        octave, place = divmod(number, self.per_octave)
        return (self.rising if rising else self.falling)[place].octaves(octave)

    def turns(self, number: int) -> bool:
        """Whether a line may turn on a rung: it sounds the same going up and going down."""
        return self.rung(number).midi == self.rung(number, rising=False).midi

    def octaves(self, count: int) -> Ladder:
        """The ladder moved by octaves."""
        return Ladder(
            tuple(pitch.octaves(count) for pitch in self.rising),
            tuple(pitch.octaves(count) for pitch in self.falling),
        )


def _same(pitches: tuple[Pitch, ...]) -> Ladder:
    return Ladder(pitches, pitches)


def mode_steps(home: Pitch, key: Key, mode: str) -> tuple[Pitch, ...]:
    """The seven steps of a mode upward from the home pitch. Raises ValueError if there is no key to ask."""
    altered = ALTERED.get(mode, {})
    name = {"as-key": key.mode}.get(mode, "minor" if altered else mode)
    if not name:
        raise ValueError("the exercise has no key, so there are no steps; name a mode, such as `major`")
    scale = Key(home.letter, home.alter, name)
    found = []
    for number in range(7):
        octave, letter = divmod(home.step + number, 7)
        found.append(Pitch(letter, scale.alteration(letter) + altered.get(number, 0), octave))
    return tuple(found)


def scale_ladder(home: Pitch, key: Key, name: str) -> Ladder:
    """A scale by its word. Melodic minor falls as natural minor.

    A scale that has no letter for each step is named by its direction: it rises with raised notes and falls
    with lowered ones.
    """
    if name in _FIVE_STEPS:
        return _same(tuple(home.up(Interval.parse(each)) for each in _FIVE_STEPS[name]))
    if steps := _SYMMETRIC.get(name):
        rising, falling = (
            (home, *(chromatic(home.midi + step, key, rising=way) for step in steps[1:]))
            for way in (True, False)
        )
        return Ladder(rising, falling)
    steps_up = mode_steps(home, key, name)
    return Ladder(steps_up, mode_steps(home, key, "minor") if name == "melodic-minor" else steps_up)


def chord_ladder(home: Pitch, key: Key, name: str) -> Ladder:
    """A chord on the home pitch by its word, or the triad of a mode."""
    if name in CHORDS:
        return _same(tuple(home.up(Interval.parse(each)) for each in CHORDS[name]))
    return _same(mode_steps(home, key, name)[:5:2])


def chromatic_ladder(home: Pitch, key: Key) -> Ladder:
    """Every semitone: raised notes going up, lowered notes coming down."""
    rising, falling = (
        tuple(chromatic(home.midi + step, key, rising=way) for step in range(12)) for way in (True, False)
    )
    return Ladder(rising, falling)
