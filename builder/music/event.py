"""A note or a rest with its signs: length, pitch, dynamics, vibrato, slurs, graces.

Every value is frozen. Times are exact fractions of a whole note.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING

from .pitch import Pitch
from .signs import END_SIGNS
from .winds.fingering import FINGERING_CHART

if TYPE_CHECKING:
    from .local_words import LocalWords

LEVELS = ("ppp", "pp", "p", "mp", "mf", "f", "ff", "fff")
"""The eight printed dynamic levels, softest first."""


HAIRPINS = ("<", ">", "o<", ">o")
"""Opening and closing hairpins; with the small circle, from silence and to silence."""


HAIRPIN_END = "!"
"""The end of a hairpin; among the signs of vibrato, the end of the latest wave or straight tone."""


WAVE, GROWING, DYING, STRAIGHT = "~", "~<", "~>", "-"
"""Vibrato that is even, that grows out of a straight tone or dies into one, and the straight tone itself."""


def is_wave(mark: str) -> bool:
    """Whether a sign of vibrato begins a wave: even, growing, dying, or counted (`counted`)."""
    return mark.startswith(WAVE)


def counted(waves: int) -> str:
    """The sign of vibrato with this many even waves in all."""
    return f"{WAVE}{waves}"


@dataclass(frozen=True, slots=True)
class Span:
    """What joins events: a `slur`, an `optional` passage, a `tuplet`, a `ritardando` or an `accelerando`.

    `ratio` is a tuplet's as it is written: (5, 4) is five notes in the time of four. `tempo` is where a
    ritardando or an accelerando leads.
    """

    kind: str
    ratio: tuple[int, int] | None = None
    tempo: Tempo | None = None


SLUR = Span("slur")


OPTIONAL = Span("optional")


TUPLET = "tuplet"
"""The kind of a tuplet's span; `tuplet` makes one."""


def tuplet(many: int, time: int) -> Span:
    """The span of a tuplet of `many` notes in the time of `time`, both at least 1."""
    return Span(TUPLET, (many, time))


@lru_cache(maxsize=1024)
def _dotted(base: Fraction, dots: int) -> Fraction:
    return base * (2 - Fraction(1, 2**dots))


@lru_cache(maxsize=1024)
def _scaled(base: Fraction, dots: int, scale: Fraction) -> Fraction:
    return _dotted(base, dots) * scale


@dataclass(frozen=True, slots=True)
class Value:
    """A written note value: `base` is 1 (whole) to 1/64, `dots` 0 to 3, `scale` a tuplet's factor.

    `held` is an open head that is held as long as the breath (`LONG`). It has the place of a whole note
    on the page, and `timing` says how many seconds it lasts. `length` is that as played, in whole notes.
    """

    base: Fraction
    dots: int = 0
    scale: Fraction = Fraction(1)
    held: bool = False
    # A book asks for it millions of times.
    length: Fraction = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "length", _scaled(self.base, self.dots, self.scale))

    @property
    def name(self) -> str:
        """`dotted quarter`, as it is said; `long` where it is held as long as the breath."""
        if self.held:
            return "long"
        names = ("whole", "half", "quarter", "eighth", "sixteenth", "thirty-second", "sixty-fourth")
        dots = ("", "dotted ", "double dotted ", "triple dotted ")
        return dots[self.dots] + names[self.base.denominator.bit_length() - 1]

    @property
    def written(self) -> Fraction:
        """Length as printed, in whole notes, before a tuplet's factor."""
        return _dotted(self.base, self.dots)


LONG = Value(Fraction(1), held=True)
"""A note that is held as long as the breath."""


BREATH = (8, 12)
"""Seconds: the shortest and the longest breath of an exercise in free time that names no other.

Common practice, no source: between what a player who begins can hold at ease, and the long tone of one in
training.
"""


@dataclass(frozen=True, slots=True)
class DynamicMark:
    """A dynamic sign within a note: `at` 0 is its start and 1 its end.

    `mark` is one of LEVELS, a hairpin's opening (one of HAIRPINS), or HAIRPIN_END where one ends. `time` is 1
    or 2 where it holds only the first or the second time that a repeated note is played, else 0.
    """

    at: Fraction
    mark: str
    time: int = 0


@dataclass(frozen=True, slots=True)
class Place:
    """Where a word stands in its source file; line and column count from 1."""

    line: int
    column: int


@dataclass(frozen=True, slots=True)
class Event:
    """A note, or a rest where `pitch` is None.

    `opens` and `closes` are the spans that begin with this event and end with it. `marks` are signs on the
    one note (`staccato`, `breath`, ...). `vibrato` holds marks that say what begins there: a wave
    (`is_wave`), STRAIGHT, or with HAIRPIN_END neither. `graces` come before the beat. `clef` is set where it
    changes. `trilled` and `lowered` are the upper and the lower note of an ornament where the
    author named their accidentals. `fundamental` is
    the fingered note of a harmonic, whose sounding overtone is `pitch`, where the author named it.
    `fingering` holds for this pitch alone, and so does `chart`, the author's own keys for a drawn fingering.
    `under` are the other notes of a block chord, lowest first. `local` are words for one key or register,
    which a setting puts in place.
    """

    pitch: Pitch | None
    value: Value
    tie: bool = False
    opens: tuple[Span, ...] = ()
    closes: tuple[Span, ...] = ()
    marks: tuple[str, ...] = ()
    dynamic_marks: tuple[DynamicMark, ...] = ()
    vibrato: tuple[DynamicMark, ...] = ()
    graces: tuple[Pitch, ...] = ()
    syllable: str = ""
    above: str = ""
    below: str = ""
    clef: str = ""
    place: Place | None = None
    trilled: Pitch | None = None
    lowered: Pitch | None = None
    fundamental: Pitch | None = None
    fingering: str = ""
    chart: str = ""
    under: tuple[Pitch, ...] = ()
    local: tuple[LocalWords, ...] = ()

    @property
    def length(self) -> Fraction:
        """Length as played, in whole notes."""
        return self.value.length

    @property
    def pitches(self) -> tuple[Pitch, ...]:
        """Everything that sounds in it, grace notes first, and its own note last."""
        return self.graces if self.pitch is None else (*self.graces, *self.under, self.pitch)

    @property
    def asks_for_chart(self) -> bool:
        """Whether the usual fingering of its note is drawn over it."""
        return FINGERING_CHART in self.marks

    @property
    def opened_tuplet(self) -> Span | None:
        """The tuplet that begins with it."""
        return next((span for span in self.opens if span.kind == TUPLET), None)

    @property
    def closed_tuplet(self) -> Span | None:
        """The tuplet that ends with it."""
        return next((span for span in self.closes if span.kind == TUPLET), None)

    def each_pitch(self, change: Callable[[Pitch], Pitch]) -> Event:
        """The same event with each pitch that it has changed by a function: the main and every other note."""
        if self.pitch is None:
            return self
        graces = tuple(map(change, self.graces))
        trilled = change(self.trilled) if self.trilled else None
        lowered = change(self.lowered) if self.lowered else None
        fundamental = change(self.fundamental) if self.fundamental else None
        pitch = change(self.pitch)
        changed = replace(self, pitch=pitch, graces=graces, trilled=trilled, fundamental=fundamental)
        changed = replace(changed, lowered=lowered) if lowered else changed
        # A fingering is another pitch's no more.
        return changed if pitch.midi == self.pitch.midi else replace(changed, fingering="", chart="")

    @property
    def bare(self) -> Event:
        """The same event without dynamics and hairpins."""
        return replace(self, dynamic_marks=()) if self.dynamic_marks else self

    def with_dynamic_marks(self, *shades: DynamicMark) -> Event:
        """The same event with these dynamic signs added, in order of time."""
        ordered = sorted((*self.dynamic_marks, *shades), key=lambda shade: shade.at)
        return replace(self, dynamic_marks=tuple(ordered))

    def with_vibrato(self, *shades: DynamicMark) -> Event:
        """The same event with these vibrato signs added, in order of time."""
        ordered = sorted((*self.vibrato, *shades), key=lambda shade: shade.at)
        return replace(self, vibrato=tuple(ordered))

    def marked(self, *marks: str) -> Event:
        """The same event with these marks added, each once."""
        return replace(self, marks=self.marks + tuple(m for m in marks if m not in self.marks))

    def without_marks(self, *marks: str) -> Event:
        """The same event without these marks."""
        return replace(self, marks=tuple(mark for mark in self.marks if mark not in marks))


@dataclass(frozen=True, slots=True)
class Tempo:
    """A beat, and its lowest and highest number a minute."""

    beat: Value
    low: int
    high: int

    def __str__(self) -> str:
        to = f" to {self.high}" if self.high != self.low else ""
        return f"{self.beat.name} = {self.low}{to}"


def add_vibrato(events: Sequence[Event], start: Fraction, end: Fraction, mark: str = "") -> list[Event]:
    """Events with vibrato from one part of their whole time to another; 0 is the beginning and 1 the end.

    Vibrato that begins late grows, and vibrato that ends early dies; the rest is a straight tone. `mark` asks
    for another wave.
    """
    result = list(events)
    total = sum((event.length for event in events), Fraction(0))
    marks = [(Fraction(0), STRAIGHT)] if start else []
    marks.append((start, mark or (GROWING if start else DYING if end < 1 else WAVE)))
    marks += [(end, STRAIGHT)] if end < 1 else []
    for part, sign in (*marks, (Fraction(1), HAIRPIN_END)):
        moment, place = total * part, 0
        while moment > result[place].length or (moment == result[place].length and sign != HAIRPIN_END):
            moment -= result[place].length
            place += 1
        event = result[place]
        result[place] = event.with_vibrato(DynamicMark(moment / event.length, sign))
    return result


_BASES = tuple(Fraction(1, 2**power) for power in range(7))


def values_for(length: Fraction) -> tuple[Value, ...]:
    """The fewest written values, longest first, that tied together last `length` whole notes.

    Raises ValueError if no sum of values down to a sixty-fourth note makes up the length.
    """
    values: list[Value] = []
    rest = length
    while rest > 0:
        fitting = [value for base in _BASES for dots in (0, 1) if (value := Value(base, dots)).length <= rest]
        if not fitting:
            raise ValueError(f"no note values add up to {length}")
        longest = max(fitting, key=lambda value: value.length)
        values.append(longest)
        rest -= longest.length
    return tuple(values)


def divided(event: Event, lengths: Sequence[Fraction]) -> tuple[Event, ...]:
    """An event divided into these lengths (in whole notes, together its own), tied if it is a note.

    Signs at its beginning stay with the first part, signs at its end go to the last. Raises ValueError if the
    lengths do not add up to the event's or a value cannot be written.
    """
    if sum(lengths, Fraction(0)) != event.length:
        raise ValueError("the parts do not make up the whole")
    values = [value for length in lengths for value in values_for(length)]
    parts: list[Event] = []
    start = Fraction(0)
    for number, value in enumerate(values):
        first, last = number == 0, number + 1 == len(values)
        end = start + value.length / event.length

        def within(
            shades: tuple[DynamicMark, ...], start: Fraction = start, end: Fraction = end
        ) -> tuple[DynamicMark, ...]:
            inside = (s for s in shades if start <= s.at < end or s.at == end == 1)
            return tuple(replace(shade, at=(shade.at - start) / (end - start)) for shade in inside)

        parts.append(
            replace(
                event,
                value=value,
                tie=event.pitch is not None and (event.tie if last else True),
                opens=event.opens if first else (),
                closes=event.closes if last else (),
                marks=tuple(mark for mark in event.marks if (last if mark in END_SIGNS else first)),
                dynamic_marks=within(event.dynamic_marks),
                vibrato=within(event.vibrato),
                graces=event.graces if first else (),
                syllable=event.syllable if first else "",
                above=event.above if first else "",
                below=event.below if first else "",
                clef=event.clef if first else "",
                trilled=event.trilled if first else None,
                lowered=event.lowered if first else None,
                fingering=event.fingering if first else "",
                chart=event.chart if first else "",
            )
        )
        start = end
    return tuple(parts)
