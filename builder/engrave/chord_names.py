"""Chord names as a row above the staff, which makes room for itself between the notes."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from ..music.chords import NO_CHORD, Chord
from ..music.pitch import Pitch
from ..music.printed_words import PrintedWords
from ..music.score import Score
from .markup import ACCIDENTALS, quoted

_LETTER = 1.25
_BETWEEN = 1.4
"""Staff spaces that a letter of a chord's name takes, and that stand between two names."""

_SHARP, _FLAT = 0.75, 0.5
"""Staff spaces by which a sign is raised beside its letter."""


def chord_width(chord: Chord | None, words: PrintedWords) -> float:
    """About the room a chord's name takes, in staff spaces."""
    if chord is None:
        return _LETTER * len(NO_CHORD) + _BETWEEN
    notes = (chord.root, *((chord.bass,) if chord.bass else ()))
    longer = sum(len(words.root(note.letter, note.alter)[0]) - 1 for note in notes)
    return _LETTER * (len(chord.name) + longer) + _BETWEEN


def chord_words(score: Score) -> list[str]:
    """The row as words of the engraver's lyrics, each as long as its chord; empty where there are none."""
    if not score.chords:
        return []
    return list(_words(score))


def _words(score: Score) -> Iterator[str]:
    marks = list(score.chords)
    for number, bar in enumerate(score.line.bars):
        here = [mark for mark in marks if mark.bar == number]
        edges = [*(mark.at for mark in here), bar.length]
        if edges[0]:
            yield rf"\skip {_moment(edges[0])}"
        for mark, end in zip(here, edges[1:], strict=True):
            yield rf"\markup {_named(mark.chord, score.words)} {_moment(end - mark.at)}"


def _named(chord: Chord | None, words: PrintedWords) -> str:
    if chord is None:
        return quoted(NO_CHORD)
    flat = chord.quality.replace("b5", "")
    parts = [_note(chord.root, words), quoted(flat) if flat else ""]
    parts += (
        [rf"\hspace #0.1 \fontsize #-3 \raise #0.3 {ACCIDENTALS[-1]}", quoted("5")]
        if flat != chord.quality
        else []
    )
    parts += [quoted("/"), _note(chord.bass, words)] if chord.bass else []
    return rf"\concat {{ {' '.join(filter(None, parts))} }}"


def _note(pitch: Pitch, words: PrintedWords) -> str:
    name, is_signed = words.root(pitch.letter, pitch.alter)
    letter = quoted(name)
    if not is_signed:
        return letter
    height = _SHARP if pitch.alter > 0 else _FLAT
    sign = rf"\raise #{height:g} \fontsize #-3 {ACCIDENTALS[pitch.alter]}"
    return rf"{letter} \hspace #0.1 {sign} \hspace #0.1"


def _moment(length: Fraction) -> str:
    return f"1*{length.numerator}/{length.denominator}"
