"""What stands at a place in an exercise's text. Lines and columns count from 0, columns in characters."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from ..language.field_words import FIELDS
from ..language.fields import FIELD_NAME, has_remarks, remark_at
from ..language.namings import NAMINGS, Naming
from ..language.trade_words import plain_field

PITCH = (
    r"(?:[A-G](?:##|bb|[#b♯♭nx])?-?|[A-H](?:isis|is|e?ses|sas|e?es|e?s)?"
    r"|(?:[Dd]o|[Rr][eé]|[Mm]i|[Ff]a|[Ss]ol|[Ll]a|[Ss]i)"
    r"(?:##|bb|dd|ss|[#b♯♭xds]|[ -]?(?:(?:double|doppio|doble)[ -])?"
    r"(?:b[eé]moll?e?|di[eè]se|diesis|sostenido)[ -]?)?)\d"
)
INTERVAL = r"[+-][PMmAd]+\d+"
"""What looks like a pitch (in any naming) and like an interval, as patterns."""

_QUOTED = re.compile(r'"[^"\n]*"?')
_WORD = re.compile(r"\|\||\|:|:\||\||,|[^\s(),|\"]+")
_BETWEEN = re.compile(r"[,+=]")


@dataclass(frozen=True, slots=True)
class LinePart:
    """A stretch of a line: its text, and its columns from `start` up to `end`."""

    text: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class FieldPlace:
    """The field that a place belongs to, by the language's own name; empty if there is none.

    `value` is the column at which its words begin on this line: 0 on a line that goes on.
    """

    name: str
    value: int

    @property
    def form(self) -> str:
        """The form of its words, as `words.Field` has it; empty where there is no field."""
        return FIELDS[self.name].form if self.name else ""


def field_at(lines: Sequence[str], line: int) -> FieldPlace:
    """The field of a line: its own, or that of the lines above it from which it goes on."""
    for number in range(min(line, len(lines) - 1), -1, -1):
        row = lines[number]
        if not row.strip() or row[0].isspace() or row.startswith("#"):
            continue
        match = FIELD_NAME.match(row)
        name = known_field(match[1]) if match else ""
        return FieldPlace(name, match.end() if match and number == line else 0)
    return FieldPlace("", 0)


def naming_of(lines: Sequence[str], usual: Naming) -> Naming:
    """How a text names its notes: by its field `notes`, or as its book usually does."""
    for row in lines:
        name, colon, said = row.partition(":")
        if colon and name.strip() == "notes" and not row[0].isspace():
            return NAMINGS.get(said.strip(), usual)
    return usual


def known_field(said: str) -> str:
    """The language's own name of a field, by that or by an equal name; empty if there is none."""
    name = " ".join(said.split())
    name = name if name in FIELDS else plain_field(name)
    return name if name in FIELDS else ""


def is_words(line: str, column: int, form: str) -> bool:
    """Whether a place lies in a remark or in quotes, which mean nothing to the language."""
    if line.lstrip().startswith("#"):
        return True
    remark = remark_at(line) if has_remarks(form) else None
    if remark is not None and column > remark:
        return True
    quoted = _QUOTED.finditer(line)
    return any(match.start() < column < match.end() + (match[0][1:][-1:] != '"') for match in quoted)


def word_at(line: str, column: int) -> LinePart:
    """The word of the music that a column touches; a group's word comes without its bracket."""
    for match in _WORD.finditer(line):
        if match.start() <= column <= match.end() and (column < match.end() or match[0] not in "|,"):
            return LinePart(match[0], match.start(), match.end())
    return LinePart("", column, column)


def item_at(line: str, column: int, value: int) -> LinePart:
    """The way of playing that a column touches in a list such as `slurred, late = vibrato late + slurred`.

    `value` is the column at which the list begins on this line. Its spaces at both ends do not belong to it.
    """
    before = [match.end() for match in _BETWEEN.finditer(line, value) if match.end() <= column]
    after = _BETWEEN.search(line, column)
    start = before[-1] if before else value
    end = after.start() if after else len(line)
    said = line[start:end]
    left = start + len(said) - len(said.lstrip())
    return LinePart(said.strip(), min(left, max(column, start)), left + len(said.strip()))
