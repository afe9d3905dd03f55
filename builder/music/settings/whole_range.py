"""Figures over an instrument's whole range: made anew for each key and instrument, in bars of their own.

A form holds such a figure over one octave in its place (`GeneratedFigure` says where), because its notes are
known only with the key and the instrument. It goes over the preferred range.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate
from typing import TypeVar

from ..event import Event
from ..exercise import Exercise, Form, GeneratedFigure
from ..figures.calls import call, dressed, made_within
from ..figures.calls import made as figure_notes
from ..keys import Key
from ..pitch import Pitch
from ..score import Bar, Compass, Meter
from .filling import flow, to_bar_end

T = TypeVar("T")


def whole_range_figures(form: Form) -> tuple[GeneratedFigure, ...]:
    """The figures of a form that go over an instrument's whole range."""
    return tuple(made for made in form.made if call(made.figure, made.words).is_whole_range)


def without_whole_range(form: Form, bars: tuple[Bar, ...]) -> tuple[Bar, ...]:
    """A form's bars without what stands in for figures over the whole range; empty if there is nothing else.

    `bars` are those of the form in any key.
    """
    if not (figures := whole_range_figures(form)):
        return bars
    gone = {place for made in figures for place in range(made.first, made.first + made.count)}
    kept, place = [], 0
    for bar in bars:
        events = tuple(event for number, event in enumerate(bar.events, start=place) if number not in gone)
        place += len(bar.events)
        kept += [replace(bar, events=events)] if events else []
    return tuple(kept)


def in_range(
    exercise: Exercise,
    form: Form,
    bars: tuple[Bar, ...],
    home: Pitch,
    key: Key,
    compass: Compass,
    shift: int,
) -> tuple[tuple[Bar, ...], tuple[GeneratedFigure, ...]]:
    """A form's bars in a key, with its figures over the whole range made for a compass, and all its figures.

    The bars are moved by `shift` octaves afterwards. What the author wrote around such a figure stays at its
    first and its last note. A figure for which the range has no room stays over one octave.
    """
    low, high = compass.easy_low.octaves(-shift), compass.easy_high.octaves(-shift)
    figures: list[GeneratedFigure] = []
    for made in reversed(form.made):
        wanted, count = call(made.figure, made.words), made.count
        if wanted.is_whole_range:
            notes = made_within(wanted, home, key, made.value, low, high)
            if notes:
                before = sum(len(bar.events) for bar in bars)
                bars = tuple(_replaced(exercise, bars, made, notes))
                count += sum(len(bar.events) for bar in bars) - before
        figures = [replace(later, first=later.first + count - made.count) for later in figures]
        figures.insert(0, replace(made, count=count))
    return bars, tuple(figures)


def with_figures_as_notes(
    exercise: Exercise, form: Form
) -> tuple[tuple[Bar, ...], dict[int, GeneratedFigure]]:
    """A form's bars with one note in the place of each figure over the whole range, and the figures.

    Each figure has the number of its note, counted from 0. The note has the author's signs on the figure.
    """
    bars, figures = form.bars, whole_range_figures(form)
    for made in reversed(figures):
        bars = tuple(_replaced(exercise, bars, made, None))
    fewer = accumulate((made.count - 1 for made in figures), initial=0)
    return bars, {made.first - gone: made for made, gone in zip(figures, fewer, strict=False)}


def _replaced(
    exercise: Exercise, bars: tuple[Bar, ...], made: GeneratedFigure, notes: tuple[Event, ...] | None
) -> Iterator[Bar]:
    """Bars with other notes in the place of a figure, or with one note for all of it."""
    meter, place = exercise.meter, 0
    old: list[Bar] = []
    for bar in bars:
        meter = bar.meter or meter
        start, place = place, place + len(bar.events)
        if start >= made.first + made.count or place <= made.first:
            yield bar
            continue
        old.append(bar)
        if place < made.first + made.count:
            continue
        events = [event for each in old for event in each.events]
        before = made.first - (place - len(events))
        figure = events[before : before + made.count]
        first, last = _of_the_author(exercise, made, meter, figure)
        rows = [[_together(first, last)]] if notes is None else _rows(made, notes, meter, first, last)
        rows[0] = [*events[:before], *rows[0]]
        rows[-1] = [*rows[-1], *events[before + made.count :]]
        for number, row in enumerate(rows, start=1):
            begins, ends = number == 1, number == len(rows)
            yield Bar(
                tuple(row),
                old[-1].end if ends else "|",
                opens_repeat=begins and old[0].opens_repeat,
                ending=old[0].ending,
                meter=old[0].meter if begins else None,
                tempo=old[0].tempo if begins else None,
                times=old[-1].times if ends else 2,
                sign=old[0].sign if begins else "",
                jump=old[-1].jump if ends else "",
            )


def _of_the_author(
    exercise: Exercise, made: GeneratedFigure, meter: Meter, events: Sequence[Event]
) -> tuple[Event, Event]:
    """The first and the last of a figure's events with those signs alone that the author put around it."""
    notes = figure_notes(call(made.figure, made.words), exercise.home, exercise.key, made.value)
    _, fresh = _laid_out(made, notes, meter)
    first, last = (
        replace(
            old,
            opens=_without(old.opens, new.opens),
            closes=_without(old.closes, new.closes),
            marks=_without(old.marks, new.marks),
        )
        for old, new in ((events[0], fresh[0]), (events[-1], fresh[-1]))
    )
    return first, last


def _together(first: Event, last: Event) -> Event:
    """The signs at the beginning and at the end of a figure on one note."""
    shades = (*first.dynamic_marks, *last.dynamic_marks)
    waves = (*first.vibrato, *last.vibrato)
    return replace(
        last, opens=first.opens, graces=first.graces, clef=first.clef, dynamic_marks=shades, vibrato=waves
    )


def _rows(
    made: GeneratedFigure, notes: tuple[Event, ...], meter: Meter, first: Event, last: Event
) -> list[list[Event]]:
    """The notes of a figure in bars, with the author's signs at its beginning and its end."""
    numbers, found = _laid_out(made, notes, meter)
    found = [replace(event, place=first.place) for event in found]
    found[0], found[-1] = _joined(first, found[0]), _joined(last, found[-1])
    rows: list[list[Event]] = [[] for _ in range(numbers[-1] + 1)]
    for number, event in zip(numbers, found, strict=True):
        rows[number].append(event)
    return rows


def _without(these: tuple[T, ...], those: tuple[T, ...]) -> tuple[T, ...]:
    """Things without others, each of which takes one away."""
    rest = list(these)
    for each in those:
        if each in rest:
            rest.remove(each)
    return tuple(rest)


def _laid_out(made: GeneratedFigure, notes: Sequence[Event], meter: Meter) -> tuple[list[int], list[Event]]:
    """The notes of a figure in bars from a bar line on, the last bar full: each one's bar, and the notes."""
    rows = flow(notes, meter, Fraction(0))
    if not meter.is_free:
        *before, last = rows[-1]
        start = sum((event.length for event in before), Fraction(0))
        rows[-1] = [*before, *to_bar_end(last, start, meter, meter.length)]
    numbers = [number for number, row in enumerate(rows) for _ in row]
    found = dressed(call(made.figure, made.words), [event for row in rows for event in row], numbers)
    return numbers, [event.marked(*made.marks) for event in found]


def _joined(signs: Event, note: Event) -> Event:
    """A figure's first or last note with the author's signs."""
    return replace(
        signs.marked(*note.marks),
        pitch=note.pitch,
        value=note.value,
        tie=note.tie,
        opens=(*signs.opens, *note.opens),
        closes=(*note.closes, *signs.closes),
    )
