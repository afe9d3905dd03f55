"""Daily sets on paper: a sheet for the stand, with boxes to tick and the pages of the printed book."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date

from ..book.read import Book
from ..daily.cautions import cautions
from ..daily.choices import Choice as Item
from ..daily.plan import Plan
from ..daily.planner import remarks
from ..daily.sets import PAUSE, Day, clock_time, days, how
from ..engrave.markup import checkbox_lines
from ..engrave.scheduler import Pool
from ..jobs.progress import Progress
from ..music.instruments import Instrument
from ..paper import text as words
from ..paper.compose import Printed, bind_pages
from ..paper.flow import Cell, Row
from ..paper.page import DocumentInfo, Entry
from ..paper.page_format import PageFormat
from ..paper.tags import Element, heading, list_item
from ..paper.text import Style, Text, text
from ..plurals import count_of
from .choice import PrintChoice
from .documents import book_pages, engraved
from .exercise_rows import RowBuilder

_TITLE_WIDTH = 68.0
_HOW = 71.0
_TIME = 20.0
"""Millimetres: the width of an exercise's name, where the manner begins, and the column of pages."""

_ITEM = Style(10.5, 4.8)


def daily_sheets(
    book: Book,
    description: str,
    instrument: Instrument,
    plan: Plan,
    start: date | None,
    form: PageFormat,
    pool: Pool | None = None,
    progress: Progress | None = None,
) -> Printed:
    """A plan as sheets, with the pages of the book printed whole in the same form. Raises EngraverMissing."""
    found, of_book = engraved(book, PrintChoice(instrument.slug), form, pool, progress)
    pages = book_pages(book, description, found, of_book)
    # The book is bound, the sheet is not.
    typesetter = of_book.on(form)
    wish = plan.problem.wish
    title = f"Daily sets: {count_of(wish.minutes, 'minute')} for {count_of(wish.days, 'day')}"
    row_builder = RowBuilder(typesetter.shape, form.width, lambda part: True)
    every = days(plan, start)
    rows = [
        row_builder.line(words.PAGE_TITLE, title, mark="title", head=title, keep=True),
        row_builder.line(words.ASIDE, f"{instrument.name}. {book.name}.", space=1.5, keep=True),
        row_builder.line(
            words.SMALL,
            f"The registers come in the order {', '.join(plan.problem.registers)}; in each the easier "
            "exercise comes first, as written before it is varied, and the tongue comes after the tone. An "
            "item is listed under the register where most of its time lies. Times are at the slowest tempo; "
            "the day's total also has a short rest after each item. Page numbers are those of "
            "the whole book, printed on this paper.",
            space=1.5,
        ),
    ]
    for day in every:
        rows += _day(row_builder, day, pages)
    rows += _notes(row_builder, plan)
    outline = [Entry(0, day.name, f"day-{day.number}") for day in every]
    return bind_pages(rows, DocumentInfo(f"{title}: {book.name}", book.name), title, outline, typesetter)


def _day(row_builder: RowBuilder, day: Day, pages: Mapping[str, int]) -> Iterator[Row]:
    name = Cell(text(words.KEY, day.name, row_builder.width * 0.7))
    length = Cell(text(words.NUMBER, f"{clock_time(day.seconds)} min", row_builder.width * 0.25), 1.0)
    yield Row(
        (name, length), space=7.0, stretch=1.0, cost=-20.0, keep=True, mark=f"day-{day.number}", head=day.name
    )
    for group in day.sets:
        yield row_builder.line(words.LABEL, f"{group.register} register", space=1.6, cost=10.0, keep=True)
        for place, item in enumerate(group.items):
            if place in group.pauses:
                yield row_builder.line(words.ASIDE, PAUSE, space=1.0, cost=30.0)
            yield _item(row_builder, item, pages, place)


def _item(row_builder: RowBuilder, item: Item, pages: Mapping[str, int], place: int) -> Row:
    page = pages.get(f"{item.exercise}/{item.key}")
    manner = row_builder.width - _HOW - _TIME - 12
    cells = [
        Cell(boxed(_ITEM, f"{item.title}, {item.key_name}", _TITLE_WIDTH)),
        Cell(text(_ITEM, how(item), manner), indent=_HOW),
        Cell(text(_ITEM, clock_time(item.seconds), _TIME), 1.0, indent=-_TIME),
    ]
    if page:
        cells.append(Cell(text(_ITEM, f"page {page}", _TIME), 1.0))
    tag = (Element("L", "items"), *list_item(place, "LBody"))
    return Row(tuple(cells), space=0.4, stretch=0.4, cost=40.0, tag=tag)


def _notes(row_builder: RowBuilder, plan: Plan) -> Iterator[Row]:
    """How good the plan is, and cautions."""
    width = min(row_builder.width, 150)
    about = Cell(text(words.HEADING, "About these sets", width), tag=(heading(4),))
    yield Row((about,), space=9, keep=True, head=None)
    for said in (*remarks(plan), *cautions(plan)):
        yield Row((Cell(text(words.SMALL, said, width)),), space=1.4)


def boxed(style: Style, said: str, width: float) -> Text:
    """Words of any origin behind a box to tick, broken into lines of at most `width` millimetres."""
    plain = text(style, said, width - 5)
    lines = words.broken(plain.words, style, width - 5)
    return Text(style, plain.words, checkbox_lines(lines))
