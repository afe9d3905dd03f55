"""From the tree of a `music` field to bars, each checked against the meter."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

from lark import Token, Tree

from builder.music.figures import FIGURES
from builder.music.keys import Key
from builder.music.pitch import Interval, Pitch
from builder.music.score import HAIRPIN_END, LEVELS, Bar, Event, Meter, Place, Shade, Value

from .faults import Fault, did_you_mean, shown
from .fields import FieldText, Source
from .syntax import parse, place
from .words import GROUPS, MARKS, NOTE_MARKS, VALUES

_PITCH_LIKE = re.compile(r"([A-Ga-g])(##|bb|[#bxn♯♭]?)(-?\d*)")


def value_of(token: Token) -> Value:
    """A note value from its letter or its name."""
    text = str(token)
    if token.type == "VALUE_NAME":
        name = text.removeprefix("dotted ")
        return Value(VALUES[name], 1 if name != text else 0)
    return Value(VALUES[text.rstrip(".")], text.count("."))


def quarters(length: Fraction) -> str:
    """A length as a musician counts it: `3 1/2 quarters`."""
    whole, rest = divmod(length * 4, 1)
    number = " ".join(str(part) for part in (whole, rest) if part) or "0"
    return f"{number} quarter{'' if length * 4 == 1 else 's'}"


class MusicReader:
    """Reads one field's items from left to right. `faults` gathers what it could not read."""

    def __init__(
        self, source: Source, field: FieldText, home: Pitch, key: Key, meter: Meter, pickup: Fraction
    ) -> None:
        self.source, self.field = source, field
        self.home, self.key, self.meter, self.pickup = home, key, meter, pickup
        self.faults: list[Fault] = []
        self._value = Value(Fraction(1, 4))
        self._scale = Fraction(1)
        self._bar: list[Event] = []
        self._bars: list[Bar] = []
        self._opens_repeat = False
        self._pending: list[str] = []
        self._note_marks: list[str] = []
        self._tie_at: Token | None = None

    def read(self) -> tuple[Bar, ...]:
        """The bars of the field; none where its syntax is broken."""
        tree = parse(self.source, self.field)
        if isinstance(tree, Fault):
            self.faults.append(tree)
            return ()
        for item in tree.children:
            self._item(item)
        if self._tie_at is not None:
            self._fault(
                self._tie_at, "a tie from the last note goes nowhere", "take out `tie`, or add the note"
            )
        if self._bar:
            self._close_bar("|.")
        elif self._bars and self._bars[-1].end == "|":
            self._bars[-1] = replace(self._bars[-1], end="|.")
        if not any(event.pitch for bar in self._bars for event in bar.events) and not self.faults:
            line, column = self.field.line, self.field.column
            mend = "add at least one, such as `w D5`"
            self.faults.append(self.source.fault(line, column, f"{self.field.name!r} has no notes", mend))
        if not self.faults:
            self._check_lengths()
        return tuple(self._bars)

    def _fault(self, token: Token, what: str, mend: str) -> None:
        self.faults.append(self.source.fault(*place(self.field, token), what, mend))

    def _item(self, item: Tree[Token] | Token) -> None:
        assert isinstance(item, Tree)
        readers = {
            "value": self._set_value,
            "note": self._note,
            "rest": self._rest,
            "mark": self._mark,
            "dynamic": self._dynamic,
            "breath": self._breath,
            "said": self._said,
            "group": self._group,
            "ratio": self._ratio,
            "barline": self._barline,
            "junk": self._junk,
        }
        readers[item.data](item)

    # -- notes ----------------------------------------------------------------------------------------

    def _token(self, item: Tree[Token], index: int = 0) -> Token:
        token = item.children[index]
        assert isinstance(token, Token)
        return token

    def _set_value(self, item: Tree[Token]) -> None:
        self._value = value_of(self._token(item))

    def _note(self, item: Tree[Token]) -> None:
        token = self._token(item)
        try:
            pitch = Pitch.parse(token) if token.type == "PITCH" else self.home.up(Interval.parse(token))
        except ValueError as error:
            self._fault(token, str(error), "write a pitch such as F#5, or an interval such as +m3")
            return
        if abs(pitch.alter) > 2:
            self._fault(
                token, f"{token} from {self.home} asks for a triple accidental", "write its plain name"
            )
            return
        self._add(pitch, token)

    def _rest(self, item: Tree[Token]) -> None:
        self._add(None, self._token(item))

    def _add(self, pitch: Pitch | None, token: Token) -> None:
        line, column = place(self.field, token)
        value = replace(self._value, scale=self._scale)
        event = Event(pitch, value, opens=tuple(self._pending), place=Place(line, column))
        self._pending.clear()
        if pitch is not None:
            event = event.marked(*self._note_marks)
        if self._tie_at is not None and self._last.pitch != pitch:
            self._fault(
                self._tie_at, f"the tie joins {self._last.pitch} to {pitch or 'a rest'}", "tie equal pitches"
            )
        self._tie_at = None
        self._bar.append(event)

    @property
    def _last(self) -> Event:
        return self._bar[-1] if self._bar else self._bars[-1].events[-1]

    @_last.setter
    def _last(self, event: Event) -> None:
        if self._bar:
            self._bar[-1] = event
        else:
            bar = self._bars[-1]
            self._bars[-1] = replace(bar, events=(*bar.events[:-1], event))

    def _has_note(self, token: Token) -> bool:
        if self._bar or self._bars:
            return True
        self._fault(
            token, f"{str(token)!r} stands before any note", "put it after the note that it belongs to"
        )
        return False

    # -- signs after a note ---------------------------------------------------------------------------

    def _mark(self, item: Tree[Token]) -> None:
        token = self._token(item)
        name = str(token)
        if name not in MARKS:
            known = [*MARKS, *GROUPS, *FIGURES, "rest", "above", "below", "say", *VALUES, *LEVELS]
            mend = did_you_mean(name, known, "every word of the language is on the site's language page")
            if name in GROUPS or name in FIGURES:
                mend = f"write `{name}( ... )` around its notes" if name in GROUPS else f"write `{name}( q )`"
            self._fault(token, f"there is no word {shown(name)}", mend)
        elif self._has_note(token):
            if name == "tie":
                self._last = replace(self._last, tie=True)
                self._tie_at = token
            else:
                self._last = self._last.marked(name)

    def _dynamic(self, item: Tree[Token]) -> None:
        token = self._token(item)
        if self._has_note(token):
            self._last = self._last.with_shades(Shade(Fraction(0), str(token)))

    def _breath(self, item: Tree[Token]) -> None:
        place_holder = Token("BREATH", ",", line=item.meta.line, column=item.meta.column)
        if self._has_note(place_holder):
            self._last = self._last.marked("breath")

    def _said(self, item: Tree[Token]) -> None:
        side, quoted = self._token(item, 0), self._token(item, 1)
        if not self._has_note(side):
            return
        text = " ".join(str(quoted)[1:-1].split())
        if len(text) > 80:
            self._fault(quoted, f"words on the staff of {len(text)} characters", "keep them to 80")
        elif side == "above":
            self._last = replace(self._last, above=text)
        else:
            self._last = replace(self._last, below=text)

    def _junk(self, item: Tree[Token]) -> None:
        token = self._token(item)
        match = _PITCH_LIKE.fullmatch(token)
        if match and not match[3]:
            mend = f"add its octave: `{match[1].upper()}{match[2]}4` or `{match[1].upper()}{match[2]}5`"
        elif match:
            mend = f"did you mean '{match[1].upper()}{match[2]}{match[3]}'?"
        elif token == '"':
            mend = "words in quotes follow `above`, `below` or `say`, and end with a quote on the same line"
        else:
            mend = did_you_mean(
                token, [*MARKS, *GROUPS, *FIGURES, *VALUES], "a pitch is written like C4, F#5 or Bb3"
            )
        self._fault(token, f"{shown(str(token))} is no pitch, value or word", mend)

    # -- groups ---------------------------------------------------------------------------------------

    def _ratio(self, item: Tree[Token]) -> None:
        self._fault(self._token(item), "a ratio stands only in a tuplet", "write `tuplet( 3:2 ... )`")

    def _group(self, item: Tree[Token]) -> None:
        opener = self._token(item)
        name = str(opener)[:-1]
        inside = [child for child in item.children[1:] if isinstance(child, Tree)]
        if name in FIGURES:
            self._figure(opener, name, inside)
        elif name in NOTE_MARKS:
            self._note_marks.append(name)
            self._inside(inside)
            self._note_marks.remove(name)
        elif name in GROUPS:
            self._span(opener, name, inside)
        else:
            known = [*GROUPS, *FIGURES, *NOTE_MARKS]
            mend = did_you_mean(name, known, f"the groups are {', '.join(GROUPS)}")
            self._fault(opener, f"there is no group {shown(name)}", mend)

    def _inside(self, items: list[Tree[Token]]) -> None:
        for child in items:
            self._item(child)

    def _span(self, opener: Token, name: str, inside: list[Tree[Token]]) -> None:
        kind, *detail = GROUPS[name].does
        ratio = ""
        if kind == "tuplet":
            if not detail:
                if not inside or inside[0].data != "ratio":
                    self._fault(opener, "a tuplet begins with its ratio", "write `tuplet( 3:2 ... )`")
                    return
                detail = [str(self._token(inside.pop(0)))]
            ratio = detail[0]
        spans = {"hairpin": [], "tuplet": [f"tuplet {ratio}"]}.get(kind, [kind])
        outer = self._scale
        if ratio:
            many, time = map(int, ratio.split(":"))
            if not many or not time or outer != 1:
                self._fault(
                    opener, f"the tuplet {ratio} cannot be read", "write `3:2`, and no tuplet inside another"
                )
                return
            self._scale = Fraction(time, many)
        before = self._count()
        self._pending += spans
        self._inside(inside)
        self._scale = outer
        if self._count() == before:
            self._pending = [span for span in self._pending if span not in spans]
            self._fault(opener, f"nothing stands in `{name}( )`", "put notes in it")
            return
        self._last = replace(self._last, closes=(*self._last.closes, *spans))
        if kind == "hairpin":
            self._at(before, Shade(Fraction(0), detail[0]))
            self._last = self._last.with_shades(Shade(Fraction(1), HAIRPIN_END))

    def _count(self) -> int:
        return sum(len(bar.events) for bar in self._bars) + len(self._bar)

    def _at(self, index: int, shade: Shade) -> None:
        for number, bar in enumerate(self._bars):
            if index < len(bar.events):
                events = list(bar.events)
                events[index] = events[index].with_shades(shade)
                self._bars[number] = replace(bar, events=tuple(events))
                return
            index -= len(bar.events)
        self._bar[index] = self._bar[index].with_shades(shade)

    def _figure(self, opener: Token, name: str, inside: list[Tree[Token]]) -> None:
        value = self._value
        if len(inside) == 1 and inside[0].data == "value":
            value = value_of(self._token(inside[0]))
        elif inside:
            self._fault(opener, f"`{name}( )` takes one note value", f"write `{name}( h )`")
            return
        line, column = place(self.field, opener)
        for event in FIGURES[name].make(self.home, self.key, value):
            if sum((e.length for e in self._bar), Fraction(0)) >= self.meter.length:
                self._close_bar("|")
            self._bar.append(replace(event, place=Place(line, column)))

    # -- bars -----------------------------------------------------------------------------------------

    def _barline(self, item: Tree[Token]) -> None:
        sign = str(self._token(item))
        if sign == "|:":
            if self._bar:
                self._close_bar("|")
            self._opens_repeat = True
        elif self._bar:
            self._close_bar(sign)
        elif self._bars and sign != "|":
            self._bars[-1] = replace(self._bars[-1], end=sign)
        elif self._bars:
            self._fault(
                self._token(item), "a bar with nothing in it", "take out one bar line, or write `w rest`"
            )

    def _close_bar(self, end: str) -> None:
        self._bars.append(Bar(tuple(self._bar), end, opens_repeat=self._opens_repeat))
        self._bar, self._opens_repeat = [], False

    def _check_lengths(self) -> None:
        full = self.meter.length
        for number, bar in enumerate(self._bars, start=1):
            wanted = full
            if number == 1 and self.pickup:
                wanted = self.pickup
            elif number == len(self._bars) and self.pickup and bar.length == full - self.pickup:
                wanted = bar.length
            if bar.length == wanted:
                continue
            where = bar.events[0].place or Place(self.field.line, 1)
            name = "the pick-up" if number == 1 and self.pickup else f"bar {number}"
            what = f"{name} holds {quarters(bar.length)}, and {self.meter} asks for {quarters(wanted)}"
            if number == 1 and self.pickup:
                what = f"{name} holds {quarters(bar.length)}, and `pickup` says {quarters(wanted)}"
            change = abs(wanted - bar.length)
            mend = f"{'add' if bar.length < wanted else 'take away'} {quarters(change)}"
            if number == 1 and not self.pickup and bar.length < full:
                mend += ", or say `pickup:` if the music begins before the first full bar"
            self.faults.append(self.source.fault(where.line, where.column, what, mend))
