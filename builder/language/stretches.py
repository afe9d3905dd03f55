"""Stretches of a field's text, each with its place in the file: the items of lists, and paragraphs."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from .fields import FieldText

COMMA = re.compile(",")
COMMA_OR_AND = re.compile(r",|\band\b")


@dataclass(frozen=True, slots=True)
class Words:
    """A stretch of a field's text."""

    field: FieldText
    start: int
    end: int

    @property
    def said(self) -> str:
        """The words with white space folded."""
        return " ".join(self.field.text[self.start : self.end].split())

    @property
    def place(self) -> tuple[int, int]:
        """Line and column of the first word, or of the end where there is none."""
        text = self.field.text
        stretch = text[self.start : self.end]
        start = self.start + (len(stretch) - len(stretch.lstrip()) if stretch.strip() else 0)
        return self.field.line + text.count("\n", 0, start), start - text.rfind("\n", 0, start)

    def part(self, start: int, end: int) -> Words:
        """A stretch of it, counted from its own start."""
        return Words(self.field, self.start + start, self.start + end)

    def listed(self, separator: re.Pattern[str]) -> list[Words]:
        """The words between separators, without those that are empty."""
        text = self.field.text[self.start : self.end]
        spans = [match.span() for match in separator.finditer(text)]
        starts, ends = [0, *(end for _, end in spans)], [*(start for start, _ in spans), len(text)]
        parts = (self.part(start, end) for start, end in zip(starts, ends, strict=True))
        return [part for part in parts if part.said]


def whole(field: FieldText) -> Words:
    """All of a field's text; nothing of one that is too long."""
    return Words(field, 0, 0 if field.too_long else len(field.text))


def items_of(field: FieldText) -> Iterator[Words]:
    """Each item of a list; a dash may begin it.

    A line without a dash goes on from one with a dash, and from one that ends with `,`, `:` or `;`.
    """
    item: Words | None = None
    goes_on = dashed = False
    place = 0
    for row in [] if field.too_long else field.text.split("\n"):
        end = place + len(row)
        start = end - len(row.lstrip())
        if row.strip():
            begins = row.lstrip().startswith("- ")
            if item and goes_on and not begins:
                item = Words(field, item.start, end)
            else:
                if item:
                    yield item
                item, dashed = Words(field, start + 2 * begins, end), begins
            goes_on = dashed or row.rstrip()[-1] in ",:;"
        place = end + 1
    if item:
        yield item


def paragraphs(field: FieldText) -> list[str]:
    """Words with an empty line between paragraphs, white space folded."""
    parts = re.split(r"\n[ \t]*\n", field.text)
    return [said for part in parts if (said := " ".join(part.split()))]
