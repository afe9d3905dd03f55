"""Lets notes flow through bars: a note that goes over a bar line is tied, and a last note fills its bar."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate

from ..event import Event, Value, divided
from ..score import Meter


def flow(events: Sequence[Event], meter: Meter, filled: Fraction) -> list[list[Event]]:
    """Events in bars of a meter, the first of which is filled so far; in free time all are in one.

    A note that goes over a bar line is divided and tied, unless no values add up to its parts. If the first
    bar is full, its row is empty.
    """
    rows: list[list[Event]] = [[]]
    for event in events:
        for piece in _pieces(event, meter, filled):
            if filled >= meter.length and not meter.is_free:
                rows.append([])
                filled = Fraction(0)
            rows[-1].append(piece)
            filled += piece.length
    return rows


def _pieces(event: Event, meter: Meter, filled: Fraction) -> tuple[Event, ...]:
    """An event divided at the bar lines that it goes over; itself if it is in one bar."""
    room = meter.length - filled if filled < meter.length else meter.length
    if meter.is_free or event.value.held or event.length <= room:
        return (event,)
    lengths, rest = [room], event.length - room
    while rest > 0:
        lengths.append(min(rest, meter.length))
        rest -= lengths[-1]
    try:
        return divided(event, lengths)
    except ValueError:
        return (event,)


def to_bar_end(event: Event, start: Fraction, meter: Meter, end: Fraction) -> tuple[Event, ...]:
    """An event that begins at this place of a bar, held to the end of the bar in tied values.

    Values that begin off the beat end with the beat. Raises ValueError if no values add up to the length.
    """
    lengths = list(_lengths(start, meter, end))
    return divided(replace(event, value=Value(end - start)), lengths)


def _lengths(start: Fraction, meter: Meter, end: Fraction) -> Iterator[Fraction]:
    beats = list(accumulate(meter.group_lengths))
    following = next((beat for beat in beats if beat > start), end)
    if start and start not in beats and following < end:
        yield following - start
        start = following
    yield end - start
