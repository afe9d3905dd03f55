"""Vibrato."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from builder.music.score import Event, Score, waved

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


def _waves(score: Score, start: Fraction, end: Fraction) -> Score:
    """Vibrato from one part of every long note to another."""
    events = list(score.line.events())
    if not any(sum(events[index].length for index in chain) >= _LONG for chain in chains(score)):
        raise Unsuitable("it has no note of a half or longer")

    def change(notes: list[Event]) -> list[Event]:
        bare = [replace(note, vibrato=()) for note in notes]
        long = sum(note.length for note in notes) >= _LONG
        return waved(bare, start, end) if long else bare

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
    """A wave over the second half of each note of a half or longer."""
    return _waves(_directed(score, "vibrato late"), Fraction(1, 2), Fraction(1))


@variation("vibrato fading", "Every long note begins alive and comes to rest, straight and in tune.")
def fading(score: Score, words: str) -> Score:
    """A wave over the first half of each note of a half or longer."""
    return _waves(_directed(score, "vibrato fading"), Fraction(0), Fraction(1, 2))


@variation(
    "vibrato measured",
    "So many even waves to each beat, counted: the breath makes them, the throat stays open.",
    takes="4",
    pattern=r"[2-8]",
)
def measured(score: Score, words: str) -> Score:
    """A wave over each long note, and how many to a beat above the first note."""
    return _waves(_directed(score, f"vibrato: {words} waves to a beat"), Fraction(0), Fraction(1))
