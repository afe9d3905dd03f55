"""Which pages lie on which side of a sheet."""

from __future__ import annotations

from collections.abc import Sequence

from .page import Page, SheetSide
from .page_format import PageFormat

MOST_SHEETS = 8
"""Sheets that are folded together: more make a fold too thick to sew; common practice, no source."""


def sheet_sides(leaves: Sequence[Page], form: PageFormat) -> list[SheetSide]:
    """A side for each page, or for a booklet two pages a side in the order for folding.

    A booklet's sheets are twice the paper's width. Printed on both sides and turned over the short edge, each
    gathering of them is folded in the middle, and the gatherings are laid one on the other. Blank pages fill
    the last sheets.
    """
    width, height = form.paper.width, form.paper.height
    if not form.booklet:
        return [SheetSide(width, height, ((leaf, 0.0),)) for leaf in leaves]
    sides = []
    for left, right in folded(len(leaves)):
        placed = sorted(((left, 0.0), (right, width)))
        found = tuple((_page(leaves, number), edge) for number, edge in placed)
        sides.append(SheetSide(2 * width, height, found, tuple(number for number, _ in placed)))
    return sides


def _page(leaves: Sequence[Page], number: int) -> Page:
    return leaves[number - 1] if number <= len(leaves) else Page()


def gatherings(count: int) -> list[int]:
    """How many sheets each gathering of so many pages has: as alike as can be, MOST_SHEETS at most."""
    sheets = -(-count // 4)
    parts = -(-sheets // MOST_SHEETS)
    return [sheets // parts + (number < sheets % parts) for number in range(parts)]


def folded(count: int) -> list[tuple[int, int]]:
    """The page numbers on the left and right of each side.

    In each gathering the outermost sheet comes first, and of each sheet its outer side.
    """
    found: list[tuple[int, int]] = []
    before = 0
    for sheets in gatherings(count):
        for sheet in range(sheets):
            low, high = before + 2 * sheet + 1, before + 4 * sheets - 2 * sheet
            found += [(high, low), (low + 1, high - 1)]
        before += 4 * sheets
    return found
