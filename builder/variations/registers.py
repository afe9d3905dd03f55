"""Octaves."""

from __future__ import annotations

from dataclasses import replace

from builder.music.pitch import OCTAVE
from builder.music.score import Score, span, transposed

from .registry import Unsuitable, variation


@variation(
    "upper octave first", "First an octave higher, then as written, with the same ease and the same vowel."
)
def upper_octave_first(score: Score, words: str) -> Score:
    """The whole an octave up, a double bar, and the whole as it stands."""
    bars = score.line.bars
    upper = transposed(bars, OCTAVE)
    low, high = span(upper)
    if not score.compass.holds(low, high):
        raise Unsuitable(f"the upper octave would reach {high.spoken}, above {score.compass.high.spoken}")
    upper = (*upper[:-1], replace(upper[-1], end="||"))
    return score.with_bars((*upper, *bars))
