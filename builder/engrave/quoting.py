"""Texts and pitches as the engraver reads them. abjad, which takes long to load, is not needed for that."""

from __future__ import annotations

from ..music.pitch import LETTERS, Pitch

ALTERS = {-2: "ff", -1: "f", 0: "", 1: "s", 2: "ss"}
"""An accidental's letters after a note's name."""


def quoted(text: str) -> str:
    """A text as a LilyPond string: no character in it can end the string or begin Scheme code."""
    cleaned = "".join(character if character.isprintable() else " " for character in text)
    return '"' + cleaned.replace("\\", "\\\\").replace('"', '\\"') + '"'


def pitch_name(pitch: Pitch) -> str:
    """A pitch by its English note name with octave marks: `cs''` is C#5."""
    octave = pitch.octave - 3
    marks = "'" * octave if octave > 0 else "," * -octave
    return LETTERS[pitch.letter].lower() + ALTERS[pitch.alter] + marks
