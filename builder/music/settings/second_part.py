"""The second part of a duet: written out, in canon with the first, or a held note (pedal).

A canon follows the first part within the key: each note moves by steps of the key and keeps its accidental
above or below the key's own note, so that a raised seventh is answered by a raised note. At the unison and
the octave it is exact. Both parts are played to their ends: while the second finishes, the first rests.
Common practice is both this and breaking the second part off; this ends in the melody's own close.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate, pairwise

from ..event import Event, Span, values_for
from ..exercise import Canon, Exercise, Form, Pedal
from ..keys import Key
from ..pitch import Interval, Pitch
from ..score import Bar, Meter, Score, each_event
from ..signs import HARMONIC
from .harmonics import partial_of

Bars = tuple[Bar, ...]

_FOUR = 4
"""Beats of a bar that is felt in two halves."""


def parts_at_home(exercise: Exercise, form: Form) -> tuple[Bars, Bars]:
    """The bars of the first and the second part of a form in its home key; the second empty without one."""
    if form.second:
        return form.bars, form.second.bars
    return derived(exercise, form.bars, exercise.key, Interval(0, 0))


def derived(exercise: Exercise, bars: Bars, key: Key, interval: Interval) -> tuple[Bars, Bars]:
    """The first part and the one that a rule makes of it, in a key at an interval from home."""
    rule = exercise.second
    if isinstance(rule, Canon):
        return canon(bars, key, rule, exercise.meter)
    if isinstance(rule, Pedal):
        return bars, pedal(bars, rule.pitch.up(interval), rule.tied)
    return bars, ()


def joined(first: Bars, second: Bars) -> Bars:
    """The second part under the first one's bar lines, repeats and changes of meter; tempos stand above."""
    return tuple(
        replace(above, events=tuple(map(_without_tempo, bar.events)), tempo=None)
        for above, bar in zip(first, second, strict=True)
    )


def _without_tempo(event: Event) -> Event:
    """An event without a ritardando or an accelerando, which the first part has for both."""
    opens, closes = (tuple(span for span in spans if not span.tempo) for spans in (event.opens, event.closes))
    if (opens, closes) == (event.opens, event.closes):
        return event
    return replace(event, opens=opens, closes=closes)


def canon(bars: Bars, key: Key, rule: Canon, meter: Meter) -> tuple[Bars, Bars]:
    """The first part with rests at its end, and the second with rests at its beginning.

    There are two bars at least, all in one meter and without repeats. Only the first and last may be short.
    """
    whole, wait = _rest(meter), [_rest(meter)] * (rule.bars - 1)
    answer = each_event(bars, lambda event: _answer(event, key, rule.steps))
    begins, ends = bars[0].length, bars[-1].length
    tail = replace(bars[-1], events=(*bars[-1].events, *_rests(meter, ends, meter.length)), end="|")
    head = replace(answer[0], events=(*_rests(meter, Fraction(0), meter.length - begins), *answer[0].events))
    last = whole if ends == meter.length else Bar(_rests(meter, Fraction(0), ends))
    pickup = whole if begins == meter.length else Bar(_rests(meter, meter.length - begins, meter.length))
    first = (*bars[:-1], tail, *wait, replace(last, end=bars[-1].end))
    return first, joined(first, (pickup, *wait, head, *answer[1:]))


def _answer(event: Event, key: Key, steps: int) -> Event:
    moved = replace(event.each_pitch(lambda pitch: moved_within(pitch, key, steps)), clef="")
    if moved.pitch and moved.fundamental and not partial_of(moved.pitch, moved.fundamental):
        # Another interval may be no overtone's: the player chooses the fingering.
        return replace(moved, fundamental=None).marked(HARMONIC)
    return moved


def moved_within(pitch: Pitch, key: Key, steps: int) -> Pitch:
    """A pitch some steps of a key higher, its accidental kept in relation to the key's own notes."""
    octave, letter = divmod(pitch.step + steps, 7)
    raised = pitch.alter - key.alteration(pitch.letter)
    return Pitch(letter, key.alteration(letter) + raised, octave)


def _rest(meter: Meter) -> Bar:
    return Bar(tuple(Event(None, value) for value in values_for(meter.length)))


def _rests(meter: Meter, begin: Fraction, end: Fraction) -> tuple[Event, ...]:
    """Rests from one moment of a bar to another: each beat by itself, and in 4/4 each half of the bar."""
    groups = meter.group_lengths
    if len(groups) == _FOUR and len(set(groups)) == 1:
        # A half is one rest if it is empty as a whole.
        halves = [(Fraction(0), meter.length / 2), (meter.length / 2, meter.length)]
        whole = [half for half in halves if begin <= half[0] and half[1] <= end]
    else:
        whole = []
    edges = {begin, end, *(time for time in accumulate(groups) if begin < time < end)}
    cuts = sorted(time for time in edges if not any(first < time < last for first, last in whole))
    return tuple(Event(None, value) for first, last in pairwise(cuts) for value in values_for(last - first))


def pedal(bars: Bars, pitch: Pitch, tied: bool) -> Bars:
    """One note through every bar, `tied` or begun anew; it breathes after each bar that has a breath."""
    found = []
    for number, bar in enumerate(bars):
        values = values_for(bar.length)
        breathes = any("breath" in event.marks for event in bar.events)
        goes_on = tied and not breathes and number + 1 < len(bars)
        events = [
            Event(pitch, value, tie=place < len(values) or goes_on) for place, value in enumerate(values, 1)
        ]
        if breathes:
            events[-1] = events[-1].marked("breath")
        found.append(replace(bar, events=tuple(events)))
    return joined(bars, tuple(found))


def part_alone(score: Score, number: int) -> Score:
    """One part of a duet, 1 or 2, as the player's line of a score; a drone stays below it.

    The second part brings the tempos that stand above the first, and the words of a ritardando or an
    accelerando, from the note on that sounds where it begins to the one that sounds where it ends.
    """
    line = score.line
    if number == 2 and score.second:
        pairs = zip(score.line.bars, score.second.bars, strict=True)
        line = replace(score.second, bars=tuple(_with_tempo(above, bar) for above, bar in pairs))
    return replace(score, lines=(line, *(staff for staff in score.lines[1:] if not staff.part)))


def _with_tempo(above: Bar, bar: Bar) -> Bar:
    """A bar of the second part with the tempo, and the changes of tempo, that stand in the first's."""
    spans = [
        (begin, end, _tempo_spans(event.opens), _tempo_spans(event.closes))
        for begin, end, event in _timed(above)
    ]
    events = []
    for begin, end, event in _timed(bar):
        opens = [span for start, _, found, _ in spans if begin <= start < end for span in found]
        closes = [span for _, stop, _, found in spans if begin < stop <= end for span in found]
        events.append(replace(event, opens=(*event.opens, *opens), closes=(*event.closes, *closes)))
    return replace(bar, events=tuple(events), tempo=above.tempo)


def _timed(bar: Bar) -> Iterator[tuple[Fraction, Fraction, Event]]:
    """The events of a bar with where in it each begins and ends, in whole notes."""
    now = Fraction(0)
    for event in bar.events:
        yield now, now + event.length, event
        now += event.length


def _tempo_spans(spans: tuple[Span, ...]) -> tuple[Span, ...]:
    return tuple(span for span in spans if span.tempo)


def both_parts(first: Score, second: Score) -> Score:
    """A duet of two parts that are each the player's line of a score; the rest is the first one's."""
    staff = replace(second.line, bars=joined(first.line.bars, second.line.bars))
    return replace(first, lines=(first.line, staff, *first.lines[1:]))
