"""Grades: how much of a player a piece asks for, from 1 (anyone's) to 5.

An exercise and a way of playing it may state a grade. Where an exercise states none, it follows from its
music as written; a variation's own grade stands where it is registered. A piece has the higher of the two.
All limits are common practice, no source.
"""

from __future__ import annotations

from ..music.exercise import Exercise
from ..variations import find
from .measure import Moment, longest_breath

HARDEST = 5

LEVEL_GRADES = {"beginning": 2, "developing": 4, "advanced": HARDEST}
"""The highest grade that a player of each ability is given."""

_WIDE_STEP = 3.0
_LEAP = 12
_SPAN = 19
_LONG_BREATH = 12.0
_QUICK = 0.35


def music_grade(notes: tuple[Moment, ...]) -> int:
    """The grade of music as written: 1, and one more for each of these.

    Its intervals: a mean of more than 3 semitones, or one of an octave and more. Its range: more than a
    twelfth. A breath of more than 12 seconds. Notes that last less than 0.35 seconds on the average.
    """
    steps = [abs(note.step.semitones) for note in notes if note.step is not None]
    heights = [note.pitch.midi for note in notes]
    lengths = [note.seconds for note in notes]
    asks = (
        bool(steps) and (sum(steps) / len(steps) > _WIDE_STEP or max(steps) >= _LEAP),
        bool(heights) and max(heights) - min(heights) > _SPAN,
        longest_breath(notes) > _LONG_BREATH,
        bool(lengths) and sum(lengths) / len(lengths) < _QUICK,
    )
    return 1 + sum(asks)


def way_grade(exercise: Exercise, label: str) -> int:
    """The grade of a variation of an exercise: as the exercise states it, else the hardest part's."""
    for name, grade in exercise.way_grades:
        if name == label:
            return grade
    wanted = next((each for each in exercise.wanted if each.label == label), None)
    if wanted is None:
        return 1
    found = (find(name) for name in wanted.names)
    return max(variation.grade_of(words) for variation, words in found)


def width(notes: tuple[Moment, ...]) -> int:
    """The mean interval between neighbouring notes, in tenths of a semitone; 0 without neighbours."""
    steps = [abs(note.step.semitones) for note in notes if note.step is not None]
    return round(10 * sum(steps) / len(steps)) if steps else 0
