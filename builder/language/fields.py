"""Splits a file's bytes into its fields, each with the lines it stands on."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, replace

from .faults import MOST_FAULTS, Fault, did_you_mean, shown
from .field_words import FIELDS, Field
from .namings import ENGLISH, NAMINGS, Naming
from .trade_words import FIELD_HINTS, plain_field

MAX_BYTES = 256 * 1024
"""Bytes: a larger file is no exercise and is not read."""

FIELD_NAME = re.compile(r"([^\s:#-][^:]{0,40}?)[ \t]*:")
"""The name of a field at the beginning of a line, and its colon."""

_REMARK = re.compile(r'"[^"\n]*"|(?<=[ \t])#(?=[ \t]|$)')
_WORDS = frozenset({"text", "list"})
_BIDI = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u200e\u200f\u061c")


@dataclass(frozen=True, slots=True)
class FieldText:
    """A field as it stands in the file: its value's text keeps every column, the name blanked out.

    `line` is the number of its first line, counted from 1. One that is `too_long` is not read further.
    """

    name: str
    line: int
    column: int
    text: str
    too_long: bool = False

    @property
    def value(self) -> str:
        """The text with white space folded, for fields that are plain words."""
        return " ".join(self.text.split())

    @property
    def end(self) -> tuple[int, int]:
        """The line and column after its last word."""
        rows = self.text.split("\n")
        said = [number for number, row in enumerate(rows) if row.strip()]
        return (self.line + said[-1], len(rows[said[-1]].rstrip()) + 1) if said else (self.line, self.column)

    def rows(self) -> list[tuple[int, str]]:
        """The lines that hold anything, stripped, with their numbers."""
        rows = enumerate(self.text.split("\n"), start=self.line)
        return [(number, row.strip()) for number, row in rows if row.strip()]


@dataclass(frozen=True, slots=True)
class Source:
    """A file's name as shown in messages, its lines, and how it names notes."""

    file: str
    lines: tuple[str, ...]
    naming: Naming = ENGLISH

    def fault(self, line: int, column: int, what: str, mend: str) -> Fault:
        """A fault at a place in this file, with its line for the caret.

        English names of notes in `what` and `mend` become those of the file, save in quotes.
        """
        return self.fault_as_said(line, column, self.naming.retold(what), self.naming.retold(mend))

    def fault_as_said(self, line: int, column: int, what: str, mend: str) -> Fault:
        """The same, with every name as it is given."""
        text = self.lines[line - 1] if 0 < line <= len(self.lines) else ""
        return Fault(self.file, line, column, what, mend, text)


def decode(
    file: str, data: bytes, size: int | None = None, naming: Naming = ENGLISH
) -> tuple[Source, list[Fault]]:
    """The text of a file, or the fault if it cannot be read; `naming` is how it names notes."""
    empty = Source(file, (), naming)
    if len(data) > MAX_BYTES:
        holds = f"{(size or len(data)) / 1e6:.1f} MB"
        what = f"the file has {holds}, and an exercise is at most {MAX_BYTES // 1024} KB of text"
        return empty, [empty.fault(1, 1, what, "is it a picture or a recording? keep one exercise a file")]
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8-sig")
        line = before.count("\n") + 1
        column = len(before) - before.rfind("\n")
        what = f"the file is not UTF-8 text (byte {data[error.start]:#04x})"
        return empty, [empty.fault(line, column, what, "save it from your editor with the encoding UTF-8")]
    source = Source(file, tuple(text.replace("\r\n", "\n").replace("\r", "\n").split("\n")), naming)
    if not text.strip():
        return source, [
            source.fault(1, 1, "the file is empty", "`stavewright new NAME` writes one to start from")
        ]
    return source, [
        fault for number, row in enumerate(source.lines, 1) for fault in _invisible(source, number, row)
    ]


def _invisible(source: Source, number: int, row: str) -> list[Fault]:
    """Faults at invisible characters, which could make a text look like another one."""
    for column, character in enumerate(row, start=1):
        if character != "\t" and (
            unicodedata.category(character) in ("Cc", "Cs", "Co") or character in _BIDI
        ):
            what = f"an invisible character, U+{ord(character):04X}"
            return [source.fault(number, column, what, "delete it and retype the text around it")]
    return []


def split(source: Source, known: Mapping[str, Field] = FIELDS) -> tuple[dict[str, FieldText], list[Fault]]:
    """The fields of a file by name, and the faults of its layout; `known` are the fields it may have."""
    found, faults = fields_in_order(source, known)
    fields: dict[str, FieldText] = {}
    for field in found:
        if field.name in fields:
            faults.append(second(source, field, fields[field.name]))
        else:
            fields[field.name] = field
    return fields, faults


def second(source: Source, field: FieldText, first: FieldText) -> Fault:
    """The fault of a field that stands once already."""
    what = f"the field {shown(field.name)} appears a second time"
    return source.fault(field.line, 1, what, f"keep one; the first is on line {first.line}")


def has_remarks(form: str) -> bool:
    """Whether a remark may end a line of a field of this form; in plain words # is a letter like others."""
    return form not in _WORDS


def remark_at(line: str) -> int | None:
    """Where a remark begins in a line, from 0: at a # between spaces, outside of quotes."""
    return next((match.start() for match in _REMARK.finditer(line) if match[0] == "#"), None)


def fields_in_order(source: Source, known: Mapping[str, Field]) -> tuple[list[FieldText], list[Fault]]:
    """The fields of a file as they stand, a name as often as it is there, and the faults of its layout."""
    fields: list[FieldText] = []
    faults: list[Fault] = []
    rows: list[str] = []
    name, start, column = "", 0, 1

    def close() -> None:
        if name:
            said = [row[: remark_at(row)] for row in rows] if has_remarks(known[name].form) else rows
            field = FieldText(name, start, column, "\n".join(said))
            if fault := _length(source, field, known[name]):
                faults.append(fault)
                field = replace(field, too_long=True)
            fields.append(field)

    for number, row in enumerate(source.lines, start=1):
        if not row.strip() or row.lstrip().startswith("#"):
            rows.append("")
        elif row[0] in " \t":
            if not name and not faults:
                mend = "begin a field at the margin, such as `title: Slow tide`"
                faults.append(source.fault(number, 1, "this line is not part of a field", mend))
            rows.append(row)
        else:
            close()
            name = ""
            match = FIELD_NAME.match(row)
            if not match:
                mend = (
                    "write `field: text`, or set the line in by two spaces if it goes on from the one above"
                )
                faults.append(source.fault(number, 1, f"{shown(row)} is not a field", mend))
                continue
            found = " ".join(match[1].split())
            if found not in known and plain_field(found) in known:
                found = plain_field(found)
            if found not in known:
                mend = f"the fields are {', '.join(known)}"
                if known is FIELDS and found in FIELD_HINTS:
                    mend = FIELD_HINTS[found]
                elif len(faults) < MOST_FAULTS:
                    mend = did_you_mean(found, known, mend, any_case=True)
                faults.append(source.fault(number, 1, f"unknown field {shown(found)}", mend))
                continue
            name, start, column = found, number, match.end() + 1
            rows = [" " * match.end() + row[match.end() :]]
    close()
    return fields, faults


def with_naming(source: Source, field: FieldText | None) -> tuple[Source, list[Fault]]:
    """A file whose field `notes` says how it names notes, and what is wrong with the field."""
    if field is None or field.too_long:
        return source, []
    if field.value in NAMINGS:
        return replace(source, naming=NAMINGS[field.value]), []
    names = ", ".join(NAMINGS)
    mend = did_you_mean(field.value, NAMINGS, f"write one of {names}", any_case=True)
    if any(sign.isdigit() for sign in field.value):
        mend = f"write the notes in the field `music`; `notes` says how they are named, {names}"
    what = f"'notes' cannot be {shown(field.value)}" if field.value else "'notes' says nothing"
    return source, [source.fault(field.line, field.column, what, mend)]


def _length(source: Source, field: FieldText, known: Field) -> Fault | None:
    limit = known.limit
    size = max((len(row) for _, row in field.rows()), default=0)
    if known.form != "list":
        size = len(field.value)
    if size <= limit:
        return None
    what = f"{field.name!r} is {size:,} characters long, and {limit:,} is the most"
    return source.fault(field.line, field.column, what, "shorten it")
