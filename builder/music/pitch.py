"""Spelled pitches and spelled intervals.

A pitch keeps its letter, because a copyist writes letters and not piano keys: F sharp 5 and G flat 5
are two values here, although they share a MIDI number. Numbering and A4 = 440 Hz follow ISO 16:1975
and the MIDI 1.0 note numbers (middle C, C4, is 60).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from ..translation.said import Said, note_name
from ..visible import shown

LETTERS = "CDEFGAB"
_LETTER_SEMITONES = (0, 2, 4, 5, 7, 9, 11)
_ACCIDENTALS = {"": 0, "n": 0, "#": 1, "♯": 1, "b": -1, "♭": -1, "##": 2, "x": 2, "bb": -2}
_SIGNS = {-3: "bbb", -2: "bb", -1: "b", 0: "", 1: "#", 2: "##", 3: "###"}
_WORDS = {-2: " double flat", -1: " flat", 0: "", 1: " sharp", 2: " double sharp"}
_PITCH = re.compile(r"([A-G])(##|bb|[#bxn♯♭]?)(-?\d)")
_INTERVAL = re.compile(r"([+-])?(P|M|m|A|d|AA|dd)(\d{1,2})")

A4_HERTZ = 440.0
"""Standard tuning frequency, ISO 16:1975."""


@dataclass(frozen=True, slots=True)
class Pitch:
    """A written pitch: `letter` is 0 (C) to 6 (B), `alter` in semitones (-2 to 2 in print),
    `octave` in scientific pitch notation (middle C begins octave 4)."""

    letter: int
    alter: int
    octave: int

    @classmethod
    def parse(cls, text: str) -> Pitch:
        """Read scientific pitch notation: `C4`, `F#5`, `Bb3`. Raises ValueError on anything else."""
        match = _PITCH.fullmatch(text)
        if not match:
            raise ValueError(f"{shown(text)} is not a pitch such as C4, F#5 or Bb3")
        letter, sign, octave = match.groups()
        return cls(LETTERS.index(letter), _ACCIDENTALS[sign], int(octave))

    @property
    def step(self) -> int:
        """Staff position: letters counted upward from C0."""
        return self.octave * 7 + self.letter

    @property
    def midi(self) -> int:
        """MIDI 1.0 note number; C4 is 60. May leave 0-127 for pitches no instrument plays."""
        return (self.octave + 1) * 12 + _LETTER_SEMITONES[self.letter] + self.alter

    @property
    def pitch_class(self) -> int:
        """0 (C) to 11 (B)."""
        return self.midi % 12

    @property
    def name(self) -> str:
        """The letter and its accidental, without an octave: `F#`."""
        return LETTERS[self.letter] + _SIGNS[self.alter]

    @property
    def spoken(self) -> Said:
        """The name as it is said: `C4`, `F sharp 5`."""
        return note_name(
            f"{LETTERS[self.letter]}{_WORDS[self.alter]}{' ' if self.alter else ''}{self.octave}"
        )

    def hertz(self, a4: float = A4_HERTZ) -> float:
        """Frequency in equal temperament, in hertz, with `a4` hertz for A4."""
        return a4 * float(2.0 ** ((self.midi - 69) / 12))

    def up(self, interval: Interval) -> Pitch:
        """This pitch moved by a spelled interval; the letter moves by the interval's steps."""
        step = self.step + interval.steps
        octave, letter = divmod(step, 7)
        natural = (octave + 1) * 12 + _LETTER_SEMITONES[letter]
        return Pitch(letter, self.midi + interval.semitones - natural, octave)

    def respelled(self, letter_shift: int) -> Pitch:
        """The same sound on a neighbouring letter: B double flat, shifted by -1, is A."""
        return self.up(Interval(letter_shift, 0))

    @property
    def next_letter(self) -> Pitch:
        """The natural note on the next letter above: F for E flat."""
        octave, letter = divmod(self.step + 1, 7)
        return Pitch(letter, 0, octave)

    @property
    def letter_below(self) -> Pitch:
        """The natural note on the next letter below: D for E flat."""
        octave, letter = divmod(self.step - 1, 7)
        return Pitch(letter, 0, octave)

    def octaves(self, count: int) -> Pitch:
        """This pitch moved by whole octaves."""
        return Pitch(self.letter, self.alter, self.octave + count)

    def __str__(self) -> str:
        return f"{self.name}{self.octave}"


@dataclass(frozen=True, slots=True)
class Interval:
    """A directed interval: `steps` of the staff and `semitones`, both negative downward."""

    steps: int
    semitones: int

    @classmethod
    def parse(cls, text: str) -> Interval:
        """Read a name such as `P5`, `+m3` or `-d5`. Raises ValueError where no such interval exists."""
        match = _INTERVAL.fullmatch(text)
        if not match:
            raise ValueError(f"{shown(text)} is not an interval such as P5, +m3 or -d5")
        sign, quality, number = match.groups()
        steps = int(number) - 1
        if steps < 0:
            raise ValueError("intervals are counted from 1, the unison")
        perfect = steps % 7 in (0, 3, 4)
        offsets = (
            {"dd": -2, "d": -1, "P": 0, "A": 1, "AA": 2}
            if perfect
            else {"dd": -3, "d": -2, "m": -1, "M": 0, "A": 1, "AA": 2}
        )
        if quality not in offsets:
            kind = "perfect, diminished or augmented" if perfect else "major, minor, diminished or augmented"
            raise ValueError(f"{shown(text)} does not exist: that interval is {kind}")
        octaves, step = divmod(steps, 7)
        semitones = 12 * octaves + _LETTER_SEMITONES[step] + offsets[quality]
        direction = -1 if sign == "-" else 1
        return cls(direction * steps, direction * semitones)

    @classmethod
    def between(cls, low: Pitch, high: Pitch) -> Interval:
        """The interval from the first pitch to the second, negative where that is downward."""
        return cls(high.step - low.step, high.midi - low.midi)

    @property
    def name(self) -> str:
        """Its usual short name without a direction: `d5`, `M3`."""
        steps, semitones = self.steps, self.semitones
        if steps < 0 or (steps == 0 and semitones < 0):
            steps, semitones = -steps, -semitones
        octaves, step = divmod(steps, 7)
        offset = semitones - 12 * octaves - _LETTER_SEMITONES[step]
        perfect = step in (0, 3, 4)
        if perfect:
            quality = "P" if offset == 0 else "A" * offset if offset > 0 else "d" * -offset
        else:
            quality = (
                "M"
                if offset == 0
                else "A" * offset
                if offset > 0
                else "m"
                if offset == -1
                else "d" * (-1 - offset)
            )
        return f"{quality}{steps + 1}"

    def __neg__(self) -> Interval:
        return Interval(-self.steps, -self.semitones)

    def __add__(self, other: Interval) -> Interval:
        return Interval(self.steps + other.steps, self.semitones + other.semitones)
