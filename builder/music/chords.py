"""Chord names over a staff: what they are called, how they are transposed, and what sounds.

Names and their notes are those of lead sheets; common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from .pitch import Pitch

QUALITIES: dict[str, tuple[int, ...]] = {
    "": (0, 4, 7),
    "m": (0, 3, 7),
    "7": (0, 4, 7, 10),
    "m7": (0, 3, 7, 10),
    "maj7": (0, 4, 7, 11),
    "dim": (0, 3, 6),
    "dim7": (0, 3, 6, 9),
    "m7b5": (0, 3, 6, 10),
    "aug": (0, 4, 8),
    "sus4": (0, 5, 7),
    "7sus4": (0, 5, 7, 10),
    "sus2": (0, 2, 7),
    "6": (0, 4, 7, 9),
    "m6": (0, 3, 7, 9),
}
"""What follows a chord's root, with the semitones of its notes above the root."""

_BASS = 40
"""The MIDI number of the lowest bass note: E2."""

_UPPER = 55
"""The MIDI number of the lowest other note: G3."""


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord: its root and its bass as pitches whose octave says nothing, and one of QUALITIES."""

    root: Pitch
    quality: str = ""
    bass: Pitch | None = None

    @property
    def name(self) -> str:
        """As it is written in an exercise: `F#m7/E`."""
        below = f"/{self.bass.name}" if self.bass else ""
        return f"{self.root.name}{self.quality}{below}"

    def each_pitch(self, change: Callable[[Pitch], Pitch]) -> Chord:
        """The same chord with its root and its bass changed by a function."""
        return replace(self, root=change(self.root), bass=change(self.bass) if self.bass else None)

    def sounding(self, semitones: int = 0) -> tuple[int, ...]:
        """The MIDI numbers of its notes, lowest first: the bass from E2 on, the others close above G3.

        `semitones` is how far above the page it sounds.
        """
        bass = (self.bass or self.root).midi + semitones
        notes = {
            _UPPER + (self.root.midi + semitones + step - _UPPER) % 12 for step in QUALITIES[self.quality]
        }
        return (_BASS + (bass - _BASS) % 12, *sorted(notes))


@dataclass(frozen=True, slots=True)
class ChordMark:
    """A chord that begins `at` whole notes after the beginning of a bar of the page (from 0).

    None is silence.
    """

    bar: int
    at: Fraction
    chord: Chord | None


ChordRow = tuple[Chord | str | None, ...]
"""The chords of a bar, in equal parts of it: a chord, None for silence, or GOES_ON for the chord before."""

GOES_ON = "."

NO_CHORD = "N.C."
"""The name of silence."""


def marks_of(rows: tuple[ChordRow, ...], lengths: Sequence[Fraction]) -> Iterator[ChordMark]:
    """Where chords begin; `lengths` are those of the bars in whole notes. A bar without any goes on."""
    for bar, (row, length) in enumerate(zip(rows, lengths, strict=True)):
        for place, chord in enumerate(row):
            if not isinstance(chord, str):
                yield ChordMark(bar, length * place / len(row), chord)
