"""Walks the tree of a `music` field and checks its bars against the meter.

bar_builder.py builds the bars. groups.py reads what stands around notes, such as `slur( ... )`.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from lark import Token, Tree

from ...music.event import LEVELS, DynamicMark, Place, Value
from ...music.exercise import GeneratedFigure
from ...music.figures import FIGURES
from ...music.keys import Key
from ...music.local_words import LocalWords
from ...music.pitch import Pitch
from ...music.score import Bar, Meter
from ...music.winds.fingering import FINGERING_CHART
from ..faults import Fault, shown
from ..fields import FieldText, Source
from ..namings import foreign_pitch, foreign_tonic
from ..syntax import parse, place
from ..trade_words import WORD_HINTS, example_of, plain_word
from ..words import GROUPS, MARKS, SIGNS, VALUES
from .bar_builder import BarBuilder
from .bounds import DEEPEST, BeyondBounds, Bounds
from .check_signs import sign_faults
from .figure_words import FIGURE_WORDS
from .groups import read_group
from .local_words import place_of_words
from .repeat_words import REPEAT_WORDS, put_repeat_word, put_times, repeat_faults
from .tokens import token_of

_DOTTED = re.compile(r"([whqest])\.{3,}")
_VALUE_AND_PITCH = re.compile(r"([whqest]\.{0,2})(.+\d)")
_SIDES = {
    "above": "above",
    "below": "below",
    "say": "syllable",
    "fingering": "fingering",
    FINGERING_CHART: "chart",
}
"""The words before a text in quotes, each with the field of an event that the text goes to."""

_ENDS_A_WORD = frozenset('()|,"')


_PLAIN_WORDS = frozenset((*MARKS, *VALUES, *LEVELS, "rest"))


def counted(length: Fraction, meter: Meter) -> str:
    """A length as a musician counts it in a meter: `3 1/2 beats`, and in 6/8 `7 eighths`."""
    unit = "beat" if meter.unit in (2, 4) else Value(Fraction(1, meter.unit)).name
    whole, rest = divmod(length * meter.unit, 1)
    number = " ".join(str(part) for part in (whole, rest) if part) or "0"
    return f"{number} {unit}{'' if 0 < length * meter.unit <= 1 else 's'}"


class MusicReader:
    """Reads one field's items from left to right into a builder of bars; each word is looked at once."""

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
        self._builder = BarBuilder(source, field, home, key, meter, pickup, room)
        self._source, self._field = source, field
        self._first_meter, self._pickup = meter, pickup
        self._depth = 0
        self._reported: tuple[int, int] | None = None
        self._rows = field.text.split("\n")
        self._readers: dict[str, Callable[[Tree[Token]], None]] = {
            "value": self._set_value,
            "note": self._note,
            "rest": self._rest,
            "mark": self._mark,
            "dynamic": self._dynamic,
            "breath": self._breath,
            "said": self._quoted,
            "group": self._group,
            "barline": self._barline,
            "times": self._times,
            "ratio": self._stray,
            "change": self._stray,
            "number": self._junk,
            "junk": self._junk,
        }

    @property
    def faults(self) -> list[Fault]:
        """What could not be read."""
        return self._builder.faults

    @property
    def made(self) -> list[GeneratedFigure]:
        """The figures that a generator made, in order."""
        return self._builder.made

    def read(self, is_second: bool = False) -> tuple[Bar, ...]:
        """The bars of the field; none where its syntax is broken.

        A second part's bars are not checked against the meter, but against the first part's (`with_second`).
        """
        builder = self._builder
        tree = parse(self._source, self._field)
        if isinstance(tree, Fault):
            builder.faults.append(tree)
            return ()
        try:
            self.read_items([child for child in tree.children if isinstance(child, Tree)])
            bars = builder.finish()
        except BeyondBounds as found:
            newest = builder.newest
            where = place(self._field, newest) if newest else (self._field.line, 1)
            builder.faults = [found.fault(self._source, *where)]
            return ()
        for event, what, mend in sign_faults(builder.events):
            at = event.place or Place(self._field.line, 1)
            builder.faults.append(self._source.fault(at.line, at.column, what, mend))
        for bar, what, mend in repeat_faults(bars):
            at = (bar.events[0].place if bar.events else None) or Place(self._field.line, 1)
            builder.faults.append(self._source.fault(at.line, at.column, what, mend))
        if not any(event.pitch for event in builder.events) and not builder.faults:
            builder.fault_at_end(f"{self._field.name!r} has no notes", "add at least one, such as `w D5`")
        if not (builder.faults or self._first_meter.is_free or is_second):
            self._check_lengths(bars)
        return bars

    def read_items(self, items: list[Tree[Token]]) -> None:
        """Read items in their order."""
        for item in items:
            self._readers[item.data](item)

    def _set_value(self, item: Tree[Token]) -> None:
        self._builder.set_value(token_of(item))

    def _note(self, item: Tree[Token]) -> None:
        builder = self._builder
        token = token_of(item)
        if (pitch := builder.pitch(token)) is not None:
            builder.add(pitch, token)

    def _rest(self, item: Tree[Token]) -> None:
        builder = self._builder
        token = token_of(item)
        if builder.next_graces:
            builder.fault(token, "grace notes come before a rest", "add the note that they lead to")
        builder.add(None, token)

    def _mark(self, item: Tree[Token]) -> None:
        builder = self._builder
        token = token_of(item)
        said = str(token)
        name = plain_word(said)
        if name in REPEAT_WORDS:
            put_repeat_word(builder, token, name)
            return
        if name in MARKS:
            if builder.has_note(token):
                if name == "tie":
                    builder.tie(token)
                else:
                    builder.last = builder.last.marked(name)
            return
        whole = self._whole(token)
        if whole != said:
            self._no_word(token, whole)
            return
        if name in _SIDES:
            builder.fault(token, f"{shown(said)} has no words", f"write `{SIGNS[name].example}`")
            return
        what = f"unknown word {shown(said)}"
        if name in GROUPS:
            what = f"{shown(said)} needs brackets"
            mend = f"write `{example_of(said)}`"
        elif name in FIGURES:
            what = f"{shown(said)} needs brackets"
            mend = f"write `{said}( q )`"
        elif almost := self._source.naming.nearly(said):
            mend = f"add its octave: `{almost[0]}4` or `{almost[0]}5`"
        elif name in WORD_HINTS:
            mend = WORD_HINTS[name]
        elif " ".join(said.split()) in FIGURE_WORDS:
            mend = f"write it in a figure, as in `{FIGURE_WORDS[' '.join(said.split())].example}`"
        else:
            known = [*MARKS, *REPEAT_WORDS, *GROUPS, *FIGURES, "rest", *_SIDES, *VALUES, *LEVELS]
            mend = builder.guess(name, known, "every word of the language is on the site's language page")
        builder.fault(token, what, mend)

    def _times(self, item: Tree[Token]) -> None:
        put_times(self._builder, token_of(item))

    def _dynamic(self, item: Tree[Token]) -> None:
        builder = self._builder
        token = token_of(item)
        if builder.has_note(token):
            builder.last = builder.last.with_dynamic_marks(DynamicMark(Fraction(0), str(token)))

    def _breath(self, item: Tree[Token]) -> None:
        builder = self._builder
        token = Token("BREATH", ",", line=item.meta.line, column=item.meta.column)
        if builder.has_note(token):
            builder.last = builder.last.marked("breath")

    def _quoted(self, item: Tree[Token]) -> None:
        builder = self._builder
        side, quoted = token_of(item, 1), token_of(item, 2)
        if not builder.has_note(side):
            return
        text = " ".join(str(quoted)[1:-1].split())
        part = _SIDES[plain_word(side)]
        limit = {"syllable": 12, "fingering": 24}.get(part, 80)
        if len(text) > limit:
            builder.fault(quoted, f"words on the staff of {len(text)} characters", f"keep them to {limit}")
            return
        only = item.children[0]
        if not isinstance(only, Token):
            builder.last = replace(builder.last, **{part: text})  # type: ignore[arg-type]
        elif where := place_of_words(builder, only):
            local = (*builder.last.local, LocalWords(where, part, text))
            builder.last = replace(builder.last, local=local)

    def _junk(self, item: Tree[Token]) -> None:
        token = token_of(item)
        self._no_word(token, self._whole(token))

    def _start(self, token: Token) -> int:
        """The column, from 0, at which the word begins that ends with this token."""
        row, start = self._rows[(token.line or 1) - 1], (token.column or 1) - 1
        if token[0] not in _ENDS_A_WORD:
            while start and not (row[start - 1].isspace() or row[start - 1] in _ENDS_A_WORD):
                start -= 1
        return start

    def _whole(self, token: Token) -> str:
        """The whole word around a token, such as `w...` if the grammar read `w` and dots."""
        row, start = self._rows[(token.line or 1) - 1], self._start(token)
        end = (token.column or 1) - 1 + len(token)
        if token[0] not in _ENDS_A_WORD:
            while end < len(row) and not (row[end].isspace() or row[end] in _ENDS_A_WORD):
                end += 1
        return row[start:end]

    def _no_word(self, token: Token, whole: str) -> None:
        """Report an unknown word, once for all the tokens that it has."""
        line, start = token.line or 1, self._start(token)
        if self._reported == (line, start):
            return
        self._reported = line, start
        naming = self._source.naming
        bare = whole.rstrip(".:;!?'*-_")
        if foreign := foreign_pitch(whole, naming) or ("-" in whole and foreign_tonic(whole, naming)):
            begins = Token("JUNK", whole, line=line, column=start + 1)
            self._builder.fault_as_said(begins, f"{shown(whole)} is no name of a note here", foreign)
            return
        if almost := naming.nearly(whole):
            name, octave = almost
            if not octave:
                mend = f"add its octave: `{name}4` or `{name}5`"
            elif len(octave) == 1:
                mend = f"did you mean {shown(naming.retold(name + octave))}?"
            else:
                mend = "octaves go from 0 to 9, and middle C is C4"
        elif dotted := _DOTTED.fullmatch(whole):
            mend = f"a note value has two dots at most: `{dotted[1]}..`"
        elif (glued := _VALUE_AND_PITCH.fullmatch(whole)) and naming.is_pitch(glued[2]):
            mend = f"put a space between them: `{glued[1]} {naming.english(glued[2])}`"
        elif bare != whole and (naming.nearly(bare) or bare in _PLAIN_WORDS):
            mend = f"did you mean {shown(bare)}?"
        elif whole.startswith("#"):
            mend = "a sharp follows its letter, as in `C#5`; a remark begins with `# `, with a space"
        elif whole == '"':
            mend = "words in quotes follow `above`, `below` or `say`, and end with a quote on the same line"
        else:
            known = [*MARKS, *GROUPS, *FIGURES, *VALUES]
            mend = self._builder.guess(whole, known, "a pitch is written like C4, F#5 or Bb3")
        begins = Token("JUNK", whole, line=line, column=start + 1)
        self._builder.fault(begins, f"{shown(whole)} is not a pitch, value or word", mend)

    # -- groups and bars ------------------------------------------------------------------------------

    def _group(self, item: Tree[Token]) -> None:
        opener = token_of(item)
        inside = [child for child in item.children[1:] if isinstance(child, Tree)]
        if self._depth == DEEPEST:
            self._builder.fault(opener, f"more than {DEEPEST} groups are nested", "take some out")
            return
        self._depth += 1
        read_group(self._builder, self.read_items, opener, inside)
        self._depth -= 1

    def _stray(self, item: Tree[Token]) -> None:
        mend = "write it in its own group, such as `tuplet( 3:2 ... )`, `meter( 3/4 )`, `tempo( q = 60 )`"
        self._builder.fault(token_of(item), f"{shown(str(token_of(item)))} does not belong here", mend)

    def _barline(self, item: Tree[Token]) -> None:
        builder = self._builder
        sign = str(token_of(item))
        if sign == "|.":
            what = "`|.` is not a bar line of this language"
            builder.fault(token_of(item), what, "take it out: the last bar line is always a final one")
        elif sign == "|:":
            if builder.in_bar:
                builder.close_bar("|")
            builder.opens_repeat = True
        elif builder.in_bar:
            builder.close_bar(sign)
        elif builder.bars and sign != "|":
            builder.bars[-1] = replace(builder.bars[-1], end=sign)
        elif builder.bars and builder.bars[-1].end == "|":
            what = "a bar with nothing in it"
            builder.fault(token_of(item), what, "take out one bar line, or write `w rest`")

    def _check_lengths(self, bars: tuple[Bar, ...]) -> None:
        meter = self._first_meter
        for number, bar in enumerate(bars, start=1):
            meter = bar.meter or meter
            pickup = self._pickup if number == 1 else Fraction(0)
            wanted = pickup or meter.length
            short = meter.length - self._pickup
            if bar.length == wanted or (
                # With a pick-up, the last bar, and a bar that repeats back to it, may leave room for it.
                self._pickup and bar.length == short and (number == len(bars) or bar.end != "|")
            ):
                continue
            where = bar.events[0].place or Place(self._field.line, 1)
            change = counted(abs(wanted - bar.length), meter)
            mend = f"{'add' if bar.length < wanted else 'take away'} {change}"
            has, needs = counted(bar.length, meter), counted(wanted, meter)
            if pickup:
                what = f"the pick-up has {has}, and `pickup` says {needs}"
            else:
                what = f"bar {number} has {has}, and {meter} needs {needs}"
                if number == 1 and bar.length < wanted:
                    mend += ", or say `pickup:` if the music begins before the first full bar"
            self._builder.faults.append(self._source.fault(where.line, where.column, what, mend))
