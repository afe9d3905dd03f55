"""Checks signs on notes: those that exclude each other, and those that must lead somewhere."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import zip_longest

from ...music.event import Event, Tempo
from ...music.score import Bar
from ...music.signs import GLISSANDO, NOT_ON_RESTS, ONE_OF, TECHNIQUES, technique_of
from ...music.sounding.tempos import RITARDANDO, tempo_change

SignFault = tuple[Event, str, str]
"""The event that a fault is at, what is wrong, and how to mend it."""


def sign_faults(events: Sequence[Event]) -> Iterator[SignFault]:
    """What is wrong with the signs on the notes of a field, each at its note."""
    for event, following in zip_longest(events, events[1:]):
        if event.pitch is None:
            for mark in event.marks:
                if mark in NOT_ON_RESTS:
                    yield event, f"a rest cannot have {mark!r}", "put it after its note"
            continue
        for kind, names in ONE_OF.items():
            found = [mark for mark in event.marks if mark in names]
            if len(found) > 1:
                yield event, f"a note has one {kind}, and this one has {', '.join(found)}", "keep one of them"
        technique = technique_of(event)
        if event.fundamental is not None and technique and TECHNIQUES[technique].head:
            what = f"a harmonic over its fingering has a diamond, and {technique!r} asks for another head"
            yield event, what, "take one of them out"
        if GLISSANDO in event.marks:
            yield from _glissando_faults(event, following)


def _glissando_faults(event: Event, following: Event | None) -> Iterator[SignFault]:
    mend = "put `glissando` after the note that slides, and before the one that it slides to"
    if following is None:
        yield event, "a glissando from the last note goes nowhere", mend
    elif following.pitch is None:
        yield event, "a glissando leads to a rest", mend
    elif following.pitch == event.pitch:
        yield event, f"a glissando leads from {event.pitch} to {event.pitch}", mend


def tempo_faults(bars: Sequence[Bar], tempo: Tempo) -> Iterator[SignFault]:
    """Ritardandos that do not slow down and accelerandos that do not quicken, from a first tempo on."""
    now = tempo
    for bar in bars:
        now = bar.tempo or now
        for event in bar.events:
            change = tempo_change(event)
            if change and change.tempo and not _leads_on(now, change.tempo, change.kind == RITARDANDO):
                slower = "slower" if change.kind == RITARDANDO else "faster"
                what = f"the {change.kind} from {now} leads to {change.tempo}, which is not {slower}"
                yield event, what, f"write a {slower} tempo"
            now = next((span.tempo for span in event.closes if span.tempo), now)


def _leads_on(now: Tempo, goal: Tempo, slows: bool) -> bool:
    """Whether a goal is slower than a tempo, or faster, from one end of their ranges to the other."""
    pairs = ((now.low, goal.low), (now.high, goal.high))
    changes = [then * goal.beat.length - here * now.beat.length for here, then in pairs]
    return all(change < 0 for change in changes) if slows else all(change > 0 for change in changes)
