"""The words of a wind player's signs, each with its meaning and an example; words.py adds them to its own."""

from __future__ import annotations

from typing import NamedTuple


class SignWord(NamedTuple):
    """A word for a sign on one note; the fields are those of `words.Word`."""

    name: str
    kind: str
    means: str
    example: str
    on_each: bool = False


_EACH = "as a group, on each note in it."

SIGN_WORDS = (
    SignWord(
        "harmonic",
        "mark",
        "A harmonic with a circle: the note sounds as an overtone of a fingering that you choose.",
        "h B5 harmonic E6 harmonic",
    ),
    SignWord(
        "harmonic( B4 )",
        "sign",
        "A harmonic over a fingered fundamental: the note sounds, small, over a diamond for the fingering in "
        "brackets. The note must be one of its overtones (partials 2 to 8: octave, twelfth, double octave "
        "...). Both are transposed, and both must be in the instrument's range.",
        "h D5 harmonic( D4 ) A5 harmonic( D4 )",
    ),
)
"""Every word, in the order of the language page."""
