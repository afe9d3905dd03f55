"""The author's own pages on paper, and the parts of a book in her order."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Unpack
from urllib.parse import unquote, urlsplit

from ..book.contents import Contents, with_only
from ..book.own_pages import Block, Heading, OwnPage, Paragraph, Picture, TableRow
from ..book.plain_files import read_plain_file
from ..language.faults import shown
from ..paper import text as words
from ..paper.flow import Cell, Row, RowOptions
from ..paper.pictures import MOST_BYTES, UnusablePicture, picture_piece
from ..paper.tags import ARTIFACT, Element, Tag, heading, list_item
from ..paper.text import text
from ..translation.said import term
from .exercise_rows import RowBuilder
from .front_matter import Chapter, Division, contents, page_heading, take_care, word_to_the_player

_WIDEST = 140.0
"""Millimetres of a line of words."""

_STEP = 6.0
"""Millimetres that a list is set in."""


@dataclass(frozen=True, slots=True)
class AuthorsOrder:
    """A book's order, with the folder of its own pages."""

    contents: Contents = ()
    pages: Path = Path()

    @property
    def own_pages(self) -> tuple[OwnPage, ...]:
        """The pages in it."""
        return tuple(each for each in self.contents if isinstance(each, OwnPage))

    def decided_by(self) -> Iterator[str]:
        """All that decides how it is printed: the order, the words, and the files of pictures."""
        yield repr(self.contents)
        for page in self.own_pages:
            for picture in page.pictures:
                try:
                    yield hashlib.sha256(_data_of(self.pages, page, picture)).hexdigest()
                except UnusablePicture as reason:
                    yield str(reason)

    def problems(self, width: float) -> Iterator[str]:
        """A sentence for each picture that is not printed."""
        for page in self.own_pages:
            for picture in page.pictures:
                try:
                    picture_piece(picture.address, _data_of(self.pages, page, picture), width)
                except UnusablePicture as reason:
                    yield f"{page.file}: the picture {shown(picture.address, 80)} is not printed: {reason}"


def page_mark(page: OwnPage) -> str:
    """The name of the place where a page begins."""
    return f"#page/{page.file}"


def page_rows(
    row_builder: RowBuilder, order: AuthorsOrder, page: OwnPage, **first: Unpack[RowOptions]
) -> Iterator[Row]:
    """A page: its title, and what stands below it. `first` says how its first row stands on the paper."""
    width = min(row_builder.width, _WIDEST)
    yield page_heading(row_builder, page.title, {"mark": page_mark(page), **first})
    space = 6.0
    for is_table, together in groupby(page.blocks, key=lambda block: isinstance(block, TableRow)):
        if is_table:
            yield from _table([block for block in together if isinstance(block, TableRow)], width)
            space = 3.0
            continue
        for block in together:
            if isinstance(block, Picture):
                yield from _picture(order, page, block, width, space)
            else:
                yield _row(block, width, space)
            space = 3.0


def _row(block: Block, width: float, space: float) -> Row:
    if isinstance(block, Heading):
        style = words.TITLE if block.level <= 2 else words.KEY
        cell = Cell(text(style, block.words, width), tag=(heading(block.level + 2),))
        return Row((cell,), space=space + 4.0, keep=True)
    assert isinstance(block, Paragraph)
    return _paragraph(block, width, space)


_DEEPEST = 6
"""Lists within lists that the structure has; what is deeper belongs to the last of them."""


def _paragraph(block: Paragraph, width: float, space: float) -> Row:
    indent = _STEP * block.depth
    inside: Tag = ()
    for number, item in block.items[:_DEEPEST]:
        inside = (*inside, Element("L", f"list {number}"), *list_item(item, "LBody"))
    first = inside if block.sign else (*inside, Element("P"))
    cells = [Cell(text(words.BODY, block.words, width - indent), indent=indent, tag=first[1:])]
    if block.sign:
        label = (*inside[1:-1], Element("Lbl", "Lbl"))
        cells.insert(0, Cell(text(words.BODY, block.sign, _STEP), indent=indent - _STEP, tag=label))
    above = 0.0 if block.close else min(space, 1.5) if block.sign else space
    return Row(tuple(cells), space=above, tag=first[:1])


def _table(rows: Sequence[TableRow], width: float) -> Iterator[Row]:
    """Rows that follow each other; each that has headings begins a table. Without headings they are words."""
    columns = max(len(row.cells) for row in rows)
    table = 0
    for place, row in enumerate(rows):
        table += row.heading
        column = width / len(row.cells)
        style = words.HEADING if row.heading else words.BODY
        role = Element("TH", scope="Column") if row.heading else Element("TD")
        # All rows of a table have as many cells.
        said = (*row.cells, *("",) * (columns - len(row.cells))) if table else row.cells
        cells = (
            Cell(text(style, each, column - 3), indent=column * number, tag=(role,) if table else ())
            for number, each in enumerate(said)
        )
        tag = (Element("Table", f"table {table}"), Element("TR", f"{place}")) if table else ()
        yield Row(tuple(cells), space=3.0 if row.heading else 1.0, keep=row.heading, tag=tag)


def _picture(
    order: AuthorsOrder, page: OwnPage, picture: Picture, width: float, space: float
) -> Iterator[Row]:
    """A picture, or where it cannot be printed, what it shows in words."""
    try:
        piece = picture_piece(picture.address, _data_of(order.pages, page, picture), width)
    except UnusablePicture:
        if picture.words:
            yield Row((Cell(text(words.ASIDE, f"[{picture.words}]", width)),), space=space)
        return
    tag = (Element("Figure", said=picture.words),) if picture.words else ARTIFACT
    yield Row((Cell(piece, tag=tag),), space=space)


def _data_of(pages: Path, page: OwnPage, picture: Picture) -> bytes:
    """A picture's file. Raises UnusablePicture where it is not one of the folder of pages."""
    try:
        parts = urlsplit(picture.address)
    except ValueError:
        raise UnusablePicture("this is no address") from None
    if parts.scheme or parts.netloc or not parts.path or parts.path.startswith("/"):
        raise UnusablePicture("it does not lie among the book's own pages")
    place = os.path.normpath(Path(page.file).parent / unquote(parts.path))
    if place.startswith(".."):
        raise UnusablePicture("it does not lie among the book's own pages")
    try:
        return read_plain_file(pages / place, MOST_BYTES + 1)
    except OSError as error:
        raise UnusablePicture(error.strerror or "its file cannot be read") from None


@dataclass(frozen=True, slots=True)
class BookPlan:
    """What stands between the rights and the index of a printed book: pages, cautions, contents and parts."""

    order: AuthorsOrder
    front: tuple[OwnPage, ...]
    divisions: tuple[Division, ...]

    @property
    def before(self) -> list[tuple[str, str]]:
        """The titles and marks of what stands before the contents."""
        if not self.front:
            return [(term("A word to the player"), "#word")]
        return [*((page.title, page_mark(page)) for page in self.front), (term("Take care"), "#care")]

    def front_rows(self, row_builder: RowBuilder) -> Iterator[Row]:
        """The author's first pages, or words on practising; then the cautions, and the contents."""
        for page in self.front:
            yield from page_rows(row_builder, self.order, page, opens_right=True)
        yield from take_care(row_builder) if self.front else word_to_the_player(row_builder)
        yield from contents(row_builder, self.divisions, self.before)

    def page_rows(self, row_builder: RowBuilder, division: Division) -> Iterator[Row]:
        """A later page of hers."""
        page = next(each for each in self.order.own_pages if page_mark(each) == division.page)
        return page_rows(row_builder, self.order, page, opens=True)


def book_plan(
    order: AuthorsOrder, exercises: Sequence[Chapter], by_kind: Callable[[], tuple[Division, ...]]
) -> BookPlan:
    """A book of these exercises in the author's order; where she gives none, with the parts of `by_kind`."""
    chapters = {chapter.exercise.slug: chapter for chapter in exercises}
    found = with_only(order.contents, chapters)
    if not found:
        return BookPlan(order, (), by_kind())
    count = next((n for n, each in enumerate(found) if not isinstance(each, OwnPage)), len(found))
    divisions = tuple(
        Division(each.title, (), page_mark(each))
        if isinstance(each, OwnPage)
        else Division(each.title, tuple(chapters[slug] for slug in each.exercises))
        for each in found[count:]
    )
    return BookPlan(order, tuple(each for each in found[:count] if isinstance(each, OwnPage)), divisions)
