"""What flows over the pages: rows of engraved music and engraved words."""

from __future__ import annotations

from dataclasses import dataclass, replace

from builder.engrave.batch import Engraved

from .pages import Box
from .words import Text

PLAIN = Box(0)


@dataclass(frozen=True, slots=True)
class Cell:
    """A thing in a row: words, or one system of a piece. `at` is 0 for the left edge, 1 for the right."""

    what: Text | tuple[Engraved, int]
    at: float = 0.0


@dataclass(frozen=True, slots=True)
class Row:
    """Cells side by side, and how they stand on a page. `mark` names a place that links may lead to."""

    cells: tuple[Cell, ...]
    box: Box = PLAIN
    mark: str = ""
    link: str = ""

    def boxed(self, **changes: object) -> Row:
        """The row with its box changed."""
        return replace(self, box=replace(self.box, **changes))  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of the outline: its depth from 0, its words and the place it leads to."""

    depth: int
    words: str
    mark: str
