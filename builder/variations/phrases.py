"""Where phrases begin and end: at rests, breath marks and the ends of the music."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from builder.music.score import Bar, Event, Score


def _ends_phrase(events: list[Event], index: int) -> bool:
    event = events[index]
    following = events[index + 1] if index + 1 < len(events) else None
    return following is None or following.pitch is None or "breath" in event.marks


def phrases(score: Score) -> list[list[int]]:
    """The places of the notes of each phrase, counted over all events of the player's line."""
    events = list(score.line.events())
    found: list[list[int]] = [[]]
    for index, event in enumerate(events):
        if event.pitch is None:
            continue
        found[-1].append(index)
        if _ends_phrase(events, index):
            found.append([])
    return [phrase for phrase in found if phrase]


def change_phrases(score: Score, change: Callable[[list[Event]], list[Event]]) -> Score:
    """The score with each phrase's notes, rests left out, changed by a function that keeps their number."""
    events = list(score.line.events())
    for phrase in phrases(score):
        for index, event in zip(phrase, change([events[index] for index in phrase]), strict=True):
            events[index] = event
    bars: list[Bar] = []
    start = 0
    for bar in score.line.bars:
        end = start + len(bar.events)
        bars.append(replace(bar, events=tuple(events[start:end])))
        start = end
    return score.with_line(replace(score.line, bars=tuple(bars)))


def without(event: Event, *spans: str) -> Event:
    """The event with spans of these kinds neither opening nor closing on it."""
    return replace(
        event,
        opens=tuple(span for span in event.opens if span.split()[0] not in spans),
        closes=tuple(span for span in event.closes if span.split()[0] not in spans),
    )
