"""Reads the second part of a duet: the field `second`, and `music second` beside the first part's bars."""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from dataclasses import replace

from lark import Token, Tree

from ...music.event import OPTIONAL, Place
from ...music.exercise import BlockChords, Canon, Form, Pedal
from ...music.keys import Key
from ...music.pitch import Pitch
from ...music.score import Bar, Meter
from ...music.settings.second_part import joined
from ...music.sounding.tempos import tempo_change
from ...plurals import count_of
from ..faults import Fault, shown
from ..fields import FieldText, Source
from ..syntax import parse, place
from .music import counted

SECOND_OF = {
    name: name.replace("music", "music second") for name in ("music", "music falling", "music rising")
}
"""The fields of the music, each with that of its second part."""

_FIRST_OF = {second: name for name, second in SECOND_OF.items()}

_NO_BEATS = "free time has no beats that two parts could share"

STEPS = {"unison": 0, "second": 1, "third": 2, "fourth": 3, "fifth": 4, "sixth": 5, "seventh": 6, "octave": 7}
"""The intervals of a canon, in steps of the key."""


def with_second(
    source: Source, field: FieldText, form: Form, second: Form, meter: Meter
) -> tuple[Form, list[Fault]]:
    """A form with a second part that is written out in a field, and why the two do not fit together."""
    if not (form.bars and second.bars):
        return form, []
    if found := _misfits(source, field, form.bars, second.bars, meter):
        return form, found
    return replace(form, second=replace(second, bars=joined(form.bars, second.bars))), []


def read_second(
    source: Source,
    fields: Mapping[str, FieldText],
    forms: Sequence[Form],
    key: Key,
    meter: Meter,
    upbeat: bool,
) -> tuple[Canon | Pedal | BlockChords | None, list[Fault]]:
    """The rule of the field `second` (None without one), and how the fields of a second part do not fit."""
    if wrong := _field_problem(fields, meter.is_free):
        name, what, mend = wrong
        return None, [source.fault(fields[name].line, 1, what, mend)]
    field = fields.get("second")
    if field is None or field.too_long:
        return None, []
    tree = parse(source, field)
    rule = tree if isinstance(tree, Fault) else _rule(source, field, tree)
    if isinstance(rule, Fault):
        return None, [rule]
    if isinstance(rule, BlockChords) and "chords" not in fields:
        what = "block chords need their names"
        return rule, [source.fault(field.line, field.column, what, "name them in the field `chords`")]
    if problem := _rule_problem(rule, forms, key, meter, upbeat):
        return rule, [source.fault(field.line, field.column, *problem)]
    return rule, []


def _rule(source: Source, field: FieldText, tree: Tree[Token]) -> Canon | Pedal | BlockChords | Fault:
    """The rule that the tree of the field `second` says."""
    words = [child for child in tree.children if isinstance(child, Token)]
    if tree.data == "pedal":
        pitch = next(word for word in words if word.type == "PITCH")
        return Pedal(Pitch.parse(pitch), any(word.type == "TIED" for word in words))
    if tree.data == "block_chords":
        return BlockChords(
            next((str(word) for word in words if word.type == "CHORD_CLEF"), BlockChords().clef)
        )
    named = {word.type: word for word in words}
    interval, way, count = named["ORDINAL"], named.get("WAY"), named["NUMBER"]
    if interval not in STEPS:
        what = f"a canon has no interval {shown(interval)}"
        return source.fault(*place(field, interval), what, f"the intervals are {', '.join(STEPS)}")
    steps = STEPS[interval]
    if steps and way is None:
        mend = f"write `{interval} above` or `{interval} below`"
        return source.fault(*place(field, interval), f"the {interval} is above or below", mend)
    if not int(count):
        what = "the second part begins with the first"
        return source.fault(
            *place(field, count), what, "write a number of bars from 1, such as `after 1 bar`"
        )
    return Canon(-steps if way == "below" else steps, int(count))


def _rule_problem(
    rule: Canon | Pedal | BlockChords, forms: Sequence[Form], key: Key, meter: Meter, upbeat: bool
) -> tuple[str, str] | None:
    """Why no second part can be made from the music, and how to mend it; None if it can be."""
    written_out = "write the second part out in `music second`"
    if meter.is_free:
        return _NO_BEATS, "write a meter, or take `second` out"
    if isinstance(rule, Pedal | BlockChords):
        return None
    if not key.mode and rule.steps % 7:
        return "without a key there are no steps to follow in", "write a canon at the unison or the octave"
    for form in forms:
        bars = form.bars
        if any(bar.opens_repeat or bar.ending or bar.end == ":|" or bar.jump for bar in bars):
            return "a canon cannot follow through repeats", f"write the repeats out, or {written_out}"
        if any(bar.meter for bar in bars) or any(bar.length != meter.length for bar in bars[1:-1]):
            return "a canon cannot follow through bars of different lengths", written_out
        if any(OPTIONAL in event.opens for bar in bars for event in bar.events):
            return "a canon cannot follow if bars may be left out", f"take `optional` out, or {written_out}"
        count = len(bars) - upbeat
        if rule.bars >= count:
            what = (
                f"the second part would begin after {count_of(rule.bars, 'bar')}, and the music has {count}"
            )
            return what, "let it begin earlier, such as `after 1 bar`, or write more music"
    return None


def _misfits(
    source: Source, field: FieldText, first: tuple[Bar, ...], bars: tuple[Bar, ...], meter: Meter
) -> list[Fault]:
    """Where a second part that is written out does not fit the first one's bars."""
    faults = []
    for number, (above, bar) in enumerate(zip(first, bars, strict=False), start=1):
        meter = above.meter or meter
        where = (bar.events[0].place if bar.events else None) or Place(field.line, field.column)
        if bar.length != above.length:
            has, needs = counted(bar.length, meter), counted(above.length, meter)
            what = f"bar {number} of the second part has {has}, and that of the first has {needs}"
            change = counted(abs(above.length - bar.length), meter)
            mend = f"{'add' if bar.length < above.length else 'take away'} {change}"
            faults.append(source.fault(where.line, where.column, what, mend))
        elif wrong := _other_lines(above, bar):
            mend = f"write it in `{_FIRST_OF[field.name]}`, where it holds for both, and take it out here"
            what = f"bar {number} of the second part has {wrong} that the first part has not"
            faults.append(source.fault(where.line, where.column, what, mend))
    if len(bars) != len(first):
        has, needs = count_of(len(bars), "bar"), count_of(len(first), "bar")
        what = f"the second part has {has}, and the first has {needs}"
        mend = f"take away {count_of(len(bars) - len(first), 'bar')}"
        if len(bars) < len(first):
            mend = f"add {count_of(len(first) - len(bars), 'bar')}, with rests where it is silent"
        faults.append(source.fault(*field.end, what, mend))
    return faults


def _other_lines(above: Bar, bar: Bar) -> str:
    """What a bar of the second part has that belongs to both and is not in the first; empty if nothing."""
    plain = ("|", "|.")
    if bar.end not in (*plain, above.end) or (bar.opens_repeat and not above.opens_repeat):
        return "a bar line"
    if bar.ending not in (0, above.ending):
        return "an ending"
    if bar.meter not in (None, above.meter):
        return "a meter"
    if bar.sign not in ("", above.sign) or bar.jump not in ("", above.jump):
        return "a way back or out"
    changes = any(tempo_change(event) for event in bar.events)
    return "a tempo" if changes or bar.tempo not in (None, above.tempo) else ""


def _field_problem(names: Container[str], is_free: bool) -> tuple[str, str, str] | None:
    """The first field that does not fit the others, what is wrong, and how to mend it."""
    written = [second for second in _FIRST_OF if second in names]
    for second in written:
        first = _FIRST_OF[second]
        if first not in names:
            return second, f"{second!r} is there without {first!r}", f"add `{first}`, or rename this field so"
        if "second" in names:
            return "second", f"'second' is there beside {second!r}", "keep one of the two"
        if is_free:
            return second, _NO_BEATS, f"write a meter, or take `{second}` out"
    for first, second in SECOND_OF.items():
        if written and first in names and second not in names:
            return first, f"{first!r} has no second part", f"add the field `{second}`"
    return None
