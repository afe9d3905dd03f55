"""How fast music goes at each place of its page: new tempos at bar lines, ritardando, accelerando.

A change by and by is evenly spread over the lengths of its notes as they are written. It goes in steps, one
for each note and one for each eighth of a longer note, in whole beats a minute. Its goal holds from its end
until the next new tempo. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import ceil

from ..event import Event, Span, Tempo
from ..score import Score

RITARDANDO, ACCELERANDO = "ritardando", "accelerando"
TEMPO_CHANGES = {RITARDANDO: "rit.", ACCELERANDO: "accel."}
"""The kinds of spans over which the tempo changes by and by, and what is printed over each."""

STEP = Fraction(1, 8)
"""The longest time at one tempo within such a span, in whole notes."""

Steps = tuple[tuple[Fraction, Tempo], ...]
"""The tempos of an event, each with when it begins, in whole notes from the event's own beginning."""


def tempo_change(event: Event) -> Span | None:
    """The span of a changing tempo that begins with an event."""
    return next((span for span in event.opens if span.tempo is not None), None)


def changes_tempo(score: Score) -> bool:
    """Whether the tempo of the player's line changes anywhere."""
    bars = score.line.bars
    return any(bar.tempo for bar in bars) or any(tempo_change(event) for event in score.line.events())


def between(tempo: Tempo, goal: Tempo, part: Fraction) -> Tempo:
    """The tempo at a part of the way (0 to 1) from one to another, in beats of the first."""
    factor = goal.beat.length / tempo.beat.length
    low, high = (
        round(now + (then * factor - now) * part)
        for now, then in ((tempo.low, goal.low), (tempo.high, goal.high))
    )
    return Tempo(tempo.beat, low, high)


def tempos(score: Score) -> tuple[Tempo, ...]:
    """The tempo in force at the beginning of each bar of the page."""
    return tuple(at_bar for at_bar, _ in _bars(score))


def tempo_steps(score: Score) -> tuple[Steps, ...]:
    """The tempos of each event of the page, in order."""
    return tuple(steps for _, bar in _bars(score) for steps in bar)


def _bars(score: Score) -> Iterator[tuple[Tempo, list[Steps]]]:
    """For each bar of the page the tempo at its beginning, and the tempos of its events."""
    now = score.tempo
    change: Span | None = None
    passed = total = Fraction(0)
    lengths = iter(_lengths(score))
    for bar in score.line.bars:
        now = bar.tempo or now
        at_bar, found = now, []
        for event in bar.events:
            begun = tempo_change(event)
            if begun:
                change, passed, total = begun, Fraction(0), next(lengths)
            if change and change.tempo:
                found.append(tuple(_steps(event, now, change.tempo, passed, total)))
                passed += event.length
            else:
                found.append(((Fraction(0), now),))
            if change and change in event.closes:
                now, change = change.tempo or now, None
        yield at_bar, found


def _steps(
    event: Event, tempo: Tempo, goal: Tempo, passed: Fraction, total: Fraction
) -> Iterator[tuple[Fraction, Tempo]]:
    count = max(1, ceil(event.length / STEP))
    each = event.length / count
    for number in range(count):
        # Each step has the tempo of its middle.
        yield each * number, between(tempo, goal, (passed + each * (number + Fraction(1, 2))) / total)


def _lengths(score: Score) -> Iterator[Fraction]:
    """The length of each span of a changing tempo, in whole notes."""
    change: Span | None = None
    length = Fraction(0)
    for event in score.line.events():
        if begun := tempo_change(event):
            change, length = begun, Fraction(0)
        length += event.length
        if change and change in event.closes:
            yield length
            change = None
    if change:
        yield length
