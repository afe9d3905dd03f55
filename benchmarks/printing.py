"""How printing grows with the book, and what shared fonts save, on the book in a folder.

    python benchmarks/printing.py [FOLDER]

The book's pieces are engraved, or read from the cache, before any time is taken. Then its lines are broken
into pages and its pages written as PDF, once, twice, four and eight times over. Each number is the time for a
page as a share of that for a page of the single book in the same run: about 1 where the work is linear.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from stavewright.book.read import open_book
from stavewright.cache.store import CacheStore
from stavewright.engrave.engraved_book import engrave_book
from stavewright.engrave.scheduler import Engraved
from stavewright.paper.extracted_piece import ExtractedPiece
from stavewright.paper.page import DocumentInfo, Page, PlacedSystem, SheetSide
from stavewright.paper.page_breaks import BreakableBlock, paginate
from stavewright.paper.page_format import PageFormat
from stavewright.paper.pdf_writer import write_pdf
from stavewright.paper.typesetter import Typesetter

T = TypeVar("T")
TIMES = (1, 2, 4, 8)


def timed(work: Callable[[], T]) -> tuple[float, T]:
    """The middle of three times, in seconds, and what came of it."""
    times = []
    for _ in range(3):
        started = time.perf_counter()
        found = work()
        times.append(time.perf_counter() - started)
    return statistics.median(times), found


def main(folder: Path) -> None:
    """Print the rows."""
    engraved_book = engrave_book(open_book(folder))
    form = PageFormat()
    typesetter = Typesetter(engraved_book.engravings, form, CacheStore())
    named = {
        name: strip
        for name in engraved_book.engravings
        if isinstance(strip := typesetter.shape(name), ExtractedPiece)
    }
    strips = list(named.values())
    apart = sum(len(ink.pdf) for ink in engraved_book.engravings.values() if isinstance(ink, Engraved))
    first = BreakableBlock(0, space=4, stretch=1, turn=15, system=True)
    later = BreakableBlock(0, space=4, stretch=1, cost=60, turn=300, system=True)
    boxes = [
        replace(later if number else first, height=line.height)
        for strip in strips
        for number, line in enumerate(strip.lines)
    ]
    lines = [(name, number) for name, strip in named.items() for number in range(len(strip.lines))]
    print(f"{len(strips)} pieces, {len(boxes)} systems")
    print(f"{'pieces':>8} {'pages':>7} {'breaking':>9} {'writing':>8} {'bytes':>7}")
    base: tuple[float, float, float] | None = None
    single = 0
    for times in TIMES:
        breaking, pages = timed(lambda times=times: paginate(boxes * times, form.depth))  # type: ignore[misc]
        sides = []
        for page in pages:
            placed = zip(range(page.first, page.end), page.tops, strict=True)
            stamps = tuple(
                PlacedSystem(*lines[number % len(lines)], form.left_of(1), form.top + top)
                for number, top in placed
            )
            sides.append(SheetSide(form.paper.width, form.paper.height, ((Page(stamps), 0.0),)))
        writing, data = timed(
            lambda sides=sides: write_pdf(sides, DocumentInfo("Pages", "A book"), (), typesetter.engrave)
        )  # type: ignore[misc]
        row = (breaking / len(pages), writing / len(pages), len(data) / len(pages))
        base = base or row
        single = single or len(data)
        shares = [now / before for now, before in zip(row, base, strict=True)]
        told = "".join(f" {share:>{width}.2f}" for share, width in zip(shares, (9, 8, 7), strict=True))
        print(f"{len(strips) * times:>8} {len(pages):>7}{told}")
    print(f"with shared fonts the book is {single / apart:.2f} of the size of its pieces' own files")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path())
