"""How the two parts of a duet are varied: each like a line of its own, as long as both keep their notes.

What says how notes are played (attacks, dynamics, vibrato) holds for both parts. What changes notes, rhythm
or bars is left out: the second part was written for the music as it stands. Over block chords the rhythm may
change, but not the notes of a bar.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress

from ..music.score import Score
from ..music.settings.second_part import both_parts, part_alone
from ..translation.said import term
from .models import changes_notes
from .registry import Unsuitable


def in_both_parts(score: Score, change: Callable[[Score], Score]) -> Score:
    """A duet with a function applied to each part alone.

    Raises Unsuitable if it makes no sense for the first part. A second part for which it makes none stays,
    and so do block chords.
    """
    first, second = change(part_alone(score, 1)), part_alone(score, 2)
    # A held note, say, has nothing to slur.
    with suppress(Unsuitable):
        second = second if second.line.chords else change(second)
    return both_parts(first, second)


def keeping_notes(plain: Score, varied: Score) -> Score:
    """A varied part that has the notes of the plain one. Raises Unsuitable if it has others."""
    if len(varied.lines) > len(plain.lines):
        raise Unsuitable(term("it adds a staff, and the second part has its place"))
    if changes_notes(plain, varied):
        raise Unsuitable(term("it changes the notes, and the second part goes with those that are written"))
    return varied


def keeping_chords(plain: Score, varied: Score) -> Score:
    """A varied part over block chords, whose bars have the same notes. Raises Unsuitable if it has others."""
    if len(varied.lines) > len(plain.lines):
        raise Unsuitable(term("it adds a staff, and the second part has its place"))
    if not varied.chords:
        raise Unsuitable(term("it changes the bars, and the chords go with those that are written"))
    return varied
