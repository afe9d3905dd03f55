"""Times music: how long it lasts at a tempo, in which order its bars sound, and how long a breath must be.

Everything is exact: times on the page are fractions of a whole note, times heard fractions of a second. The
rules:

1. A repeated passage is heard again, with its endings in turn, in the order of `repeats.playback_order`. A
   bar heard again has the tempo that it has on the page.
2. A note under a fermata lasts longer than it is written (`signs.FERMATAS`): under an ordinary one half as
   long again. Every staff waits for it, whichever part of a duet has it.
3. A breath mark takes its time from the note before it, so it adds nothing to the length.
4. A span without a breath begins with the first note that sounds and ends at a breath mark, at a rest, or
   with the music. It goes on across a repeat. Only players' staves count: a drone does not breathe.
5. A note held as long as the breath (`score.LONG`) lasts a breath of the score's, the longest at the slowest
   pace, whatever the tempo; a fermata adds nothing to it. Several of them in one breath share it equally.
   Notes with a counted value in the same breath add their own time.
6. A ritardando and an accelerando change the tempo by steps, as `tempos` says.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby, pairwise
from math import ceil

from ..event import DynamicMark, Event, Tempo, Value
from ..score import Ladder, Score, Staff
from ..signs import FERMATAS
from .repeats import playback_order
from .tempos import Steps, tempo_steps, tempos

SLOWEST = Fraction(0)
FASTEST = Fraction(1)

BREATH_SECONDS = 16.0
"""Seconds: a longer span without a breath brings a warning, unless the book names another limit.

Common practice, no source: warm-up books ask for long tones of about twelve seconds from a player in
training and of twenty from one who is trained; this stands between.
"""


@dataclass(frozen=True, slots=True)
class UnfoldedEvent:
    """An event in the order of hearing.

    `bar` and `place` say where it stands on the page, both from 0, and `index` is its number among all
    events of its line; an event in a repeat is heard twice, with the same numbers. `start` is the time of
    its beginning in whole notes, repeats counted, and `time` is 1 where it is heard for the first time.
    `beats` is the tempo that a ladder gives it, in beats a minute, or 0 where the tempo in force holds.
    `shares` is how many notes share the breath of a note that is held as long as the breath, else 0.
    """

    event: Event
    bar: int
    place: int
    index: int
    start: Fraction
    time: int = 1
    beats: int = 0
    shares: int = 0

    @property
    def end(self) -> Fraction:
        """The time of its end in whole notes, repeats counted."""
        return self.start + self.event.length

    @property
    def shades(self) -> Iterator[tuple[Fraction, str]]:
        """Its dynamic signs of this time, each with when it stands, in whole notes."""
        return self._of_this_time(self.event.dynamic_marks)

    @property
    def vibrato(self) -> Iterator[tuple[Fraction, str]]:
        """Its vibrato's signs of this time, each with when it stands, in whole notes."""
        return self._of_this_time(self.event.vibrato)

    def _of_this_time(self, shades: tuple[DynamicMark, ...]) -> Iterator[tuple[Fraction, str]]:
        for shade in shades:
            if shade.time in (0, self.time):
                yield self.start + shade.at * self.event.length, shade.mark


def unfold(line: Staff) -> tuple[UnfoldedEvent, ...]:
    """Every event of a line in the order it is heard: repeats again, a ladder's passage once a rung."""
    firsts = [0]
    for bar in line.bars:
        firsts.append(firsts[-1] + len(bar.events))
    found: list[UnfoldedEvent] = []
    now = Fraction(0)
    times = Counter[int]()
    for number in playback_order(line.bars):
        times[number] += 1
        for place, event in enumerate(line.bars[number].events):
            found.append(UnfoldedEvent(event, number, place, firsts[number] + place, now, times[number]))
            now += event.length
    _share_breaths(found)
    return _climbed(tuple(found), line.ladder) if line.ladder else tuple(found)


@dataclass(frozen=True, slots=True)
class HeardBar:
    """A bar of the page as it is heard once: its number from 0, from `start` until `end` in whole notes.

    A ladder may begin within it: then `offset` is what of the bar comes before.
    """

    number: int
    start: Fraction
    end: Fraction
    offset: Fraction


def heard_bars(line: Staff, heard: Iterable[UnfoldedEvent]) -> Iterator[HeardBar]:
    """The bars of a line in the order they are heard; `heard` are the line's events in that order."""
    for (number, _, _), group in groupby(heard, lambda item: (item.bar, item.time, item.beats)):
        items = list(group)
        before = line.bars[number].events[: items[0].place]
        offset = sum((event.length for event in before), Fraction(0))
        yield HeardBar(number, items[0].start, items[-1].end, offset)


def _share_breaths(items: list[UnfoldedEvent]) -> None:
    """Tell each note that is held as long as the breath how many of them share it."""
    breath: list[int] = []
    for place, item in enumerate(items):
        if item.event.value.held:
            breath.append(place)
        over = item.event.pitch is None or "breath" in item.event.marks or place + 1 == len(items)
        if over:
            for held in breath:
                items[held] = replace(items[held], shares=len(breath))
            breath = []


def _climbed(items: tuple[UnfoldedEvent, ...], ladder: Ladder) -> tuple[UnfoldedEvent, ...]:
    """A line's events, with its ladder's passage repeated for each rung."""
    found = [replace(item, beats=ladder.rungs[0] if item.index >= ladder.first else 0) for item in items]
    passage = [item for item in items if item.index >= ladder.first and item.time == items[-1].time]
    now = items[-1].end
    for beats in ladder.rungs[1:]:
        for item in passage:
            found.append(replace(item, start=now, beats=beats))
            now += item.event.length
    return tuple(found)


def beats_a_minute(tempo: Tempo, pace: Fraction) -> Fraction:
    """The number of beats a minute at a pace from 0 (the slowest of the range) to 1 (the fastest)."""
    return tempo.low + (tempo.high - tempo.low) * pace


@dataclass(frozen=True, slots=True)
class Stretch:
    """A passage at one speed. It begins at `start` on the page (whole notes), after `at` seconds."""

    start: Fraction
    at: Fraction
    seconds_a_whole: Fraction


@dataclass(frozen=True, slots=True)
class Clock:
    """Converts times on the page (whole notes, repeats counted) to seconds from the beginning.

    `stretches` are in order and begin at 0; `end` is the end of the music, in whole notes.
    """

    stretches: tuple[Stretch, ...]
    end: Fraction

    def seconds(self, time: Fraction) -> Fraction:
        """The moment at which a time on the page is heard."""
        found = self.stretches[bisect_right(self.stretches, time, key=lambda stretch: stretch.start) - 1]
        return found.at + (time - found.start) * found.seconds_a_whole

    @property
    def length(self) -> Fraction:
        """The whole, in seconds."""
        return self.seconds(self.end)


def steps_of(item: UnfoldedEvent, score: Score, in_force: tuple[Steps, ...]) -> Steps:
    """The tempos of an event: its rung's on a ladder, else those of its place on the page (`tempo_steps`).

    A note held as long as the breath has a tempo of its own, in beats so small that its seconds are exact.
    """
    if item.shares:
        shortest, longest = score.breath
        beat = Value(item.event.length / (shortest * longest))
        return ((Fraction(0), Tempo(beat, 60 * item.shares * shortest, 60 * item.shares * longest)),)
    if item.beats:
        return ((Fraction(0), Tempo(score.tempo.beat, item.beats, item.beats)),)
    return in_force[item.index]


def fermata_of(event: Event) -> Fraction:
    """How many times its written length an event lasts."""
    if event.value.held:
        return Fraction(1)
    return next((FERMATAS[mark] for mark in event.marks if mark in FERMATAS), Fraction(1))


def paces(
    score: Score, items: Iterable[UnfoldedEvent]
) -> Iterator[tuple[UnfoldedEvent, Fraction, Fraction, Fraction]]:
    """The events of the first part with where each begins and ends, and how many times longer it lasts.

    An event is divided where a fermata of the second part begins or ends within it.
    """
    second = unfold(score.second) if score.second else ()
    held = [(item.start, item.end, fermata_of(item.event)) for item in second if fermata_of(item.event) != 1]
    for item in items:
        cuts = {time for begin, end, _ in held for time in (begin, end) if item.start < time < item.end}
        for begin, end in pairwise([item.start, *sorted(cuts), item.end]):
            factors = [factor for first, last, factor in held if first <= begin < last]
            yield item, begin, end, max([fermata_of(item.event), *factors])


def speeds(
    score: Score, items: Iterable[UnfoldedEvent]
) -> Iterator[tuple[Fraction, Fraction, Tempo, Fraction]]:
    """The passages of the first part at one tempo: begin, end, tempo, and how many times longer they last."""
    in_force = tempo_steps(score)
    for item, begin, end, factor in paces(score, items):
        steps = steps_of(item, score, in_force)
        starts = [item.start + at for at, _ in steps]
        for (_, tempo), first, last in zip(steps, starts, [*starts[1:], item.end], strict=True):
            if max(begin, first) < min(end, last):
                yield max(begin, first), min(end, last), tempo, factor


def clock(score: Score, pace: Fraction = SLOWEST) -> Clock:
    """When each moment of a score is heard, at a pace from 0 (slowest) to 1 (fastest of its range)."""
    stretches: list[Stretch] = []
    at = end = Fraction(0)
    for begin, until, tempo, factor in speeds(score, unfold(score.line)):
        speed = 60 / (beats_a_minute(tempo, pace) * tempo.beat.length)
        speed *= factor
        if not stretches or stretches[-1].seconds_a_whole != speed:
            stretches.append(Stretch(begin, at, speed))
        at += (until - begin) * speed
        end = until
    return Clock(tuple(stretches), end)


@dataclass(frozen=True, slots=True)
class Timing:
    """How long music lasts at one pace, in seconds, and its longest span without a breath.

    `breath_bar` is the bar in which that span begins, counted from 1 as the bars stand on the page, and
    `in_second` tells whether it is in the second part of a duet.
    """

    seconds: Fraction
    breath: Fraction
    breath_bar: int
    in_second: bool = False


def timing(score: Score, pace: Fraction = SLOWEST) -> Timing:
    """The length and the longest breath of a score at a pace from 0 (slowest) to 1 (fastest)."""
    time = clock(score, pace)
    longest = Timing(time.length, Fraction(0), 1)
    for line in (score.line, score.second):
        for first, last in breaths(line) if line and not line.chords else ():
            seconds = time.seconds(last.end) - time.seconds(first.start)
            if seconds > longest.breath:
                longest = Timing(time.length, seconds, first.bar + 1, line is not score.line)
    return longest


def breaths(line: Staff) -> tuple[tuple[UnfoldedEvent, UnfoldedEvent], ...]:
    """The first and the last note of every span without a breath, in the order they are heard."""
    found: list[tuple[UnfoldedEvent, UnfoldedEvent]] = []
    first: UnfoldedEvent | None = None
    before: UnfoldedEvent | None = None
    for item in unfold(line):
        if item.event.pitch is None:
            if first and before:
                found.append((first, before))
            first = before = None
            continue
        first, before = first or item, item
        if "breath" in item.event.marks:
            found.append((first, item))
            first = before = None
    if first and before:
        found.append((first, before))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Length:
    """How long music lasts over its range of tempo, in seconds: at the fastest and at the slowest."""

    shortest: Fraction
    longest: Fraction

    def __add__(self, other: Length) -> Length:
        return Length(self.shortest + other.shortest, self.longest + other.longest)


def length(score: Score) -> Length:
    """A score's length over its range of tempo."""
    return Length(clock(score, FASTEST).length, clock(score, SLOWEST).length)


def total(scores: Iterable[Score]) -> Length:
    """The length of several scores one after the other, with no pause between them."""
    return sum(map(length, scores), Length(Fraction(0), Fraction(0)))


@dataclass(frozen=True, slots=True)
class LongBreath:
    """A span without a breath that lasts longer than the limit at the slowest tempo of its range.

    `seconds` is its length there, and `bar` the bar it begins in, from 1, where `tempo` is in force.
    `fits_from` is the slowest whole number of that tempo's beats a minute at which it keeps within the limit
    (any other tempo changed in proportion); it may lie above the range. `held` tells whether the music has
    notes that are held as long as the breath, on which the tempo has no influence; `in_second` whether the
    span is in the second part of a duet.
    """

    seconds: Fraction
    bar: int
    tempo: Tempo
    limit: float
    fits_from: int
    held: bool = False
    in_second: bool = False

    @property
    def fits(self) -> bool:
        """Whether it keeps within the limit at the fastest tempo of its range."""
        return self.fits_from <= self.tempo.high


def long_breath(score: Score, limit: float = BREATH_SECONDS) -> LongBreath | None:
    """The longest span without a breath if it is longer than `limit` seconds (above 0), else None."""
    slow = timing(score, SLOWEST)
    if slow.breath <= limit:
        return None
    tempo = tempos(score)[slow.breath_bar - 1]
    fits_from = ceil(slow.breath * tempo.low / Fraction(limit))
    held = any(event.value.held for event in score.line.events())
    return LongBreath(slow.breath, slow.breath_bar, tempo, limit, fits_from, held, slow.in_second)
