"""The form a print takes: its paper, its margins, one side of the leaf or both."""

from __future__ import annotations

from dataclasses import dataclass

from ..engrave.scheduler import STAND, Layout
from ..units import PRINTERS_POINTS_PER_MM


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet, upright, in millimetres. `double` names the sheet that two of it make side by side."""

    name: str
    width: float
    height: float
    double: str


PAPERS = {
    # ISO 216; ANSI/ASME Y14.1 for Letter (8.5 by 11 inches).
    "a4": Paper("A4", 210, 297, "A3"),
    "letter": Paper("US Letter", 215.9, 279.4, "11 by 17 inches"),
}

SMALLEST_STAFF = 6.0
"""Millimetres from the lowest line of a staff to the highest: less cannot be read at an arm's length."""

LARGEST_STAFF = 14.0


@dataclass(frozen=True, slots=True)
class PageFormat:
    """How a print is made. `staff` is the staff's height in millimetres, None for the book's own 7.03."""

    paper: Paper = PAPERS["a4"]
    staff: float | None = None
    booklet: bool = False
    single_sided: bool = False

    head = 13.0
    """Millimetres from the sheet's top to the running head's baseline."""
    top = 19.0
    """Millimetres from the sheet's top to the first line."""
    foot = 13.0
    """Millimetres left free below the last line."""

    @property
    def layout(self) -> Layout:
        """What the engraver is asked for."""
        if self.staff is None:
            return STAND
        return Layout(STAND.width, round(self.staff * PRINTERS_POINTS_PER_MM, 2))

    @property
    def width(self) -> float:
        """Millimetres from the left end of a system to the right."""
        return self.layout.width

    @property
    def left(self) -> float:
        """Millimetres from the sheet's left edge to a system's left end."""
        return (self.paper.width - self.width) / 2

    @property
    def depth(self) -> float:
        """Millimetres from the first line's top to the last line's bottom."""
        return self.paper.height - self.top - self.foot

    def is_right_hand(self, number: int) -> bool:
        """Whether a page (counted from 1) lies on the right of an open book."""
        return self.single_sided or number % 2 == 1
