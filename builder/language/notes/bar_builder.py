"""Builds bars of events from notes, rests and bar lines, each checked as it comes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise, zip_longest

from lark import Token

from ...music.event import SLUR, Event, Place, Span, Tempo, Value
from ...music.exercise import GeneratedFigure
from ...music.figures import WHOLE_RANGE
from ...music.figures.calls import Call, dressed, made, most_notes
from ...music.keys import Key
from ...music.pitch import Interval, Pitch
from ...music.score import Bar, Meter
from ...music.settings.filling import flow, to_bar_end
from ..faults import MOST_FAULTS, Fault, did_you_mean, shown
from ..fields import FieldText, Source
from ..syntax import place
from .bounds import MOST_SIGNS, Bounds
from .tokens import value_of


class BarBuilder:
    """The bars of one field as they grow; `faults` collects what is wrong with them.

    `events` are all events so far; `bars` are the finished bars, which get their events in `finish`. `value`
    and `scale` (a tuplet's factor) are in force. `opening` spans and `marks` go to the notes to come, each
    `next_...` to the next note or bar. `room` counts what the exercise holds. Every method but `finish` takes
    the same time however much has been built.
    """

    def __init__(
        self,
        source: Source,
        field: FieldText,
        home: Pitch,
        key: Key,
        meter: Meter,
        pickup: Fraction,
        room: Bounds,
    ) -> None:
        self.source, self.field = source, field
        self.home, self.key, self.meter, self.pickup = home, key, meter, pickup
        self.room = room
        self.faults: list[Fault] = []
        self.events: list[Event] = []
        self.bars: list[Bar] = []
        self.made: list[GeneratedFigure] = []
        self.value = Value(Fraction(1, 4))
        self.scale = Fraction(1)
        self.ending = 0
        self.opening: list[Span] = []
        self.marks: list[str] = []
        self.opens_repeat = False
        self.next_sign = self.next_jump = ""
        self.jump_at: tuple[int, Token] | None = None
        """After how many events the bar at work should end, because of the token of a word at its end."""
        self.next_graces: tuple[Pitch, ...] = ()
        self.next_clef = ""
        self.next_meter: Meter | None = None
        self.next_tempo: Tempo | None = None
        self.newest: Token | None = None
        """The token of the note or figure that was added last."""
        self._firsts = [0]
        self._filled = Fraction(0)
        self._signs = 0
        self._tie_at: Token | None = None
        self._ends_with_figure = False

    # -- faults ---------------------------------------------------------------------------------------

    def fault(self, token: Token, what: str, mend: str) -> None:
        """Note a fault at a token."""
        self.faults.append(self.source.fault(*place(self.field, token), what, mend))

    def fault_as_said(self, token: Token, what: str, mend: str) -> None:
        """Note a fault at a token whose names of notes stay as they are given."""
        self.faults.append(self.source.fault_as_said(*place(self.field, token), what, mend))

    def fault_at_end(self, what: str, mend: str) -> None:
        """Note a fault after the field's last word."""
        self.faults.append(self.source.fault(*self.field.end, what, mend))

    def guess(self, word: str, known: Iterable[str], otherwise: str) -> str:
        """How to mend an unknown word; no guess if there are more faults already than are reported."""
        return did_you_mean(word, known, otherwise) if len(self.faults) < MOST_FAULTS else otherwise

    def set_value(self, token: Token) -> None:
        """Change the note value in force; one that is held as long as the breath needs free time."""
        value = value_of(token)
        if value.held and not self.meter.is_free:
            what = f"{shown(str(token))} is a note held as long as the breath, and this is in {self.meter}"
            self.fault(token, what, "write `meter: free`, or a value such as `w`")
            return
        self.value = value

    # -- events ---------------------------------------------------------------------------------------

    @property
    def last(self) -> Event:
        """The newest event."""
        return self.events[-1]

    @last.setter
    def last(self, event: Event) -> None:
        self.events[-1] = event

    @property
    def in_bar(self) -> bool:
        """Whether the bar at work holds anything."""
        return len(self.events) > self._firsts[-1]

    @property
    def count(self) -> int:
        """How many events there are so far."""
        return len(self.events)

    def pitch(self, token: Token) -> Pitch | None:
        """The pitch a token names, by itself or by its interval from home; None after noting a fault."""
        try:
            text = str(token)
            pitch = Pitch.parse(text) if token.type == "PITCH" else self.home.up(Interval.parse(text))
        except ValueError as error:
            self.fault(token, str(error), "write a pitch such as F#5, or an interval such as +m3")
            return None
        if abs(pitch.alter) > 2:
            what = f"{token} from {self.home} asks for a triple accidental"
            self.fault(token, what, "write its plain name")
            return None
        return pitch

    def add(self, pitch: Pitch | None, token: Token) -> None:
        """Add a note of the current value, or a rest if `pitch` is None."""
        self.newest = token
        self.room.add_notes(1)
        if self.value.held and (pitch is None or self.scale != 1):
            what = "a rest" if pitch is None else "a note of a tuplet"
            self.fault(token, f"{what} cannot be long", "write its value before it, such as `h`")
        event = Event(
            pitch,
            replace(self.value, scale=self.scale),
            opens=tuple(self.opening),
            graces=self.next_graces,
            clef=self.next_clef,
            place=Place(*place(self.field, token)),
        )
        self.opening.clear()
        self.next_graces, self.next_clef = (), ""
        if pitch is not None:
            event = event.marked(*self.marks)
        if self._tie_at is not None and self.last.pitch != pitch:
            what = f"the tie joins {self.last.pitch} to {pitch or 'a rest'}"
            self.fault(self._tie_at, what, "tie equal pitches")
        self._tie_at = None
        self._append(event)

    def add_figure(self, wanted: Call, value: Value, words: tuple[str, ...], token: Token) -> None:
        """Add a figure's events, with bar lines where bars are full.

        Raises ValueError if the figure cannot be made.
        """
        events = made(wanted, self.home, self.key, value)
        self.newest = token
        whole = wanted.is_whole_range
        self.room.add_notes(most_notes(wanted, self.home, self.key, value) if whole else len(events))
        rows = flow(events, self.meter, self._filled)
        numbers = [number for number, row in enumerate(rows) for _ in row]
        found = list(dressed(wanted, [event for row in rows for event in row], numbers))
        self.made.append(
            GeneratedFigure(wanted.figure, words, value, self.count, len(found), tuple(self.marks))
        )
        found[0] = replace(
            found[0],
            opens=(*self.opening, *found[0].opens),
            graces=self.next_graces,
            clef=self.next_clef,
        )
        self.opening.clear()
        self.next_graces, self.next_clef = (), ""
        where, bar = Place(*place(self.field, token)), 0
        for number, event in zip(numbers, found, strict=True):
            if number != bar:
                self.close_bar("|")
            bar = number
            self._append(replace(event.marked(*self.marks), place=where))
        self._ends_with_figure = True
        if whole:
            self.fill_bar(always=True)

    def has_whole_range(self, first: int) -> bool:
        """Whether a figure over the whole range is among the events from number `first` on."""
        return any(WHOLE_RANGE in figure.words for figure in self.made if figure.first >= first)

    def fill_bar(self, always: bool = False) -> None:
        """Hold the last note of a figure that ends within a bar to the end of the bar.

        A bar that lacks just the pick-up may be the last, which leaves room for it; it stays unless `always`.
        """
        full = self.meter.length
        if self.pickup and not self.bars:
            full = self.pickup
        short = self.pickup and self._filled == full - self.pickup and not always
        event = self.events[-1] if self._ends_with_figure else None
        if event is None or event.tie or self.meter.is_free or short or not 0 < self._filled < full:
            return
        start = self._filled - event.length
        try:
            pieces = to_bar_end(event, start, self.meter, full)
        except ValueError:
            return
        self.events[-1:] = pieces
        self._filled = full
        newest = self.made[-1]
        self.made[-1] = replace(newest, count=newest.count + len(pieces) - 1)

    def _append(self, event: Event) -> None:
        self.events.append(event)
        self._ends_with_figure = False
        self._filled += event.length
        self._signs = 0

    # -- signs on the newest event --------------------------------------------------------------------

    def has_note(self, token: Token) -> bool:
        """Whether the sign of a token has an event to stand on, with room for it; else note a fault."""
        if not self.events:
            what = f"{shown(token.rstrip('('))} comes before the first note"
            self.fault(token, what, "put it after its note")
            return False
        self._signs += 1
        if self._signs == MOST_SIGNS + 1:
            what = f"more than {MOST_SIGNS} marks, dynamics and words are on one note"
            self.fault(token, what, "take some out")
        return self._signs <= MOST_SIGNS

    def tie(self, token: Token) -> None:
        """Tie the newest event to the next one."""
        self.last = replace(self.last, tie=True)
        self._tie_at = token

    # -- bars -----------------------------------------------------------------------------------------

    def close_bar(self, end: str) -> None:
        """End the bar at work."""
        self.fill_bar()
        self.room.add_bar()
        self.bars.append(
            Bar(
                (),
                end,
                opens_repeat=self.opens_repeat,
                ending=self.ending,
                meter=self.next_meter,
                tempo=self.next_tempo,
                sign=self.next_sign,
                jump=self.next_jump,
            )
        )
        if self.jump_at and self.jump_at[0] != self.count:
            token = self.jump_at[1]
            self.fault(
                token, f"{shown(str(token))} stands inside a bar", "put it before or after its bar line"
            )
        self.next_sign = self.next_jump = ""
        self.jump_at = None
        self._firsts.append(len(self.events))
        self._filled, self.opens_repeat = Fraction(0), False
        self.next_meter = self.next_tempo = None

    def _breathe(self) -> None:
        """Put a breath after each long note, unless a slur or a tie leads on, or a rest follows."""
        slurs = 0
        for number, (event, following) in enumerate(zip_longest(self.events, self.events[1:])):
            slurs += event.opens.count(SLUR) - event.closes.count(SLUR)
            rests = following is not None and following.pitch is None
            if event.value.held and not (rests or slurs or event.tie):
                self.events[number] = event.marked("breath")

    def finish(self) -> tuple[Bar, ...]:
        """The bars with their events, ended by a final bar line; notes a fault if something has no end."""
        if self.next_graces:
            self.fault_at_end("grace notes have no note after them", "add the note that they lead to")
        if self._tie_at is not None:
            self.fault(self._tie_at, "a tie from the last note goes nowhere", "take it out, or add the note")
        if self.meter.is_free:
            self._breathe()
        if self.in_bar:
            self.close_bar("|.")
        elif self.bars and self.bars[-1].end == "|":
            self.bars[-1] = replace(self.bars[-1], end="|.")
        return tuple(
            replace(bar, events=tuple(self.events[first:after]))
            for bar, (first, after) in zip(self.bars, pairwise(self._firsts), strict=True)
        )
