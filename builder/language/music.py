"""From the tree of a `music` field to bars, each checked against the meter.

What stands around notes (`slur( ... )` and its like) is in groups.py, one small function a word.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from lark import Token, Tree

from ..music.exercise import GeneratedFigure
from ..music.figures import FIGURES
from ..music.keys import Key
from ..music.pitch import Interval, Pitch
from ..music.score import LEVELS, Bar, DynamicMark, Event, Meter, Place, Tempo, Value
from .bounds import DEEPEST, MOST_SIGNS, BeyondBounds, Bounds
from .faults import MOST_FAULTS, Fault, did_you_mean, shown
from .fields import FieldText, Source
from .groups import read_group
from .syntax import parse, place
from .tokens import token_of, value_of
from .trade_words import WORD_HINTS, example_of, plain_word
from .words import GROUPS, MARKS, SIGNS, VALUES

_PITCH_LIKE = re.compile(r"([A-Ga-g])(##|bb|[#bxn♯♭]?)(-?\d*)")
_DOTTED = re.compile(r"([whqest])\.{3,}")
_VALUE_AND_PITCH = re.compile(r"([whqest]\.{0,2})([A-G](?:##|bb|[#bxn♯♭]?)\d)")
_SIDES = {"above": "above", "below": "below", "say": "syllable"}
"""The words that text in quotes follows, and what of an event it is."""

_ENDS_A_WORD = frozenset('()|,"')


_PLAIN_WORDS = frozenset((*MARKS, *VALUES, *LEVELS, "rest"))


def counted(length: Fraction, meter: Meter) -> str:
    """A length as a musician counts it in a meter: `3 1/2 beats`, and in 6/8 `7 eighths`."""
    unit = "beat" if meter.unit in (2, 4) else Value(Fraction(1, meter.unit)).name
    whole, rest = divmod(length * meter.unit, 1)
    number = " ".join(str(part) for part in (whole, rest) if part) or "0"
    return f"{number} {unit}{'' if 0 < length * meter.unit <= 1 else 's'}"


class MusicReader:
    """Reads one field's items from left to right; `faults` gathers what it could not read.

    The attributes are what groups.py works on: all `events` so far, the `bars` done (which get their events
    at the end), the note `value` and a tuplet's `scale` in force, `opening` spans and `marks` for notes to
    come, and what the `next_...` note or bar brings. `room` counts what the exercise holds. Each word is
    looked at once, whatever stands before it.
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
        self.home, self.key, self.first_meter, self.pickup = home, key, meter, pickup
        self.room = room
        self.faults: list[Fault] = []
        self.events: list[Event] = []
        self.bars: list[Bar] = []
        self.made: list[GeneratedFigure] = []
        self._firsts = [0]
        self._filled = Fraction(0)
        self.value = Value(Fraction(1, 4))
        self.scale = Fraction(1)
        self.meter = meter
        self.ending = 0
        self.opening: list[str] = []
        self.marks: list[str] = []
        self.next_graces: tuple[Pitch, ...] = ()
        self.next_clef = ""
        self.next_meter: Meter | None = None
        self.next_tempo: Tempo | None = None
        self._opens_repeat = False
        self._depth = 0
        self._signs = 0
        self._at: Token | None = None
        self._told: tuple[int, int] | None = None
        self._rows = field.text.split("\n")
        self._tie_at: Token | None = None
        self._readers: dict[str, Callable[[Tree[Token]], None]] = {
            "value": self._set_value,
            "note": self._note,
            "rest": self._rest,
            "mark": self._mark,
            "dynamic": self._dynamic,
            "breath": self._breath,
            "said": self._said,
            "group": self._group,
            "barline": self._barline,
            "ratio": self._stray,
            "change": self._stray,
            "junk": self._junk,
        }

    def read(self) -> tuple[Bar, ...]:
        """The bars of the field; none where its syntax is broken."""
        tree = parse(self.source, self.field)
        if isinstance(tree, Fault):
            self.faults.append(tree)
            return ()
        try:
            self.items([child for child in tree.children if isinstance(child, Tree)])
        except BeyondBounds as found:
            where = place(self.field, self._at) if self._at else (self.field.line, 1)
            self.faults = [found.fault(self.source, *where)]
            return ()
        if self.next_graces:
            self._fault_at_end("grace notes have no note after them", "add the note that they lead to")
        if self._tie_at is not None:
            self.fault(self._tie_at, "a tie from the last note goes nowhere", "take it out, or add the note")
        if self.in_bar:
            self.close_bar("|.")
        elif self.bars and self.bars[-1].end == "|":
            self.bars[-1] = replace(self.bars[-1], end="|.")
        self.bars = [
            replace(bar, events=tuple(self.events[first:after]))
            for bar, (first, after) in zip(self.bars, pairwise(self._firsts), strict=True)
        ]
        if not any(event.pitch for event in self.events) and not self.faults:
            self._fault_at_end(f"{self.field.name!r} has no notes", "add at least one, such as `w D5`")
        if not self.faults:
            self._check_lengths()
        return tuple(self.bars)

    def items(self, items: list[Tree[Token]]) -> None:
        """Read items in their order."""
        for item in items:
            self._readers[item.data](item)

    def fault(self, token: Token, what: str, mend: str) -> None:
        """Note a fault at a token."""
        self.faults.append(self.source.fault(*place(self.field, token), what, mend))

    def guess(self, word: str, known: Iterable[str], otherwise: str) -> str:
        """How to mend a word that is not known; no guess where more faults are there than are told."""
        return did_you_mean(word, known, otherwise) if len(self.faults) < MOST_FAULTS else otherwise

    def _fault_at_end(self, what: str, mend: str) -> None:
        rows = self.field.rows()
        line = rows[-1][0] if rows else self.field.line
        self.faults.append(self.source.fault(line, len(self.source.lines[line - 1].rstrip()) + 1, what, mend))

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

    def count(self) -> int:
        """How many events there are so far."""
        return len(self.events)

    def _append(self, event: Event) -> None:
        self.events.append(event)
        self._filled += event.length
        self._signs = 0

    def _set_value(self, item: Tree[Token]) -> None:
        self.value = value_of(token_of(item))

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

    def _note(self, item: Tree[Token]) -> None:
        token = token_of(item)
        if (pitch := self.pitch(token)) is not None:
            self._add(pitch, token)

    def _rest(self, item: Tree[Token]) -> None:
        token = token_of(item)
        if self.next_graces:
            self.fault(token, "grace notes come before a rest", "add the note that they lead to")
        self._add(None, token)

    def _add(self, pitch: Pitch | None, token: Token) -> None:
        self._at = token
        self.room.add_notes(1)
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

    def add_made(self, events: tuple[Event, ...], token: Token) -> None:
        """Add a generator's events, with bar lines where bars are full."""
        self._at = token
        self.room.add_notes(sum(len(event.pitches) or 1 for event in events))
        where = Place(*place(self.field, token))
        for event in events:
            if self._filled >= self.meter.length:
                self.close_bar("|")
            self._append(replace(event, place=where))

    # -- what belongs to the note before --------------------------------------------------------------

    def has_note(self, token: Token) -> bool:
        if not self.events:
            what = f"{shown(token.rstrip('('))} comes before the first note"
            self.fault(token, what, "put it after its note")
            return False
        self._signs += 1
        if self._signs == MOST_SIGNS + 1:
            what = f"more than {MOST_SIGNS} marks, dynamics and words are on one note"
            self.fault(token, what, "take some out")
        return self._signs <= MOST_SIGNS

    def _mark(self, item: Tree[Token]) -> None:
        token = token_of(item)
        said = str(token)
        name = plain_word(said)
        if name in MARKS:
            if self.has_note(token):
                if name == "tie":
                    self.last = replace(self.last, tie=True)
                    self._tie_at = token
                else:
                    self.last = self.last.marked(name)
            return
        whole = self._whole(token)
        if whole != said:
            self._no_word(token, whole)
            return
        if name in _SIDES:
            self.fault(token, f"{shown(said)} has no words", f"write `{SIGNS[name].example}`")
            return
        what = f"unknown word {shown(said)}"
        if name in GROUPS:
            what = f"{shown(said)} needs brackets"
            mend = f"write `{example_of(said)}`"
        elif name in FIGURES:
            what = f"{shown(said)} needs brackets"
            mend = f"write `{said}( q )`"
        elif name in WORD_HINTS:
            mend = WORD_HINTS[name]
        else:
            known = [*MARKS, *GROUPS, *FIGURES, "rest", *_SIDES, *VALUES, *LEVELS]
            mend = self.guess(name, known, "every word of the language is on the site's language page")
        self.fault(token, what, mend)

    def _dynamic(self, item: Tree[Token]) -> None:
        token = token_of(item)
        if self.has_note(token):
            self.last = self.last.with_dynamic_marks(DynamicMark(Fraction(0), str(token)))

    def _breath(self, item: Tree[Token]) -> None:
        token = Token("BREATH", ",", line=item.meta.line, column=item.meta.column)
        if self.has_note(token):
            self.last = self.last.marked("breath")

    def _said(self, item: Tree[Token]) -> None:
        side, quoted = token_of(item, 0), token_of(item, 1)
        if not self.has_note(side):
            return
        text = " ".join(str(quoted)[1:-1].split())
        part = _SIDES[plain_word(side)]
        limit = 12 if part == "syllable" else 80
        if len(text) > limit:
            self.fault(quoted, f"words on the staff of {len(text)} characters", f"keep them to {limit}")
            return
        self.last = replace(self.last, **{part: text})  # type: ignore[arg-type]

    def _junk(self, item: Tree[Token]) -> None:
        token = token_of(item)
        self._no_word(token, self._whole(token))

    def _start(self, token: Token) -> int:
        """Where in its row the word begins that a token is the end of, from 0."""
        row, start = self._rows[(token.line or 1) - 1], (token.column or 1) - 1
        if token[0] not in _ENDS_A_WORD:
            while start and not (row[start - 1].isspace() or row[start - 1] in _ENDS_A_WORD):
                start -= 1
        return start

    def _whole(self, token: Token) -> str:
        """The whole word that a token is a part of: `w...`, where the grammar found `w` and dots."""
        row, start = self._rows[(token.line or 1) - 1], self._start(token)
        end = (token.column or 1) - 1 + len(token)
        if token[0] not in _ENDS_A_WORD:
            while end < len(row) and not (row[end].isspace() or row[end] in _ENDS_A_WORD):
                end += 1
        return row[start:end]

    def _no_word(self, token: Token, whole: str) -> None:
        """Say once of a whole word that it is none."""
        line, start = token.line or 1, self._start(token)
        if self._told == (line, start):
            return
        self._told = line, start
        match = _PITCH_LIKE.fullmatch(whole)
        bare = whole.rstrip(".:;!?'*-_")
        if match and not match[3]:
            name = f"{match[1].upper()}{match[2]}"
            mend = f"add its octave: `{name}4` or `{name}5`"
        elif match and len(match[3]) == 1:
            mend = f"did you mean '{match[1].upper()}{match[2]}{match[3]}'?"
        elif match:
            mend = "octaves go from 0 to 9, and middle C is C4"
        elif dotted := _DOTTED.fullmatch(whole):
            mend = f"a note value has two dots at most: `{dotted[1]}..`"
        elif glued := _VALUE_AND_PITCH.fullmatch(whole):
            mend = f"put a space between them: `{glued[1]} {glued[2]}`"
        elif bare != whole and (_PITCH_LIKE.fullmatch(bare) or bare in _PLAIN_WORDS):
            mend = f"did you mean {shown(bare)}?"
        elif whole == '"':
            mend = "words in quotes follow `above`, `below` or `say`, and end with a quote on the same line"
        else:
            known = [*MARKS, *GROUPS, *FIGURES, *VALUES]
            mend = self.guess(whole, known, "a pitch is written like C4, F#5 or Bb3")
        begins = Token("JUNK", whole, line=line, column=start + 1)
        self.fault(begins, f"{shown(whole)} is not a pitch, value or word", mend)

    # -- groups and bars ------------------------------------------------------------------------------

    def _group(self, item: Tree[Token]) -> None:
        opener = token_of(item)
        inside = [child for child in item.children[1:] if isinstance(child, Tree)]
        if self._depth == DEEPEST:
            self.fault(opener, f"more than {DEEPEST} groups are nested", "take some out")
            return
        self._depth += 1
        read_group(self, opener, str(opener)[:-1], inside)
        self._depth -= 1

    def _stray(self, item: Tree[Token]) -> None:
        mend = "write it in its own group, such as `tuplet( 3:2 ... )`, `meter( 3/4 )`, `tempo( q = 60 )`"
        self.fault(token_of(item), f"{shown(str(token_of(item)))} does not belong here", mend)

    def _barline(self, item: Tree[Token]) -> None:
        sign = str(token_of(item))
        if sign == "|.":
            what = "`|.` is not a bar line of this language"
            self.fault(token_of(item), what, "take it out: the last bar line is always a final one")
        elif sign == "|:":
            if self.in_bar:
                self.close_bar("|")
            self._opens_repeat = True
        elif self.in_bar:
            self.close_bar(sign)
        elif self.bars and sign != "|":
            self.bars[-1] = replace(self.bars[-1], end=sign)
        elif self.bars and self.bars[-1].end == "|":
            what = "a bar with nothing in it"
            self.fault(token_of(item), what, "take out one bar line, or write `w rest`")

    def close_bar(self, end: str) -> None:
        """End the bar at work."""
        self.room.add_bar()
        self.bars.append(
            Bar(
                (),
                end,
                opens_repeat=self._opens_repeat,
                ending=self.ending,
                meter=self.next_meter,
                tempo=self.next_tempo,
            )
        )
        self._firsts.append(len(self.events))
        self._filled, self._opens_repeat = Fraction(0), False
        self.next_meter = self.next_tempo = None

    def _check_lengths(self) -> None:
        meter = self.first_meter
        for number, bar in enumerate(self.bars, start=1):
            meter = bar.meter or meter
            pickup = self.pickup if number == 1 else Fraction(0)
            wanted = pickup or meter.length
            short = meter.length - self.pickup
            if bar.length == wanted or (
                # With a pick-up, the last bar, and a bar that repeats back to it, may leave room for it.
                self.pickup and bar.length == short and (number == len(self.bars) or bar.end != "|")
            ):
                continue
            where = bar.events[0].place or Place(self.field.line, 1)
            change = counted(abs(wanted - bar.length), meter)
            mend = f"{'add' if bar.length < wanted else 'take away'} {change}"
            has, needs = counted(bar.length, meter), counted(wanted, meter)
            if pickup:
                what = f"the pick-up has {has}, and `pickup` says {needs}"
            else:
                what = f"bar {number} has {has}, and {meter} needs {needs}"
                if number == 1 and bar.length < wanted:
                    mend += ", or say `pickup:` if the music begins before the first full bar"
            self.faults.append(self.source.fault(where.line, where.column, what, mend))
