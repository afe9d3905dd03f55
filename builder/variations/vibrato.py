"""Vibrato."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from builder.music.score import Event, Score, counted, waved

from .phrases import chains, change_chains
from .registry import Unsuitable, variation

_LONG = Fraction(1, 2)
"""The shortest note, in whole notes, on which a change of vibrato can be heard and practised."""


def _directed(score: Score, words: str) -> Score:
    """The words above the first note, and no other vibrato."""
    first = True

    def change(event: Event) -> Event:
        nonlocal first
        event = replace(event, vibrato=())
        if event.pitch is None or not first:
            return event
        first = False
        return replace(event, above=f"{words}; {event.above}" if event.above else words)

    return score.each_event(change)


def _waves(score: Score, start: Fraction, end: Fraction, to_a_beat: int = 0) -> Score:
    """Vibrato from one part of every long note to another; with `to_a_beat`, so many even waves."""
    events = list(score.line.events())
    if not any(sum(events[index].length for index in chain) >= _LONG for chain in chains(score)):
        raise Unsuitable("it has no note of a half or longer")

    def change(notes: list[Event]) -> list[Event]:
        bare = [replace(note, vibrato=()) for note in notes]
        length = sum((note.length for note in notes), Fraction(0))
        mark = counted(round(to_a_beat * length / score.tempo.beat.length)) if to_a_beat else ""
        return waved(bare, start, end, mark) if length >= _LONG else bare

    return change_chains(score, change)


@variation("without vibrato", "A straight tone from beginning to end, so that nothing hides in it.")
def without_vibrato(score: Score, words: str) -> Score:
    """`senza vibrato` above the first note."""
    return _directed(score, "senza vibrato")


@variation("with vibrato", "Vibrato from the first instant of each note to its last.")
def with_vibrato(score: Score, words: str) -> Score:
    """`con vibrato` above the first note."""
    return _directed(score, "con vibrato")


@variation("vibrato from the start", "Every long note alive from its first instant, and to its last.")
def from_the_start(score: Score, words: str) -> Score:
    """A wave over the whole of each note of a half or longer."""
    return _waves(score, Fraction(0), Fraction(1))


@variation("vibrato late", "Every long note straight at first; the vibrato grows out of it.")
def late(score: Score, words: str) -> Score:
    """Each note of a half or longer straight in its first half, a growing wave over its second."""
    return _waves(score, Fraction(1, 2), Fraction(1))


@variation("vibrato fading", "Every long note begins alive and comes to rest, straight and in tune.")
def fading(score: Score, words: str) -> Score:
    """Each note of a half or longer with a dying wave over its first half, straight in its second."""
    return _waves(score, Fraction(0), Fraction(1, 2))


@variation(
    "vibrato measured",
    "So many even waves to each beat, counted: the breath makes them, the throat stays open.",
    takes="4",
    pattern=r"[2-8]",
)
def measured(score: Score, words: str) -> Score:
    """A wave over each long note, and how many to a beat above the first note."""
    directed = _directed(score, f"vibrato: {words} waves to a beat")
    return _waves(directed, Fraction(0), Fraction(1), to_a_beat=int(words))
