"""Where phrases and notes begin and end, and how to change them in their bars."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from ..music.event import Event, Span
from ..music.score import Score, with_events
from ..music.sounding.repeats import way_back
from ..translation.said import term
from .registry import Unsuitable

ChangeNotes = Callable[[int, list[Event]], list[Event]]
"""Changes a group of notes, given with its number from 0; keeps how many they are."""


def _ends_phrase(events: list[Event], index: int) -> bool:
    event = events[index]
    following = events[index + 1] if index + 1 < len(events) else None
    return following is None or following.pitch is None or "breath" in event.marks


def phrases(score: Score) -> list[list[int]]:
    """The places of the notes of each phrase, counted over all events of the player's line.

    A phrase ends at a rest, a breath mark or the end of the music.
    """
    return _groups(score, _ends_phrase)


def chains(score: Score) -> list[list[int]]:
    """The places of each sounding note: one event, or several that ties join."""
    return _groups(score, lambda events, index: not events[index].tie)


def _groups(score: Score, ends: Callable[[list[Event], int], bool]) -> list[list[int]]:
    events = list(score.line.events())
    found: list[list[int]] = [[]]
    for index, event in enumerate(events):
        if event.pitch is None:
            continue
        found[-1].append(index)
        if ends(events, index):
            found.append([])
    return [group for group in found if group]


def change_groups(score: Score, groups: list[list[int]], change: ChangeNotes) -> Score:
    """The score with groups of notes, by their places, each changed by a function."""
    events = list(score.line.events())
    for number, group in enumerate(groups):
        changed = change(number, [events[index] for index in group])
        for index, event in zip(group, changed, strict=True):
            events[index] = event
    bars = with_events(score.line.bars, events)
    return score.with_line(replace(score.line, bars=bars))


def change_phrases(score: Score, change: ChangeNotes) -> Score:
    """The score with the notes of each phrase, without rests, changed by a function."""
    return change_groups(score, phrases(score), change)


def check_goes_on(score: Score) -> None:
    """Raise Unsuitable if the music goes back by da capo or dal segno."""
    if way_back(score.line.bars) is not None:
        raise Unsuitable(term("it goes back by da capo or dal segno, and bars are added"))


def without(event: Event, *spans: Span) -> Event:
    """The event with none of these spans opening or closing on it."""
    return replace(
        event,
        opens=tuple(span for span in event.opens if span not in spans),
        closes=tuple(span for span in event.closes if span not in spans),
    )
