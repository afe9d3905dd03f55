"""A student's hand-out as a text file: fields as in an exercise, read and checked against the book."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from ..music.keys import KEY_SLUGS, key_class
from .faults import Fault, did_you_mean, few, shown
from .fields import FieldText, Source, decode, split
from .words import Field

HANDOUT_FIELDS: dict[str, Field] = {
    each.name: each
    for each in (
        Field("title", "text", "The name on the page.", "Week of the flats", required=True, limit=120),
        Field("for", "text", "The student's name; without it, the page has a line for the name.", "Robin"),
        Field(
            "words",
            "text",
            "The teacher's words; an empty line begins a new paragraph.",
            "Softly, and no longer than it is easy.",
            limit=2000,
        ),
        Field("keys", "text", "This week's keys.", "e-flat, a flat", required=True),
        Field("exercises", "text", "Exercises by their addresses (default: all).", "slow-tide"),
        Field(
            "variations",
            "text",
            "Which variations (default: as written).",
            "as written, slurred",
        ),
        Field(
            "registers",
            "text",
            "Which registers (default: the most comfortable one).",
            "middle, low",
        ),
        Field("instrument", "text", "The instrument (default: the book's first).", "flute"),
    )
}
_ITEM = re.compile(r"[^,\s][^,]*")


@dataclass(frozen=True, slots=True)
class Handout:
    """What a hand-out asks for. `keys` are key pages. A field that is left out is empty."""

    title: str
    student: str
    words: tuple[str, ...]
    keys: tuple[str, ...]
    exercises: tuple[str, ...]
    variations: tuple[str, ...]
    registers: tuple[str, ...]
    instrument: str


@dataclass(frozen=True, slots=True)
class Known:
    """The names in a book that a hand-out may use; `registers` are by instrument."""

    exercises: Sequence[str]
    variations: Sequence[str]
    registers: Mapping[str, Sequence[str]] = field(default_factory=dict)


def read_handout(file: str, data: bytes, known: Known) -> tuple[Handout | None, tuple[Fault, ...]]:
    """Read a hand-out; it is None if there are faults. `file` is its name as messages show it."""
    if not data.strip():
        source = Source(file, ())
        return None, (source.fault(1, 1, "the file is empty", "begin with `title: Week of the flats`"),)
    source, faults = decode(file, data)
    if faults:
        return None, few(faults)
    fields, faults = split(source, HANDOUT_FIELDS)
    for name, each in HANDOUT_FIELDS.items():
        if each.required and not (name in fields and fields[name].value):
            place = (fields[name].line, fields[name].column) if name in fields else (1, 1)
            mend = f"write a line such as `{name}: {each.example}`"
            faults.append(source.fault(*place, f"the field {name!r} is missing", mend))
    instruments = list(known.registers)
    instrument = next(iter(_named(source, fields, faults, "instrument", instruments)), instruments[0])
    handout = Handout(
        title=_value(fields, "title"),
        student=_value(fields, "for"),
        words=_paragraphs(fields.get("words")),
        keys=_keys(source, fields, faults),
        exercises=_named(source, fields, faults, "exercises", known.exercises),
        variations=_named(source, fields, faults, "variations", known.variations),
        registers=_named(source, fields, faults, "registers", known.registers[instrument]),
        instrument=instrument,
    )
    return (None if faults else handout), few(faults)


def _value(fields: Mapping[str, FieldText], name: str) -> str:
    return fields[name].value if name in fields else ""


def _paragraphs(words: FieldText | None) -> tuple[str, ...]:
    parts = re.split(r"\n[ \t]*\n", words.text) if words else []
    return tuple(said for part in parts if (said := " ".join(part.split())))


def _items(words: FieldText | None) -> Iterator[tuple[int, int, str]]:
    """Line, column and words of each item of a list with commas."""
    for number, row in (
        enumerate(words.text.split("\n"), start=words.line) if words and not words.too_long else ()
    ):
        for match in _ITEM.finditer(row):
            yield number, match.start() + 1, " ".join(match[0].split())


def _keys(source: Source, fields: Mapping[str, FieldText], faults: list[Fault]) -> tuple[str, ...]:
    found: dict[str, None] = {}
    for line, column, said in _items(fields.get("keys")):
        key = key_class(said)
        if key is None:
            mend = did_you_mean(said, KEY_SLUGS, f"the keys are {', '.join(KEY_SLUGS)}", any_case=True)
            faults.append(source.fault(line, column, f"unknown key {shown(said)}", mend))
        else:
            found[KEY_SLUGS[key]] = None
    return tuple(found)


def _named(
    source: Source,
    fields: Mapping[str, FieldText],
    faults: list[Fault],
    name: str,
    known: Sequence[str],
) -> tuple[str, ...]:
    """The items of a field; each must be a known name, else a fault is noted."""
    found: dict[str, None] = {}
    for line, column, said in _items(fields.get(name)):
        if said in known:
            found[said] = None
        else:
            kind = name.removesuffix("s")
            mend = did_you_mean(said, known, f"there are: {', '.join(known)}", any_case=True)
            faults.append(source.fault(line, column, f"unknown {kind} {shown(said)}", mend))
    return tuple(found)
