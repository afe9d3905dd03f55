"""Where a piece's lines end: at the ends of phrases, alike in every key, and never crowded.

A line's width is reckoned from its note values and not from its key: room is left for a signature of six
signs, and accidentals are counted by sound, so that an exercise has the same lines in all twelve keys. Signs
take no room (style.ly), so that it has them in all variations that keep its notes. Among all ways to break a
piece the one is taken whose lines end where the player breathes and are most alike in density; a statement
that is written out again begins a line, and a tune with a pick-up may begin a line with its upbeat. In
free time a line ends where the player breathes or at a written division.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from itertools import pairwise
from math import inf, log2

from ..music.bars import BarPlace, bar_places
from ..music.event import HAIRPINS, LEVELS, Event, divided
from ..music.keys import Key
from ..music.score import Score, Staff
from ..music.signs import has_fermata
from .chord_names import chord_width
from .fingering_charts import chart_width

CROWDED = 0.9
"""A line is never set tighter than this part of its natural width, unless it is a single beat that long."""

JUSTIFIED = 0.72
"""A piece of one line fills the line where it is naturally this part of it at least."""

# In staff spaces, fitted to 150 random rows set by LilyPond 2.24 with the house style's spacing; off by 1 in
# a row of 50 as a rule, by 4 at most.
SPACING = 1.7
"""Staff spaces that a note twice as long takes more, as the house style sets them (style.ly)."""

BRACKET = 1.6
"""Staff spaces before the staves of a duet, for the bracket that joins them."""

_OPENING = 4.5
_METER = 3.2
_SIGNATURE = 8.3
_SIGN = 1.2
_BAR = 1.7
_SHORTEST = 2.5
_GRACE = 1.5
_CHANGE = 3.0
_ACCIDENTALS = 0.15
_ACCIDENTAL = 1.0
_LETTER = 1.1
_LEVEL_LETTER = 0.75
_HAIRPIN = 0.85
_HELD = 12.0
_HELD_WITH_SIGNS = 24.0
"""Staff spaces of a note held as long as the breath, and of one with a swell or vibrato to show on it."""

# What a line costs; a line set twice as wide as it would naturally be costs 1.
_LINE = 0.15
_TIGHT = 8.0
_NO_PHRASE_END = 1.5
_IN_A_TIE = 0.5
_IN_A_BAR = 3.0
_OVER_A_SECTION = 3.0
_PAST_A_PHRASE = 2.0


@dataclass(frozen=True, slots=True)
class LineEnd:
    """A place where a line ends: after which event of which bar, from 0. `calm` where the player has time.

    `number` is that of the first bar that begins on the next line, an upbeat aside; 0 where a bar goes on
    there.
    """

    bar: int
    event: int
    calm: bool
    mid_bar: bool = False
    number: int = 0


@dataclass(frozen=True, slots=True)
class Lines:
    """How a piece is broken: its inner line ends, and whether its lines are as wide as the paper allows.

    `crowded` where a stretch that cannot be parted has too little room on any line.
    """

    ends: tuple[LineEnd, ...]
    justified: bool
    crowded: bool = False


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Music between two places where a line may end. `price` is what ending a line after it costs.

    `section` tells whether a double bar or a repeat's end stands there, over which a line seldom goes on.
    """

    width: float
    end: LineEnd
    price: float
    section: bool = False

    @property
    def phrase(self) -> bool:
        """Whether a phrase ends there: a line that goes on should end with a phrase too."""
        return self.end.calm and not self.price


@cache
def _space(length: Fraction, spacing: float) -> float:
    return max(_SHORTEST, 2 * spacing - 0.5 + spacing * log2(8 * length)) if length else 0.0


def event_width(event: Event, spacing: float = SPACING) -> float:
    """The room a note or rest takes naturally, in staff spaces; more where the levels within it ask for it.

    Signs take no room on the page, but they must have it: notes too short for the levels that stand within
    them make shorter lines.
    """
    levels = [shade.mark for shade in event.dynamic_marks if shade.mark in LEVELS]
    hairpins = sum(shade.mark in HAIRPINS for shade in event.dynamic_marks)
    inside = len(levels) > 1 or any(0 < shade.at < 1 for shade in event.dynamic_marks)
    signs = 0.6 + _LEVEL_LETTER * len("".join(levels)) + _HAIRPIN * hairpins if inside else 0.0
    space = max(held_width(event, spacing) if event.value.held else _space(event.length, spacing), signs)
    space += _GRACE * len(event.graces) + (_CHANGE if event.clef else 0.0) + _ACCIDENTALS
    return max(space, _LETTER * len(event.syllable) + 1) if event.syllable else space


def held_width(event: Event, spacing: float) -> float:
    """The room in staff spaces of a note held as long as the breath: its length shows what happens on it."""
    width = _HELD_WITH_SIGNS if len(event.dynamic_marks) > 1 or event.vibrato else _HELD
    return width * spacing / SPACING


def is_calm(line: Staff, bar: int, event: int) -> bool:
    """Whether the player has time after an event: a rest, a breath, a fermata or the end of a section."""
    here = line.bars[bar].events[event]
    if here.pitch is None or "breath" in here.marks or has_fermata(here):
        return True
    if event + 1 < len(line.bars[bar].events):
        return line.bars[bar].events[event + 1].pitch is None
    following = line.bars[bar + 1].events[0] if bar + 1 < len(line.bars) else None
    return line.bars[bar].end != "|" or (following is not None and following.pitch is None)


def lines(
    score: Score, room: float, spacing: float = SPACING, meter: bool = True, alike: bool = True
) -> Lines:
    """The lines of a piece on paper `room` staff spaces wide.

    `spacing` is the room in staff spaces that a note twice as long takes more. `meter` says whether the first
    line shows its time signature. Pieces that are `alike` end their lines in the same places in all keys; any
    other has the room that its own signature leaves.
    """
    signature = _SIGNATURE if alike else _own_signature(score.key)
    opening = _OPENING + signature + (BRACKET if score.second else 0.0)
    stretches = list(_stretches(score, room, spacing, opening))
    first = _METER if meter and not score.meter.is_free else 0.0
    whole = sum(stretch.width for stretch in stretches) + opening + first
    if whole <= room:
        return Lines((), whole >= JUSTIFIED * room)
    count = len(stretches)
    best: list[tuple[float, int]] = [(0.0, 0)] + [(inf, 0)] * count
    for start in range(count):
        width = opening + (0.0 if start else first)
        over, past = 0.0, False
        for end in range(start + 1, count + 1):
            width += stretches[end - 1].width
            over += _OVER_A_SECTION if end - 1 > start and stretches[end - 2].section else 0.0
            past = past or (end - 1 > start and stretches[end - 2].phrase)
            crowded = width * CROWDED > room
            if crowded and end > start + 1:
                break
            price = stretches[end - 1].price if end < count else 0.0
            price += _PAST_A_PHRASE if past and end < count and not stretches[end - 1].phrase else 0.0
            cost = best[start][0] + _LINE + _looks(width, room) + price + over
            if cost < best[end][0]:
                best[end] = (cost, start)
            if crowded:
                break
    ends = []
    at = count
    while at > 0:
        at = best[at][1]
        if at:
            ends.append(stretches[at - 1].end)
    crowded = any((opening + stretch.width) * CROWDED > room for stretch in stretches)
    return Lines(tuple(reversed(ends)), True, crowded)


def _own_signature(key: Key) -> float:
    return _SIGN * abs(key.fifths) + _SIGN if key.mode and key.fifths else 0.0


def _looks(width: float, room: float) -> float:
    """The cost of a line's density: 0 as it would naturally be, 1 twice as wide."""
    return (room / width - 1) ** 2 if width <= room else _TIGHT * (width / room - 1)


def _stretches(score: Score, room: float, spacing: float, opening: float) -> Iterator[_Stretch]:
    """The music cut wherever a line may end: at bar lines, before upbeats, and within bars no line holds."""
    line = score.line
    fits = room - opening
    signs = list(_accidentals(line, score.key))
    extra = _extra_widths(score, spacing) if score.second else {}
    places = list(bar_places(line, score.meter))
    for number, (bar, here) in enumerate(zip(line.bars, places, strict=True)):
        widths = [
            max(event_width(event, spacing), chart_width(score.fingerings, event))
            + _ACCIDENTAL * signs.pop(0)
            + extra.get((number, place), 0.0)
            for place, event in enumerate(bar.events)
        ]
        if score.chords:
            names = sum(chord_width(mark.chord, score.words) for mark in score.chords if mark.bar == number)
            widths[-1] += max(0.0, names - sum(widths))
        long = (sum(widths) + _BAR) * CROWDED > fits
        width = _CHANGE if bar.meter else 0.0
        in_tuplet = False
        now = here.start
        for place, event in enumerate(bar.events):
            width += widths[place]
            now += event.length
            in_tuplet = bool(in_tuplet or event.opened_tuplet) and not event.closed_tuplet
            last = place + 1 == len(bar.events)
            calm = is_calm(line, number, place)
            upbeat = bool(score.pickup) and calm and not event.tie and _is_before_upbeat(here, now)
            upbeat = upbeat or (here.meter.is_free and calm)
            # Within a bar a line ends before an upbeat or, where the bar is long, after a whole beat, and
            # where no group of notes is open; in free time also where the player breathes.
            if not last and (in_tuplet or not (upbeat or (long and now.denominator <= 4))):
                continue
            price = (0.0 if calm else _NO_PHRASE_END) + (_IN_A_TIE if event.tie else 0.0)
            price += 0.0 if last or upbeat else _IN_A_BAR
            following = places[number + 1] if last and number + 1 < len(places) else here
            begins = following.number + (following.upbeat or not last) if last or upbeat else 0
            end = LineEnd(number, place, calm, not last, begins)
            section = last and bar.end in ("||", "|.")
            yield _Stretch(width + (_BAR if last else 0.0), end, price, section)
            width = 0.0


def _extra_widths(score: Score, spacing: float) -> dict[tuple[int, int], float]:
    """The room that a second part asks for beyond the first's, by the first's bar and event.

    Where notes of one part begin within a note of the other, each begins a column of its own.
    """
    found: dict[tuple[int, int], float] = {}
    if score.second is None:
        return found
    signs = iter(_accidentals(score.second, score.key))
    for number, (bar, below) in enumerate(zip(score.line.bars, score.second.bars, strict=True)):
        second: dict[Fraction, float] = {}
        now = Fraction(0)
        for event in below.events:
            # The accidentals of a chord stand in two columns at most, mostly.
            signs_wide = _ACCIDENTAL * min(2, 1 + len(event.under))
            beyond = event_width(event, spacing) - _space(event.length, spacing)
            beyond += signs_wide * next(signs)
            second[now] = beyond
            now += event.length
        begin = Fraction(0)
        for place, event in enumerate(bar.events):
            end = begin + event.length
            columns = sorted({begin, end, *(time for time in second if begin < time < end)})
            width = sum(_space(last - first, spacing) for first, last in pairwise(columns))
            width += sum(beyond for time, beyond in second.items() if begin < time < end)
            width += max(
                0.0, second.get(begin, 0.0) - (event_width(event, spacing) - _space(event.length, spacing))
            )
            found[number, place] = max(0.0, width - _space(event.length, spacing))
            begin = end
    return found


def _is_before_upbeat(here: BarPlace, now: Fraction) -> bool:
    """Whether the last beats of a bar, half of it at most, begin at a moment in it."""
    unit = Fraction(1, here.meter.unit)
    on_beat = (now / unit).denominator == 1 and (here.meter.unit < 8 or here.meter.length - now <= unit * 3)
    return on_beat and 0 < here.meter.length - now <= here.meter.length / 2


def _accidentals(line: Staff, key: Key) -> Iterator[bool]:
    """Whether each event may have an accidental: its sound is none of the key's, or cancels such a one.

    Sounds are asked for and not letters, so that the answer is the same in every key.
    """
    own = {(Key(letter, alter).pitch_class) for letter, alter in key.scale()}
    before: set[int] = set()
    for bar in line.bars:
        altered = {pitch.pitch_class for event in bar.events for pitch in event.pitches} - own
        near = {(sound + step) % 12 for sound in altered | before for step in (-1, 1)}
        for event in bar.events:
            yield any(pitch.pitch_class in altered or pitch.pitch_class in near for pitch in event.pitches)
        before = altered


def times_within_bars(line: Staff, ends: Sequence[LineEnd]) -> Iterator[Fraction]:
    """When those line ends are that stand within a bar, in whole notes from the beginning."""
    inside = {(end.bar, end.event) for end in ends if end.mid_bar}
    now = Fraction(0)
    for index, bar in enumerate(line.bars):
        for place, event in enumerate(bar.events):
            now += event.length
            if (index, place) in inside:
                yield now


def parted(line: Staff, times: Sequence[Fraction]) -> Staff:
    """A second staff with its notes tied over the moments at which the player's line ends within a bar."""
    bars = []
    now = Fraction(0)
    for bar in line.bars:
        events: list[Event] = []
        for event in bar.events:
            moment = next((time for time in times if now < time < now + event.length), None)
            parts: Sequence[Event] = (event,)
            if moment is not None:
                # A length that no value has goes on over the line's end without a tie.
                with suppress(ValueError):
                    parts = divided(event, (moment - now, now + event.length - moment))
            events += parts
            now += event.length
        bars.append(replace(bar, events=tuple(events)))
    return replace(line, bars=tuple(bars))


def ending_at(line: Staff, times: Sequence[Fraction]) -> Iterator[tuple[int, int]]:
    """The places (bar and event, from 0) of the events that end at these moments."""
    now = Fraction(0)
    for index, bar in enumerate(line.bars):
        for place, event in enumerate(bar.events):
            now += event.length
            if now in times:
                yield index, place
