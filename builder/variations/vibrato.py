"""Variations of vibrato."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from ..music.event import Event, add_vibrato, counted
from ..music.score import Score
from ..translation.said import joined, phrase, term
from .phrases import chains, change_groups, change_phrases
from .registry import Unsuitable, variation

_LONG = Fraction(1, 2)
"""The shortest note, in whole notes, on which a change of vibrato can be heard and practised."""

DIRECTIONS = {"without vibrato": "senza vibrato", "with vibrato": "con vibrato"}
"""The words above the first note for variations that need no sign."""

WAVED = ("vibrato late", "vibrato from the start", "vibrato fading", "vibrato measured")
"""The variations that draw vibrato on the staff."""

_ONE_NOTE = r"(on (first|last) long note)?"


def _directed(score: Score, words: str) -> Score:
    """The score with words above its first note, and without any signs of vibrato."""

    def change(number: int, notes: list[Event]) -> list[Event]:
        first = notes[0]
        above = joined((words, first.above), "; ")
        return [replace(first, above=above), *notes[1:]] if number == 0 else notes

    bare = score.each_event(lambda event: replace(event, vibrato=()))
    return change_phrases(bare, change)


def _waves(
    score: Score, start: Fraction, end: Fraction, words: str = "", above: str = "", to_a_beat: int = 0
) -> Score:
    """Vibrato from one part of every long note to another; with `words`, only of the first or last one.

    If every long note is meant, `above` stands above the first note. `to_a_beat` is a number of even waves.
    """
    events = list(score.line.events())
    notes_of = chains(score)
    long = [chain for chain in notes_of if sum(events[index].length for index in chain) >= _LONG]
    if to_a_beat and any(event.value.held for event in events):
        raise Unsuitable(term("it has notes held as long as the breath, which have no beat"))
    if not long:
        raise Unsuitable(term("it has no note of a half or longer"))
    if words:
        notes_of = [long[0] if "first" in words else long[-1]]
    elif above:
        score = _directed(score, above)

    def change(number: int, notes: list[Event]) -> list[Event]:
        bare = [replace(note, vibrato=()) for note in notes]
        length = sum((note.length for note in notes), Fraction(0))
        mark = counted(round(to_a_beat * length / score.tempo.beat.length)) if to_a_beat else ""
        return add_vibrato(bare, start, end, mark) if length >= _LONG else bare

    return change_groups(score, notes_of, change)


@variation(
    "without vibrato", "A straight tone from beginning to end, so that nothing hides in it.", shapes="vibrato"
)
def without_vibrato(score: Score, words: str) -> Score:
    """`senza vibrato` above the first note."""
    return _directed(score, DIRECTIONS["without vibrato"])


@variation(
    "with vibrato",
    "Vibrato from the first instant of each note to its last, in place of any that is written.",
    shapes="vibrato",
)
def with_vibrato(score: Score, words: str) -> Score:
    """`con vibrato` above the first note. The author's signs go: straight beginnings would contradict it."""
    return _directed(score, DIRECTIONS["with vibrato"])


@variation(
    "vibrato from the start",
    "Every long note alive from its first instant, and to its last.",
    takes="on last long note",
    pattern=_ONE_NOTE,
    shapes="vibrato",
    grade=3,
)
def from_the_start(score: Score, words: str) -> Score:
    """A wave over the whole of each note of a half or longer."""
    return _waves(score, Fraction(0), Fraction(1), words)


@variation(
    "vibrato late",
    "Every long note straight at first; the vibrato grows out of it.",
    takes="on first long note",
    pattern=_ONE_NOTE,
    shapes="vibrato",
    grade=3,
)
def late(score: Score, words: str) -> Score:
    """Each note of a half or longer straight in its first half, a growing wave over its second."""
    return _waves(score, Fraction(1, 2), Fraction(1), words)


@variation(
    "vibrato fading",
    "Every long note begins alive and comes to rest, straight and in tune.",
    takes="on last long note",
    pattern=_ONE_NOTE,
    shapes="vibrato",
    grade=3,
)
def fading(score: Score, words: str) -> Score:
    """Each note of a half or longer with a dying wave over its first half, straight in its second."""
    return _waves(score, Fraction(0), Fraction(1, 2), words)


@variation(
    "vibrato measured",
    "This many even pulses to each beat, counted, with a relaxed throat.",
    takes="4",
    pattern=r"[2-8]",
    shapes="vibrato",
    grade=3,
)
def measured(score: Score, words: str) -> Score:
    """A wave over each long note, and how many to a beat above the first note."""
    above = phrase("vibrato: {count} waves to a beat", count=words)
    return _waves(score, Fraction(0), Fraction(1), above=above, to_a_beat=int(words))
