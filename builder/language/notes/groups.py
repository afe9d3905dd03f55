"""Reads what stands around notes: one small function for each effect that words.py gives to a word."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import assert_never

from lark import Token, Tree

from ...music.event import HAIRPIN_END, DynamicMark, Span, add_vibrato, tuplet
from ...music.figures import FIGURES
from ...music.figures.calls import COMMON, call, phrases
from ...music.figures.registry import UnknownWord
from ...music.settings.harmonics import overtones, partial_of
from ...music.signs import HARMONIC
from ...music.sounding.tempos import TEMPO_CHANGES
from ..faults import shown
from ..trade_words import WORD_HINTS, example_of, plain_word
from ..words import (
    CLEFS,
    GROUPS,
    MARKS,
    NOTE_MARKS,
    SIGNS,
    Effect,
    Enclose,
    Ending,
    Hairpin,
    Next,
    Tuplet,
    Vibrato,
)
from .bar_builder import BarBuilder
from .ornament_words import NAMED_NOTES, read_ornament
from .tokens import meter_of, tempo_of, token_of

Inside = list[Tree[Token]]


@dataclass(frozen=True, slots=True)
class Group:
    """A group to read: `opener` is the token it begins with, `inside` what stands between its brackets.

    `read_items` reads notes and other groups into the same builder. `name` is the language's own word.
    """

    builder: BarBuilder
    read_items: Callable[[Inside], None]
    opener: Token
    name: str
    inside: Inside

    def fault(self, what: str, mend: str) -> None:
        """Note a fault at the group's opener."""
        self.builder.fault(self.opener, what, mend)

    @property
    def words(self) -> list[str]:
        """The plain words inside."""
        return [str(token_of(child)) for child in self.inside if child.data == "mark"]

    @property
    def only_word(self) -> str:
        """The one word that stands inside, or an empty string if there is anything else."""
        return self.words[0] if len(self.inside) == 1 and self.words else ""


def read_group(
    builder: BarBuilder, read_items: Callable[[Inside], None], opener: Token, inside: Inside
) -> None:
    """Read the group that begins with a token, its bracket included."""
    written = str(opener)[:-1]
    name = plain_word(written)
    group = Group(builder, read_items, opener, name, inside)
    if name in FIGURES:
        _figure(group)
    elif name in NOTE_MARKS:
        builder.marks.append(name)
        read_items(inside)
        builder.marks.remove(name)
    elif name in NAMED_NOTES:
        read_ornament(group)
    elif name == HARMONIC:
        _harmonic(group)
    elif name in TEMPO_CHANGES:
        _tempo_change(group)
    elif name in MARKS:
        group.fault(f"{shown(written)} is for one note", f"write it after its note: `{example_of(written)}`")
    elif name in GROUPS:
        _carry_out(group, GROUPS[name].effect)
    else:
        known = [*GROUPS, *FIGURES, *NOTE_MARKS]
        mend = WORD_HINTS.get(name) or builder.guess(name, known, f"the groups are {', '.join(GROUPS)}")
        group.fault(f"unknown group {shown(name)}", mend)


def _carry_out(group: Group, effect: Effect | None) -> None:
    match effect:
        case Enclose(span):
            _notes(group, (span,))
        case Hairpin(mark):
            _hairpin(group, mark)
        case Tuplet(many, time):
            _tuplet(group, many, time)
        case Vibrato(start, end):
            _vibrato(group, start, end)
        case Ending(number):
            _ending(group, number)
        case Next.GRACE_NOTES:
            _grace_notes(group)
        case Next.METER:
            _meter(group)
        case Next.TEMPO:
            _tempo(group)
        case Next.CLEF:
            _clef(group)
        case None:
            raise ValueError(f"the group {group.name} has no effect")
        case _:
            assert_never(effect)


def _notes(group: Group, spans: tuple[Span, ...] = ()) -> int | None:
    """Read the notes inside under spans; return the place of the first event, or None if there is none."""
    builder = group.builder
    first, faults = builder.count, len(builder.faults)
    builder.opening += spans
    group.read_items(group.inside)
    if builder.count == first:
        builder.opening = [span for span in builder.opening if span not in spans]
        if len(builder.faults) == faults:  # else a fault of what stands in it has just been noted
            group.fault(f"there are no notes in `{group.name}( )`", "put notes in it")
        return None
    builder.last = replace(builder.last, closes=(*builder.last.closes, *spans))
    return first


def _hairpin(group: Group, mark: str) -> None:
    builder = group.builder
    first = _notes(group)
    if first is not None:
        opening = DynamicMark(Fraction(0), mark)
        builder.events[first] = builder.events[first].with_dynamic_marks(opening)
        builder.last = builder.last.with_dynamic_marks(DynamicMark(Fraction(1), HAIRPIN_END))


def _tuplet(group: Group, many: int, time: int) -> None:
    builder, inside = group.builder, group.inside
    ratio = f"{many}:{time}"
    if not many:
        if not inside or inside[0].data != "ratio":
            group.fault("a tuplet begins with its ratio", "write `tuplet( 3:2 ... )`")
            return
        ratio = str(token_of(inside.pop(0)))
        many, time = map(int, ratio.split(":"))
    if not many or not time or builder.scale != 1:
        mend = "write a ratio such as 3:2, and no tuplet inside another"
        group.fault(f"the tuplet {ratio} cannot be read", mend)
        return
    bars = len(builder.bars)
    builder.scale = Fraction(time, many)
    _notes(group, (tuplet(many, time),))
    builder.scale = Fraction(1)
    if len(builder.bars) != bars:
        group.fault("a tuplet goes over a bar line", "end it before the bar line")


def _vibrato(group: Group, start: Fraction, end: Fraction) -> None:
    events = group.builder.events
    first = _notes(group)
    if first is not None:
        group.builder.fill_bar()
        if (start > 0 or end < 1) and group.builder.has_whole_range(first):
            what = (
                f"`{group.name}( )` changes in the middle of its notes, and those of a figure over the whole "
                "range differ from key to key"
            )
            group.fault(what, "write `vibrato( )` around it, or give the figure its octaves")
        events[first:] = add_vibrato(events[first:], start, end)


def _grace_notes(group: Group) -> None:
    builder, inside = group.builder, group.inside
    if builder.next_graces or not inside or any(child.data != "note" for child in inside):
        group.fault("grace notes are pitches alone", "write `grace( C#5 ) D5`")
        return
    builder.next_graces = tuple(filter(None, (builder.pitch(token_of(child)) for child in inside)))
    builder.room.add_notes(len(builder.next_graces))


def _harmonic(group: Group) -> None:
    """Give the note before its fundamental, which stands inside."""
    builder, inside = group.builder, group.inside
    if not builder.has_note(group.opener):
        return
    sounding = builder.last.pitch
    mend = f"write `{SIGNS['harmonic( B4 )'].example}`"
    if sounding is None:
        group.fault("a rest cannot be a harmonic", "put it after its note")
    elif len(inside) != 1 or inside[0].data != "note":
        group.fault("`harmonic( )` takes one pitch, the fundamental that is fingered", mend)
    elif fundamental := builder.pitch(token_of(inside[0])):
        if not partial_of(sounding, fundamental):
            over = ", ".join(map(str, overtones(fundamental)))
            what = f"{sounding} is no overtone of {fundamental}"
            group.fault(what, f"its overtones from the second to the eighth partial are {over}")
        builder.last = replace(builder.last, fundamental=fundamental)


def _ending(group: Group, number: int) -> None:
    builder = group.builder
    if builder.in_bar:
        builder.close_bar("|")
    follows = bool(builder.bars) and builder.bars[-1].ending == 1
    if builder.ending or (number == 2 and not follows):
        mend = "write `first-time( ... :| ) second-time( ... )`"
        group.fault(f"`{group.name}( )` does not belong here", mend)
        return
    if _notes_in_ending(group, number) and number == 1 and builder.bars[-1].end != ":|":
        group.fault("a first ending does not repeat", "write `:|` before its `)`")


def _notes_in_ending(group: Group, number: int) -> bool:
    """Read the bars of an ending; return whether there are any notes."""
    builder = group.builder
    builder.ending = number
    first = _notes(group)
    if builder.in_bar:
        builder.close_bar("|")
    builder.ending = 0
    return first is not None


def _change(group: Group) -> list[Token] | None:
    """The tokens of a change of meter or tempo at a bar line, or None after noting a fault."""
    name, inside = group.name, group.inside
    if group.builder.in_bar:
        group.fault(f"`{name}( )` is inside a bar", "put it after a bar line")
        return None
    if len(inside) == 1 and inside[0].data == "change":
        tokens = [child for child in inside[0].children if isinstance(child, Token)]
        if (tokens[0].type == "METER") == (name == "meter"):
            return tokens
    group.fault(f"`{name}( )` cannot be read", f"write it as in `{GROUPS[name].example}`")
    return None


def _meter(group: Group) -> None:
    builder = group.builder
    if builder.meter.is_free or group.only_word in ("free", "none"):
        what = "an exercise is in free time as a whole, or in meters as a whole"
        group.fault(what, "take this out, or change the field `meter`")
    elif tokens := _change(group):
        token, *groups = tokens
        try:
            builder.next_meter = builder.meter = meter_of(token, *groups)
        except ValueError as error:
            mend = "write beats over a note value, such as 4/4 or 6/8"
            if groups:
                mend = "write groups that make up the beats, such as 7/8 = 2+2+3"
            builder.fault(tokens[0], str(error), mend)


def _tempo(group: Group) -> None:
    builder = group.builder
    if tokens := _change(group):
        try:
            builder.next_tempo = tempo_of(tokens)
        except ValueError as error:
            builder.fault(tokens[1], str(error), "give beats a minute from 20 to 400, the slower first")


def _tempo_change(group: Group) -> None:
    """Read notes over which the tempo changes by and by to the one that stands before them."""
    builder, inside = group.builder, group.inside
    tokens: list[Token] = []
    if inside and inside[0].data == "change":
        tokens = [child for child in inside[0].children if isinstance(child, Token)]
    if not tokens or tokens[0].type == "METER":
        group.fault(f"`{group.name}( )` begins with its goal", f"write `{GROUPS[group.name].example}`")
        return
    try:
        goal = tempo_of(tokens)
    except ValueError as error:
        builder.fault(tokens[1], str(error), "give beats a minute from 20 to 400, the slower first")
        return
    del inside[0]
    openers = (tree.children[0] for item in inside for tree in item.iter_subtrees() if tree.data == "group")
    if any(plain_word(str(opener)[:-1]) in ("tempo", *TEMPO_CHANGES) for opener in openers):
        group.fault(f"`{group.name}( )` has another change of tempo in it", "write one after the other")
        return
    _notes(group, (Span(group.name, tempo=goal),))


def _clef(group: Group) -> None:
    if group.only_word in CLEFS:
        group.builder.next_clef = group.only_word
    else:
        group.fault("unknown clef", f"write one of {', '.join(CLEFS)}, as in `clef( bass )`")


def _figure(group: Group) -> None:
    builder, name = group.builder, group.name
    example = f"write it as in `{FIGURES[name].example}`"
    values = [token_of(child) for child in group.inside if child.data == "value"]
    said = [token_of(child) for child in group.inside if child.data in ("mark", "number")]
    if len(values) > 1 or len(said) + len(values) != len(group.inside):
        group.fault(f"`{name}( )` takes a note value and words", example)
        return
    before = builder.value
    if values:
        builder.set_value(values[0])
    value, builder.value = builder.value, before
    if value.held:
        mend = f"write a value in it, as in `{FIGURES[name].example}`"
        group.fault(f"`{name}( )` cannot be of long notes", mend)
        return
    if builder.scale != 1:
        group.fault(f"`{name}( )` cannot stand in a tuplet", "put it after the tuplet")
        return
    places = [token for token in said for _ in token.split()]
    parts = phrases([word for token in said for word in token.split()])
    try:
        wanted = call(name, [phrase for phrase, _ in parts])
        if wanted.is_whole_range and builder.in_bar and not builder.meter.is_free:
            what = f"`{name}( )` over the whole range has bars of its own, and begins within a bar"
            group.fault(what, "put it after a bar line")
            return
        builder.add_figure(wanted, value, tuple(phrase for phrase, _ in parts), group.opener)
    except UnknownWord as error:
        where = next((place for phrase, place in parts if phrase == error.word), 0)
        known = (*error.known, *COMMON)
        begun = [phrase for phrase in known if phrase.startswith(f"{error.word} ")]
        mend = f"did you mean {shown(begun[0])}?" if begun else builder.guess(error.word, known, example)
        builder.fault(places[where], f"`{name}( )`: {error}", mend)
    except ValueError as error:
        group.fault(f"`{name}( )`: {error}", example)
