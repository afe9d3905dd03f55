"""Numbers and names of music21's as plain values."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

_FINEST_DIVISION = 960
"""The most divisions of a quarter in a place or a length; music21 has rounding errors below it."""


def quarters(number: Any) -> Fraction:
    """A place or length of music21's as a fraction of a quarter; it has floats, with rounding errors."""
    return Fraction(number).limit_denominator(_FINEST_DIVISION)


def name_of(each: Any) -> str:
    """A class of music21 as words: `InvertedMordent` is `inverted mordent`."""
    name = type(each).__name__
    spaced = "".join(f" {letter.lower()}" if letter.isupper() else letter for letter in name).strip()
    return f"a sign that has no word here ({spaced})"
