"""The printed music: events in bars, bars in staves, staves in a score.

Everything is a frozen value, so a variation is a function from one score to another. Times are exact
fractions of a whole note.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING

from .chords import ChordMark
from .fingering import FINGERING_CHART
from .keys import Key
from .pitch import Interval, Pitch
from .printed_words import IN_ENGLISH, PrintedWords
from .signs import END_SIGNS, ORNAMENTS

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
class Meter:
    """A time signature, or free time (`FREE`), which has none.

    `groups` are the units in each group of beams, where the author says them.
    """

    beats: int
    unit: int
    groups: tuple[int, ...] = ()

    @property
    def is_free(self) -> bool:
        """Whether nothing is measured: no time signature, and bar lines only where the author writes them."""
        return self.beats == 0

    @property
    def length(self) -> Fraction:
        """A full bar, in whole notes; 0 in free time."""
        return Fraction(self.beats, self.unit)

    @property
    def group_lengths(self) -> tuple[Fraction, ...]:
        """The lengths of the groups of beams, in order, in whole notes: together a full bar.

        If the author names none: three units in a compound meter, a quarter in a simple one, and in 5/8 and
        7/8 twos with the three where most music has it (3+2, 2+2+3). Common practice; compare E. Gould,
        Behind Bars (2011), on beaming by the beat, from memory.
        """
        units = self.groups or self._usual_groups
        return tuple(Fraction(count, self.unit) for count in units)

    @property
    def _usual_groups(self) -> tuple[int, ...]:
        beats, unit = self.beats, self.unit
        if unit >= 8 and beats % 3 == 0:
            return (3,) * (beats // 3)
        quarter = max(unit // 4, 1)
        if unit == 8 and beats in (5, 7, 8):
            return {5: (3, 2), 7: (2, 2, 3), 8: (3, 3, 2)}[beats]
        whole, rest = divmod(beats, quarter)
        return (quarter,) * whole + ((rest,) if rest else ())

    def __str__(self) -> str:
        return "free time" if self.is_free else f"{self.beats}/{self.unit}"


FREE = Meter(0, 1)
"""Free time: senza misura."""


@dataclass(frozen=True, slots=True)
class Tempo:
    """A beat, and its lowest and highest number a minute."""

    beat: Value
    low: int
    high: int

    def __str__(self) -> str:
        to = f" to {self.high}" if self.high != self.low else ""
        return f"{self.beat.name} = {self.low}{to}"


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar and the line that ends it: `|`, `||`, `|.` or `:|`.

    `opens_repeat` draws a repeat's beginning, and `times` says how often a passage is played that ends here
    with `:|`; `ending` is 1 or 2 in a first or second ending, else 0. `sign` stands at its beginning
    (`repeats.SIGNS_BEFORE`) and `jump` at its end (`repeats.WORDS_AFTER`). `meter` and `tempo` are set where
    they change.
    """

    events: tuple[Event, ...]
    end: str = "|"
    opens_repeat: bool = False
    ending: int = 0
    meter: Meter | None = None
    tempo: Tempo | None = None
    times: int = 2
    sign: str = ""
    jump: str = ""

    @property
    def played_once(self) -> Bar:
        """The same bar outside of repeats and endings, with no way back or out."""
        return replace(self, opens_repeat=False, ending=0, times=2, sign="", jump="")

    @property
    def length(self) -> Fraction:
        """Length of what the bar holds, in whole notes."""
        return sum((event.length for event in self.events), Fraction(0))


@dataclass(frozen=True, slots=True)
class Ladder:
    """The end of a line played at one tempo after another.

    It goes from event number `first` (from 0) to the end; `rungs` are beats a minute of the score's tempo.
    """

    first: int
    rungs: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Staff:
    """One staff: a player's, or a `small` one such as a drone. `part` is 1 or 2 in a duet, else 0.

    `chords` says that the second part is block chords, for a keyboard.
    """

    bars: tuple[Bar, ...]
    clef: str = "treble"
    label: str = ""
    small: bool = False
    ladder: Ladder | None = None
    part: int = 0
    chords: bool = False

    def events(self) -> Iterator[Event]:
        """Every event, in order of time."""
        for bar in self.bars:
            yield from bar.events

    def notes(self) -> Iterator[Event]:
        """Every event that sounds, in order of time."""
        return (event for event in self.events() if event.pitch is not None)


@dataclass(frozen=True, slots=True)
class Compass:
    """The written range of an instrument: what it has, and the part of it to prefer."""

    low: Pitch
    high: Pitch
    easy_low: Pitch
    easy_high: Pitch

    def holds(self, low: Pitch, high: Pitch) -> bool:
        """Whether both pitches can be played at all."""
        return self.low.midi <= low.midi and high.midi <= self.high.midi

    def prefers(self, low: Pitch, high: Pitch) -> bool:
        """Whether both pitches lie in the preferred part."""
        return self.easy_low.midi <= low.midi and high.midi <= self.easy_high.midi


@dataclass(frozen=True, slots=True)
class Score:
    """A piece of music for one page: the player's line first. It sounds `sounds` semitones above the page.

    `courtesy` says how courtesy accidentals are printed: plain, brackets or none. `breath` is how long a
    breath lasts in free time: at least and at most, in seconds. `chords` are named over the first staff, in
    order of time. `fingerings` are the instrument's, by their name in `fingering_tables`; empty where no
    chart is asked for. `words` are
    those of its page that no author wrote.
    """

    key: Key
    meter: Meter
    tempo: Tempo
    lines: tuple[Staff, ...]
    compass: Compass
    pickup: Fraction = Fraction(0)
    sounds: int = 0
    courtesy: str = "plain"
    breath: tuple[int, int] = BREATH
    chords: tuple[ChordMark, ...] = ()
    fingerings: str = ""
    words: PrintedWords = IN_ENGLISH

    @property
    def line(self) -> Staff:
        """The player's staff."""
        return self.lines[0]

    @property
    def second(self) -> Staff | None:
        """The second player's staff, in a duet."""
        return next((line for line in self.lines[1:] if line.part), None)

    def with_line(self, line: Staff) -> Score:
        """The same score with another player's staff."""
        return replace(self, lines=(line, *self.lines[1:]))

    def with_bars(self, bars: tuple[Bar, ...]) -> Score:
        """The same score with other bars for the player alone; a drone is held to the new length.

        Chord names stay if each bar keeps its length and its notes.
        """
        rest = tuple(replace(line, bars=held(line, bars)) for line in self.lines[1:] if line.small)
        chords = self.chords
        if chords and list(map(_notes, bars)) != list(map(_notes, self.line.bars)):
            chords = ()
        return replace(self, lines=(replace(self.line, bars=bars, ladder=None), *rest), chords=chords)

    def each_event(self, change: Callable[[Event], Event]) -> Score:
        """The same score with every event of the player's staff changed by a function."""
        return self.with_line(replace(self.line, bars=each_event(self.line.bars, change)))

    @property
    def length(self) -> Fraction:
        """Length of the player's line in whole notes, each bar once."""
        return sum((bar.length for bar in self.line.bars), Fraction(0))


def _notes(bar: Bar) -> tuple[Fraction, set[Pitch | None]]:
    return bar.length, {event.pitch for event in bar.events}


def each_event(bars: tuple[Bar, ...], change: Callable[[Event], Event]) -> tuple[Bar, ...]:
    """Bars with every event changed by a function."""
    return tuple(replace(bar, events=tuple(map(change, bar.events))) for bar in bars)


def each_pitch(bars: tuple[Bar, ...], change: Callable[[Pitch], Pitch]) -> tuple[Bar, ...]:
    """Bars with every pitch, grace notes too, changed by a function."""
    return each_event(bars, lambda event: event.each_pitch(change))


def with_events(bars: tuple[Bar, ...], events: Sequence[Event]) -> tuple[Bar, ...]:
    """Bars with other events, as many as before."""
    result, start = [], 0
    for bar in bars:
        end = start + len(bar.events)
        result.append(replace(bar, events=tuple(events[start:end])))
        start = end
    return tuple(result)


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


def transposed(bars: tuple[Bar, ...], interval: Interval) -> tuple[Bar, ...]:
    """Bars with every pitch moved by a spelled interval."""
    return each_pitch(bars, lambda pitch: pitch.up(interval))


def pitch_range(bars: tuple[Bar, ...]) -> tuple[Pitch, Pitch]:
    """The lowest and the highest pitch to play, grace notes, ornaments and fingerings of harmonics included.

    The other notes of an ornament count if the author named them, and so does the fundamental of a harmonic.
    Raises ValueError if there is no note.
    """
    events = [event for bar in bars for event in bar.events]
    pitches = [pitch for event in events for pitch in event.pitches]
    ornamented = [event for event in events if not set(ORNAMENTS).isdisjoint(event.marks)]
    pitches += [other for event in ornamented for other in (event.trilled, event.lowered) if other]
    pitches += [event.fundamental for event in events if event.fundamental]
    return min(pitches, key=lambda p: p.midi), max(pitches, key=lambda p: p.midi)


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


def held(line: Staff, bars: tuple[Bar, ...]) -> tuple[Bar, ...]:
    """A drone's bars: the line's first pitch, tied through every bar of another line.

    Below each note that is held as long as the breath stands a note of the drone.
    """
    pitch = next(line.notes()).pitch
    count = len(bars)
    result = []
    for number, bar in enumerate(bars, start=1):
        values = [value for length in _held_lengths(bar) for value in values_for(length)]
        events = tuple(
            Event(pitch, value, tie=number < count or part < len(values))
            for part, value in enumerate(values, start=1)
        )
        result.append(replace(bar, events=events))
    return tuple(result)


def _held_lengths(bar: Bar) -> Iterator[Fraction]:
    """The length of each long note of a bar, and of the counted events between them taken together."""
    counted = Fraction(0)
    for event in bar.events:
        if not event.value.held:
            counted += event.length
            continue
        if counted:
            yield counted
        yield event.length
        counted = Fraction(0)
    if counted:
        yield counted
