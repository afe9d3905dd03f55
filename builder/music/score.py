"""The printed music: events in bars, bars in staves, staves in a score.

Everything is a frozen value, so a variation is a function from one score to another. Times are exact
fractions of a whole note.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from .chords import ChordMark
from .event import BREATH, Event, Tempo, values_for
from .keys import Key
from .pitch import Interval, Pitch
from .printed_words import IN_ENGLISH, PrintedWords
from .signs import ORNAMENTS

if TYPE_CHECKING:
    pass


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
