"""The form a print takes: its paper, its margins, one side of the leaf or both."""

from __future__ import annotations

from dataclasses import dataclass

from ..engrave.piece import STAND, Layout, Use
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


INSIDE = 22.0
"""Millimetres of a bound page's inner margin: room for a binding or for punched holes."""

BOUND_WIDTH = 174.0
"""Millimetres of a bound page's text and music, on A4 and on US Letter."""


@dataclass(frozen=True, slots=True)
class PageFormat:
    """How a print is made. `staff` is the staff's height in millimetres, None for the book's own 7.03.

    A `bound` one has an inner margin for a binding, the exercise at the outer edge of each page's head, its
    keys beside them, and the page's number at the foot.
    """

    paper: Paper = PAPERS["a4"]
    staff: float | None = None
    booklet: bool = False
    single_sided: bool = False
    bound: bool = False

    head = 13.0
    """Millimetres from the sheet's top to the running head's baseline."""
    top = 19.0
    """Millimetres from the sheet's top to the first line."""
    folio = 8.0
    """Millimetres from a bound page's number to the sheet's lower edge."""

    @property
    def foot(self) -> float:
        """Millimetres left free below the last line."""
        return 16.0 if self.bound else 13.0

    @property
    def layout(self) -> Layout:
        """What the engraver is asked for."""
        if self.staff is None:
            return STAND
        # The site's own size is shared with its pages.
        return Layout(STAND.width, round(self.staff * PRINTERS_POINTS_PER_MM, 2), use=Use.PAPER)

    @property
    def width(self) -> float:
        """Millimetres from the left end of a line to the right."""
        return BOUND_WIDTH if self.bound else self.layout.width

    def left_of(self, number: int) -> float:
        """Millimetres from the left edge of a page (counted from 1) to the left end of its lines."""
        if not self.bound:
            return (self.paper.width - self.width) / 2
        return INSIDE if self.is_right_hand(number) else self.paper.width - INSIDE - self.width

    @property
    def depth(self) -> float:
        """Millimetres from the first line's top to the last line's bottom."""
        return self.paper.height - self.top - self.foot

    def is_right_hand(self, number: int) -> bool:
        """Whether a page (counted from 1) lies on the right of an open book."""
        return self.single_sided or number % 2 == 1
