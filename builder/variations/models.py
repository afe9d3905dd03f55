"""A way of playing shown on a few bars: the shortest stretch of a varied line that shows what is varied."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from ..music.event import HAIRPIN_END, HAIRPINS, DynamicMark, Event, Span
from ..music.score import Bar, Score, Staff
from ..music.signs import GLISSANDO

_FEWEST_NOTES = 2
"""A phrase of one note shows little of a way of playing; the next is shown with it."""

Place = tuple[int, int]
"""A bar and an event in it, from 0."""


def changes_notes(plain: Score, varied: Score) -> bool:
    """Whether a variation has other notes, rests, bars or staves than the score as written."""
    if plain.lines[1:] != varied.lines[1:] or varied.line.ladder:
        return True
    return [_notes(bar) for bar in plain.line.bars] != [_notes(bar) for bar in varied.line.bars]


def _notes(bar: Bar) -> tuple[object, ...]:
    events = ((each.pitch, each.graces, each.value) for each in bar.events)
    return (bar.end, bar.opens_repeat, bar.ending, *events)


def model_of(plain: Score, varied: Score) -> Score:
    """The first phrase of a varied line that differs from the plain one, alone on the player's staff.

    Both have the same notes (`changes_notes` is false). Where no phrase differs it is the first one. What
    reaches beyond the phrase (a slur, a tie, a hairpin) ends with it.
    """
    phrases = list(_phrases(varied.line))
    return _alone(varied, *next(_differing(plain, varied, phrases), phrases[0]))


def is_in_its_model(plain: Score, varied: Score) -> bool:
    """Whether the model of a varied line (`model_of`) has all that is varied in it."""
    return len(list(_differing(plain, varied, list(_phrases(varied.line))))) <= 1


def _differing(
    plain: Score, varied: Score, phrases: Sequence[tuple[Place, Place]]
) -> Iterator[tuple[Place, Place]]:
    """The phrases that a variation changes."""
    return (phrase for phrase in phrases if _between(plain.line, *phrase) != _between(varied.line, *phrase))


def _phrases(line: Staff) -> Iterator[tuple[Place, Place]]:
    """The first and the last event of each phrase: it ends at a breath, a rest or a section's end."""
    begin: Place | None = None
    notes = 0
    places = [(number, place) for number, bar in enumerate(line.bars) for place in range(len(bar.events))]
    for here, following in zip(places, [*places[1:], None], strict=True):
        event = _event(line, here)
        begin = begin or here
        notes += event.pitch is not None and not event.tie
        ends_bar = following is None or following[0] != here[0]
        section = ends_bar and line.bars[here[0]].end != "|"
        rest = following is not None and _event(line, following).pitch is None and event.pitch is not None
        over = "breath" in event.marks or section or rest
        if following is None or (over and notes >= _FEWEST_NOTES):
            yield begin, here
            begin, notes = None, 0


def _event(line: Staff, place: Place) -> Event:
    return line.bars[place[0]].events[place[1]]


def _between(line: Staff, first: Place, last: Place) -> list[Event]:
    return [
        event
        for number, bar in enumerate(line.bars)
        for place, event in enumerate(bar.events)
        if first <= (number, place) <= last
    ]


def _alone(score: Score, first: Place, last: Place) -> Score:
    """A score from one event to another, its bars as far as they lie between."""
    bars = []
    for number in range(first[0], last[0] + 1):
        bar = score.line.bars[number]
        begin = first[1] if number == first[0] else 0
        end = last[1] + 1 if number == last[0] else len(bar.events)
        bars.append(replace(bar.played_once, events=bar.events[begin:end], end="|"))
    meter = next((bar.meter for bar in reversed(score.line.bars[: first[0] + 1]) if bar.meter), score.meter)
    bars[0] = replace(bars[0], meter=None)
    bars[-1] = replace(bars[-1], end="||")
    whole = len(bars) > 1 and bars[0].length < meter.length
    clef = next(
        (event.clef for event in reversed(_between(score.line, (0, 0), first)) if event.clef), score.line.clef
    )
    closed = _closed([event for bar in bars for event in bar.events])
    kept = []
    for bar in bars:
        kept.append(replace(bar, events=tuple(closed[: len(bar.events)])))
        del closed[: len(bar.events)]
    line = replace(score.line, bars=tuple(kept), clef=clef, ladder=None)
    pickup = bars[0].length if whole else Fraction(0)
    return replace(score, lines=(line,), meter=meter, pickup=pickup, chords=())


def _closed(events: Sequence[Event]) -> list[Event]:
    """Events without what joins them to others beyond their ends; an open hairpin ends with the last."""
    open_spans: list[Span] = []
    kept = []
    for event in events:
        closes = tuple(span for span in event.closes if span in (*open_spans, *event.opens))
        open_spans = [span for span in (*open_spans, *event.opens) if span not in event.closes]
        kept.append(replace(event, closes=closes))
    last = kept[-1].without_marks(GLISSANDO)
    kept[-1] = replace(last, tie=False, closes=(*last.closes, *open_spans))
    marks = [mark.mark for event in kept for mark in sorted(event.dynamic_marks, key=lambda mark: mark.at)]
    if marks and marks[-1] in HAIRPINS:
        kept[-1] = kept[-1].with_dynamic_marks(DynamicMark(Fraction(1), HAIRPIN_END))
    return kept
