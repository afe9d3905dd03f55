"""Variations of the rhythm."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from ..music.event import Event, divided
from ..music.score import Bar, Score
from ..translation.said import term
from .registry import Unsuitable, variation


def _pairs_changed(score: Score, long_first: bool) -> Score:
    """Neighbours of one plain value become a dotted note and a short one, or the other way round."""
    count = 0
    bars = []
    for bar in score.line.bars:
        events = list(bar.events)
        index = 0
        while index + 1 < len(events):
            first, second = events[index], events[index + 1]
            if _even(first) and _even(second) and first.value == second.value:
                long = replace(first.value, dots=1)
                short = replace(first.value, base=first.value.base / 2)
                values = (long, short) if long_first else (short, long)
                events[index] = replace(first, value=values[0])
                events[index + 1] = replace(second, value=values[1])
                count += 1
                index += 2
            else:
                index += 1
        bars.append(replace(bar, events=tuple(events)))
    if not count:
        raise Unsuitable(term("no two neighbouring notes in a bar have one plain value"))
    return score.with_bars(tuple(bars))


def _even(event: Event) -> bool:
    value = event.value
    plain = not value.held and value.scale == 1 and not value.dots and value.base >= Fraction(1, 32)
    return event.pitch is not None and not event.tie and plain


@variation(
    "dotted",
    "Long and short instead of even: the short note belongs to the one after it.",
    shapes="rhythm",
)
def dotted(score: Score, words: str) -> Score:
    """Pairs of equal notes within a bar as a dotted note and a short one."""
    return _pairs_changed(score, long_first=True)


@variation(
    "reverse dotted",
    "Short and long instead of even: the short note quick and clear, not accented.",
    shapes="rhythm",
)
def reverse_dotted(score: Score, words: str) -> Score:
    """Pairs of equal notes within a bar as a short note and a dotted one."""
    return _pairs_changed(score, long_first=False)


@variation("doubled", "Every note twice as long: breathe where you need to, and keep the same sound.")
def doubled(score: Score, words: str) -> Score:
    """All values doubled in the same meter: each bar becomes two, with ties over the new bar line."""
    if score.meter.is_free:
        raise Unsuitable(term("free time has no meter in which it could fill bars"))
    if any(event.value.scale != 1 for event in score.line.events()):
        raise Unsuitable(term("it has tuplets, which do not divide at a bar line"))
    if score.pickup and score.pickup * 2 >= score.meter.length:
        raise Unsuitable(term("its pick-up would fill a bar"))
    bars: list[Bar] = []
    for number, bar in enumerate(score.line.bars):
        if number == 0 and score.pickup:
            events = [part for event in bar.events for part in _twice(event, (event.length * 2,))]
            bars.append(replace(bar, events=tuple(events)))
        else:
            bars += _two_bars(bar)
    return replace(score, pickup=score.pickup * 2).with_bars(tuple(bars))


def _twice(event: Event, lengths: tuple[Fraction, ...]) -> tuple[Event, ...]:
    """An event of double length, divided. `divided` takes parts of the event's own length."""
    longer = replace(event, value=replace(event.value, scale=event.value.scale * 2))
    return divided(longer, lengths)


def _two_bars(bar: Bar) -> list[Bar]:
    halves: tuple[list[Event], list[Event]] = ([], [])
    now = Fraction(0)
    for event in bar.events:
        length, before = event.length * 2, bar.length - now
        cut = (before, length - before) if 0 < before < length else (length,)
        for part in _twice(event, cut):
            halves[now >= bar.length].append(part)
            now += part.length
    return [
        replace(bar, events=tuple(halves[0]), end="|", times=2, jump=""),
        replace(bar, events=tuple(halves[1]), opens_repeat=False, meter=None, tempo=None, sign=""),
    ]
