"""Which pages lie on which side of a sheet."""

from __future__ import annotations

from collections.abc import Sequence

from .page import Page, SheetSide
from .page_format import PageFormat


def sheet_sides(leaves: Sequence[Page], form: PageFormat) -> list[SheetSide]:
    """A side for each page, or for a booklet two pages a side in the order for folding.

    A booklet's sheets are twice the paper's width; printed on both sides, turned over the short edge, laid
    one on the other and folded in the middle, the pages follow each other. Blank pages fill the last sheet.
    """
    width, height = form.paper.width, form.paper.height
    if not form.booklet:
        return [SheetSide(width, height, ((leaf, 0.0),)) for leaf in leaves]
    return [
        SheetSide(2 * width, height, ((_page(leaves, left), 0.0), (_page(leaves, right), width)))
        for left, right in folded(len(leaves))
    ]


def _page(leaves: Sequence[Page], number: int) -> Page:
    return leaves[number - 1] if number <= len(leaves) else Page()


def folded(count: int) -> list[tuple[int, int]]:
    """The page numbers on the left and right of each side, outermost sheet first, its outer side first."""
    whole = -(-count // 4) * 4
    found = []
    for sheet in range(whole // 4):
        low, high = 2 * sheet + 1, whole - 2 * sheet
        found += [(high, low), (low + 1, high - 1)]
    return found
