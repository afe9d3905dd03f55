"""Vibrato."""

from __future__ import annotations

from dataclasses import replace

from builder.music.score import Event, Score

from .phrases import without
from .registry import variation


def _directed(score: Score, words: str) -> Score:
    first = True

    def change(event: Event) -> Event:
        nonlocal first
        event = without(event, "vibrato")
        if event.pitch is None or not first:
            return event
        first = False
        return replace(event, above=f"{words}; {event.above}" if event.above else words)

    return score.each_event(change)


@variation("without vibrato", "A straight tone from beginning to end, so that nothing hides in it.")
def without_vibrato(score: Score, words: str) -> Score:
    """`senza vibrato` above the first note."""
    return _directed(score, "senza vibrato")


@variation("with vibrato", "Vibrato from the first instant of each note to its last.")
def with_vibrato(score: Score, words: str) -> Score:
    """`con vibrato` above the first note."""
    return _directed(score, "con vibrato")
