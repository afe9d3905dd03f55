"""How many pages a book has and how full they are; how printing grows with it, and what shared fonts save.

    python benchmarks/printing.py [FOLDER]

First the book is printed in both editions on A4 and on US Letter. PDFium draws each page, and the share of it
that is blank below the last ink is told for the pages with music: the mean of all, the mean without the last
page of each exercise, and the most among these.

The book's pieces are engraved, or read from the cache, before any time is taken. Then its lines are broken
into pages and its pages written as PDF, once, twice, four and eight times over. Each number is the time for a
page as a share of that for a page of the single book in the same run: about 1 where the work is linear.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable, Container, Iterator
from contextlib import closing
from dataclasses import replace
from functools import partial
from io import BytesIO
from pathlib import Path
from typing import Any, TypeVar

import pypdfium2 as pdfium
from pypdf import PdfReader

from stavewright.book.read import open_book
from stavewright.cache.store import CacheStore
from stavewright.engrave.engraved_book import engrave_book
from stavewright.engrave.piece import Engraved
from stavewright.paper.extracted_piece import ExtractedPiece
from stavewright.paper.page import DocumentInfo, Page, PlacedSystem, SheetSide
from stavewright.paper.page_breaks import BreakableBlock, paginate
from stavewright.paper.page_format import PAPERS, PageFormat
from stavewright.paper.pdf.writer import write_pdf
from stavewright.paper.tags import Element
from stavewright.paper.typesetter import Typesetter
from stavewright.prints.choice import PrintChoice
from stavewright.prints.documents import describe_parts, form_of, print_choice
from stavewright.translation.catalog import TO_ENGLISH
from stavewright.units import POINTS_PER_MM

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


def _blank(page: pdfium.PdfPage, form: PageFormat) -> float:
    """The share of a page's depth below its last ink, its number at the foot left out."""
    scale = 2.0
    drawn = page.render(scale=scale, grayscale=True).to_pil()
    a_mm = scale * POINTS_PER_MM
    top, bottom = round(form.top * a_mm), round((form.top + form.depth) * a_mm)
    body = drawn.crop((round(12 * a_mm), top, drawn.width - round(12 * a_mm), bottom))
    ink = body.point(lambda light: 255 if light < 128 else 0).getbbox()
    return 1.0 if ink is None else 1 - ink[3] / body.height


def tell_pages(folder: Path) -> None:
    """Print how many pages each edition has, and how full they are."""
    book = open_book(folder)
    titles = {exercise.title for exercise in book.exercises}
    instrument = book.instruments[0].slug
    print(f"{'edition':>12} {'paper':>7} {'pages':>6} {'music':>6} {'blank':>6} {'inner':>6} {'most':>6}")
    for written_out in (False, True):
        for name, paper in PAPERS.items():
            choice = PrintChoice(instrument, written_out=written_out)
            form = form_of(choice, PageFormat(paper))
            data = print_choice(book, "", choice, form).data
            reader = PdfReader(BytesIO(data))
            begins = sorted(set(_begins(reader, titles)))
            ends = [*(place - 1 for place in begins[1:]), _index(reader) - 1]
            with closing(pdfium.PdfDocument(data)) as document:
                share = {place: _blank(document[place], form) for place in range(begins[0], ends[-1] + 1)}
            share = {place: blank for place, blank in share.items() if blank < 1}
            inner = [blank for place, blank in share.items() if place not in ends]
            row = (statistics.mean(share.values()), statistics.mean(inner), max(inner))
            told = "".join(f" {blank:>6.1%}" for blank in row)
            edition = "written out" if written_out else "book"
            print(f"{edition:>12} {name:>7} {len(reader.pages):>6} {len(share):>6}{told}")


def _entries(reader: PdfReader) -> Iterator[tuple[str, int]]:
    waiting: list[Any] = list(reader.outline)
    while waiting:
        entry = waiting.pop(0)
        if isinstance(entry, list):
            waiting = [*entry, *waiting]
        else:
            yield str(entry.title), reader.get_destination_page_number(entry) or 0


def _begins(reader: PdfReader, titles: Container[str]) -> Iterator[int]:
    """The pages, from 0, on which exercises begin."""
    return (page for title, page in _entries(reader) if title in titles)


def _index(reader: PdfReader) -> int:
    return next(page for title, page in _entries(reader) if title == "Index by key")


def _placed(name: str, line: int, time: int, form: PageFormat, top: float) -> PlacedSystem:
    """A line of a piece, which belongs to a figure of the piece."""
    figure = Element("Figure", f"{name}#{time}", piece=name)
    return PlacedSystem(name, line, form.left_of(1), form.top + top, tag=(figure,))


def main(folder: Path) -> None:
    """Print the rows."""
    tell_pages(folder)
    engraved_book = engrave_book(open_book(folder))
    form = PageFormat()
    typesetter = Typesetter(engraved_book.engravings, form, CacheStore())
    named = {
        name: strip
        for name in engraved_book.engravings
        if isinstance(strip := typesetter.shape(name), ExtractedPiece)
    }
    strips = list(named.values())
    parts = (
        part
        for each in engraved_book.instrument_books
        for _, pages in each.exercises
        for page in pages
        for placed in page.placed
        for part in placed.parts
    )
    described = describe_parts(parts, TO_ENGLISH)
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
        breaking, pages = timed(partial(paginate, boxes * times, form.depth))
        sides = []
        for page in pages:
            placed = zip(range(page.first, page.end), page.tops, strict=True)
            stamps = tuple(
                _placed(*lines[number % len(lines)], number // len(lines), form, top)
                for number, top in placed
            )
            sides.append(SheetSide(form.paper.width, form.paper.height, ((Page(stamps), 0.0),)))
        writing, data = timed(
            partial(write_pdf, sides, DocumentInfo("Pages", "A book"), (), typesetter.engrave, described)
        )
        row = (breaking / len(pages), writing / len(pages), len(data) / len(pages))
        base = base or row
        single = single or len(data)
        shares = [now / before for now, before in zip(row, base, strict=True)]
        told = "".join(f" {share:>{width}.2f}" for share, width in zip(shares, (9, 8, 7), strict=True))
        print(f"{len(strips) * times:>8} {len(pages):>7}{told}")
    print(f"with shared fonts the book is {single / apart:.2f} of the size of its pieces' own files")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path())
