"""Prints from a book: engrave what is wanted, then lay it out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Unpack

from ..book.pieces import AS_WRITTEN, InstrumentBook, KeyPage, Rendition, instrument_book_of
from ..book.read import Book
from ..cache.memo import memo_json, memo_key
from ..cache.store import CacheStore
from ..engrave.engraved_book import engrave_scores, stop_where_most_failed
from ..engrave.scheduler import Pool
from ..jobs.progress import Progress
from ..music.exercise import exercise_fingerprint
from ..music.keys import KEY_SLUGS, tonic_words
from . import front_matter as front
from . import text as words
from .compose import Flow, Printed, flow_rows, page_numbers, paged, running_head
from .exercise_rows import BEFORE_EXERCISE, BEFORE_KEY, RowBuilder, in_key, opening, rights
from .extracted_piece import ExtractedPiece, ExtractedSystem
from .flow import Cell, Row, RowOptions, all_texts
from .front_matter import Chapter, Division
from .own_pages import AuthorsOrder, book_plan
from .page import DocumentInfo, Entry
from .page_format import PageFormat
from .prefetch import extract_ahead
from .text import Text, text
from .typesetter import Typesetter


@dataclass(frozen=True, slots=True)
class PrintChoice:
    """What to print for one instrument: a key page, an exercise, both (one page of it), or the whole book.

    `variations` are the labels of the parts to print, empty for all.
    """

    instrument: str
    key: str = ""
    exercise: str = ""
    variations: tuple[str, ...] = ()

    def has(self, part: Rendition) -> bool:
        """Whether a part is to be printed."""
        return not self.variations or part.label in self.variations


@dataclass(frozen=True, slots=True)
class PrintRequest:
    """A print of pieces that are engraved already.

    `book` and `description` are the book's name and description, `instrument_book` has only what `choice`
    names (`chosen`). `order` is the author's order of the book.
    """

    book: str
    description: str
    instrument_book: InstrumentBook
    choice: PrintChoice
    order: AuthorsOrder = field(default_factory=AuthorsOrder)

    @property
    def is_book(self) -> bool:
        """Whether the whole book is to be printed, with the author's own pages."""
        return not (self.choice.key or self.choice.exercise)


_ROWS_A_PAGE = 12
"""Rows on a page at least, as a rule: words and systems."""


class NothingToPrint(Exception):
    """Raised where a choice leaves nothing; the text says why."""


def chosen(found: InstrumentBook, choice: PrintChoice) -> InstrumentBook:
    """The part of an instrument's book that a choice names. Raises NothingToPrint where there is none."""
    kept = (
        (each, tuple(page for page in pages if choice.key in ("", page.key) and _wanted(page, choice)))
        for each, pages in found.exercises
        if choice.exercise in ("", each.slug)
    )
    left = tuple((each, pages) for each, pages in kept if pages)
    if not left:
        raise NothingToPrint("no exercise of the book has all that: nothing to print")
    return InstrumentBook(found.instrument, left)


def _wanted(page: KeyPage, choice: PrintChoice) -> bool:
    parts = [part for placed in page.placed for part in placed.parts]
    return any(map(choice.has, parts)) if choice.variations else True


def labels(book: Book) -> tuple[str, ...]:
    """The name of every part that the book's exercises ask for."""
    wanted = (each.label for exercise in book.exercises for each in exercise.wanted)
    return tuple(dict.fromkeys((AS_WRITTEN, *wanted)))


def print_choice(
    book: Book,
    description: str,
    choice: PrintChoice,
    form: PageFormat,
    pool: Pool | None = None,
    progress: Progress | None = None,
) -> Printed:
    """Engrave and lay out, private exercises too. Raises NothingToPrint and EngraverMissing."""
    found, typesetter = engraved(book, choice, form, pool, progress)
    return compose_prints(PrintRequest(book.name, description, found, choice, order_of(book)), typesetter)


def order_of(book: Book) -> AuthorsOrder:
    """The author's order of a book, with the folder of her pages."""
    return AuthorsOrder(book.contents, book.pages)


def engraved(
    book: Book,
    choice: PrintChoice,
    form: PageFormat,
    pool: Pool | None = None,
    progress: Progress | None = None,
) -> tuple[InstrumentBook, Typesetter]:
    """What a choice names, engraved, private exercises too. Raises NothingToPrint and EngraverMissing."""
    instrument = next(each for each in book.instruments if each.slug == choice.instrument)
    found = chosen(instrument_book_of(book.exercises, instrument), choice)
    parts = [
        part
        for _, pages in found.exercises
        for page in pages
        for placed in page.placed
        for part in placed.parts
        if part.score is not None and choice.has(part)
    ]
    music = {part.name: part.score for part in parts if part.score is not None}
    engravings = engrave_scores(music, pool, progress, form.layout)
    stop_where_most_failed(engravings)
    typesetter = Typesetter(engravings, form, CacheStore(), pool)
    extract_ahead(typesetter.extract(engravings), typesetter.kept)
    typesetter.check(parts)
    return found, typesetter


def book_pages(book: Book, description: str, found: InstrumentBook, typesetter: Typesetter) -> dict[str, int]:
    """The pages of the whole book on which exercises (`slow-tide`) and their keys (`slow-tide/d`) begin."""
    choice = PrintChoice(found.instrument.slug)
    request = PrintRequest(book.name, description, found, choice, order_of(book))

    def make() -> dict[str, int]:
        return page_numbers(_book(_row_builder(request, typesetter), request)[0], typesetter)

    parts = repr(typesetter.form), *_decided_by(request, typesetter)
    pages: dict[str, int] = memo_json(typesetter.kept, "pages", parts, make)
    return pages


def compose_prints(request: PrintRequest, typesetter: Typesetter) -> Printed:
    """A print on one paper."""
    [printed] = compose_prints_for(request, (typesetter,))
    return printed


def compose_prints_for(request: PrintRequest, typesetters: Sequence[Typesetter]) -> Iterator[Printed]:
    """A print for several papers of one width; kept, so that the same is not laid out again."""
    composed: _Composed | None = None
    keys = print_keys(request, typesetters)
    for typesetter, key in zip(typesetters, keys, strict=True):
        data = typesetter.kept.get(key)
        if data is not None:
            count, _, pdf = data.partition(b"\n")
            yield Printed(pdf, int(count), key=key)
            continue
        composed = composed or _composed(request, typesetter)
        printed = paged(composed.flow, composed.about, composed.title, composed.outline, typesetter)
        kept = not printed.problems and typesetter.kept.put(
            key, str(printed.pages).encode() + b"\n" + printed.data
        )
        yield replace(printed, key=key) if kept else printed


def print_keys(request: PrintRequest, typesetters: Sequence[Typesetter]) -> list[str]:
    """What a print is kept under, for several papers."""
    alike = memo_key("print", _decided_by(request, typesetters[0]))
    return [memo_key(alike, (repr(typesetter.form),)) for typesetter in typesetters]


def kept_print(typesetter: Typesetter, key: str) -> bytes | None:
    """The bytes of a print by the key it was kept under; None where it is there no longer."""
    data = typesetter.kept.get(key)
    return None if data is None else data.partition(b"\n")[2]


def _decided_by(request: PrintRequest, typesetter: Typesetter) -> Iterator[str]:
    """All that decides a print's bytes but its paper."""
    yield from (request.book, request.description, repr(request.choice))
    yield repr(request.instrument_book.instrument)
    if request.is_book:
        yield from request.order.decided_by()
    for exercise, pages in request.instrument_book.exercises:
        yield exercise_fingerprint(exercise)
        for page in pages:
            yield f"{page.key} {page.name}"
            for placed in page.placed:
                setting = placed.setting
                yield f"{setting.start} {setting.direction} {setting.fits} {setting.remarks}"
                for part in filter(request.choice.has, placed.parts):
                    yield f"{part.label} {part.means} {part.left_out}"
                    yield typesetter.key(part.name) if part.score is not None else ""


@dataclass(frozen=True, slots=True)
class _Composed:
    """A print before it is broken into pages."""

    title: str
    about: DocumentInfo
    outline: list[Entry]
    flow: Flow


def _row_builder(request: PrintRequest, typesetter: Typesetter) -> RowBuilder:
    form = typesetter.form
    return RowBuilder(typesetter.shape, form.width, request.choice.has, form.layout.room, typesetter.calm)


def _composed(request: PrintRequest, typesetter: Typesetter) -> _Composed:
    title, rows, outline = _rows(_row_builder(request, typesetter), request)
    if request.is_book:
        typesetter.problems |= dict.fromkeys(request.order.problems(typesetter.form.width))
    book = request.book
    about = DocumentInfo(title if title == book else f"{title}: {book}", book)
    return _Composed(title, about, outline, flow_rows(rows, typesetter))


def texts(request: PrintRequest, form: PageFormat) -> Iterator[Text]:
    """The words of a print, its running heads among them; nothing of its music is looked at."""
    system = ExtractedPiece((ExtractedSystem(0.0, 0.0, 0.0, None, ()),), {})
    row_builder = RowBuilder(lambda _: system, form.width, request.choice.has, form.layout.room)
    title, rows, _ = _rows(row_builder, request)
    yield from all_texts(rows)
    for said in dict.fromkeys((title, *(row.head for row in rows if row.head))):
        yield running_head(said, form)
    # Of the pages' numbers, as many blocks as such a print has as a rule.
    for number in range(1, 2 + len(rows) // _ROWS_A_PAGE, words.NUMBERS_A_BLOCK):
        yield words.numeral(words.NUMBER, number)[0]


def _rows(row_builder: RowBuilder, request: PrintRequest) -> tuple[str, list[Row], list[Entry]]:
    """A print's title, all that stands in it, and its outline."""
    if not request.is_book:
        return _pages(row_builder, request.instrument_book, request.choice)
    return request.book, *_book(row_builder, request)


def _pages(
    row_builder: RowBuilder, found: InstrumentBook, choice: PrintChoice
) -> tuple[str, list[Row], list[Entry]]:
    """One key, one exercise, or an exercise in one key: music below a title."""
    exercises = [exercise for exercise, _ in found.exercises]
    pages = [page for _, group in found.exercises for page in group]
    told: set[str] = set()
    outline = []
    rows: list[Row] = []
    if choice.exercise:
        exercise = exercises[0]
        title = exercise.title if not choice.key else f"{exercise.title}, {pages[0].name}"
        heading = text(words.PAGE_TITLE, title, row_builder.width * 0.75)
        rows += opening(row_builder, exercise, heading, mark="#title", head=title)
        for page in pages:
            if not choice.key:
                rows.append(_key_heading(row_builder, page))
                outline.append(Entry(0, _capital(page.name), page.key))
            rows += in_key(row_builder, page, told)
    else:
        title = f"Every exercise in {key_name(pages)}"
        rows.append(row_builder.line(words.PAGE_TITLE, title, mark="#title", head=title, keep=True))
        for page in pages:
            called = f"{page.exercise.title}, {page.name}"
            heading = text(words.TITLE, called, row_builder.width * 0.75)
            mark = page.exercise.slug
            rows += opening(
                row_builder, page.exercise, heading, mark=mark, space=12, stretch=1.0, cost=BEFORE_EXERCISE
            )
            rows += in_key(row_builder, page, set())
            outline.append(Entry(0, called, mark))
    rows += rights(row_builder, exercises, name=not choice.exercise, space=8.0)
    return title, rows, outline


def _key_heading(row_builder: RowBuilder, page: KeyPage, **row: Unpack[RowOptions]) -> Row:
    cell = Cell(text(words.KEY, _capital(page.name), row_builder.width))
    options: RowOptions = {
        "space": 9.0,
        "stretch": 1.0,
        "cost": BEFORE_KEY,
        "keep": True,
        "mark": page.key,
        **row,
    }
    return Row((cell,), **options)


def _book(row_builder: RowBuilder, request: PrintRequest) -> tuple[list[Row], list[Entry]]:
    """The whole book: front matter, its parts in the author's order or by their kinds, an index by key."""
    found = request.instrument_book
    chapters = _chapters(found)
    plan = book_plan(request.order, chapters, lambda: _divisions(chapters))
    pages_of = {exercise.slug: pages for exercise, pages in found.exercises}
    first = next(
        (
            part.name
            for _, pages in found.exercises
            for page in pages
            for placed in page.placed
            for part in placed.parts
            if part.score is not None
            and isinstance(row_builder.strips(part.name), ExtractedPiece)
            and row_builder.chosen(part)
        ),
        "",
    )
    rows = [
        *front.title_page(
            row_builder,
            request.book,
            request.description,
            f"for {found.instrument.name.lower()}",
            first,
        ),
        *front.imprint(row_builder, [exercise for exercise, _ in found.exercises]),
        *plan.front_rows(row_builder),
    ]
    outline = [Entry(0, title, mark) for title, mark in [*plan.before, ("Contents", "#contents")]]
    for division in plan.divisions:
        if division.page:
            rows += plan.page_rows(row_builder, division)
            outline.append(Entry(0, division.title, division.page))
            continue
        depth = 0
        if division.title:
            outline.append(Entry(0, division.title, division.chapters[0].mark))
            depth = 1
        for number, chapter in enumerate(division.chapters):
            exercise = chapter.exercise
            opens: RowOptions = {"opens_right": number == 0, "opens": number > 0}
            if division.title and number == 0:
                shown: RowOptions = {"keep": True, "head": exercise.title, **opens}
                rows.append(row_builder.line(words.ASIDE, division.title, **shown))
                opens = {"space": 2.0}
            outline.append(Entry(depth, exercise.title, chapter.mark))
            heading = text(words.PAGE_TITLE, exercise.title, row_builder.width * 0.75)
            options: RowOptions = {"mark": chapter.mark, "head": exercise.title, **opens}
            rows += opening(row_builder, exercise, heading, **options)
            told: set[str] = set()
            for page, (_, called, mark) in zip(pages_of[exercise.slug], chapter.keys, strict=True):
                rows.append(_key_heading(row_builder, page, mark=mark, head=f"{exercise.title}, {page.name}"))
                rows += in_key(row_builder, page, told)
                outline.append(Entry(depth + 1, called, mark))
    all_pages = [page for _, pages in found.exercises for page in pages]
    keys = [(key, key_name([page for page in all_pages if page.key == key])) for key in KEY_SLUGS]
    rows += front.index_by_key(row_builder, plan.divisions, keys)
    outline.append(Entry(0, "Index by key", "#index"))
    return rows, outline


def _chapters(found: InstrumentBook) -> list[Chapter]:
    """Each exercise's place in the book."""
    chapters = []
    for exercise, pages in found.exercises:
        keys = tuple((page.key, _capital(page.name), f"{exercise.slug}/{page.key}") for page in pages)
        chapters.append(Chapter(exercise, exercise.slug, keys))
    return chapters


def _divisions(chapters: Sequence[Chapter]) -> tuple[Division, ...]:
    """The parts of a book that has no order of its author's: a part for each kind of exercises."""
    kinds: dict[str, list[Chapter]] = {}
    for chapter in chapters:
        kinds.setdefault(chapter.exercise.kind, []).append(chapter)
    if len(kinds) == 1:
        return (Division("", tuple(next(iter(kinds.values())))),)
    return tuple(
        Division(f"Part {number}. {_capital(kind or 'other exercises')}", tuple(chapters))
        for number, (kind, chapters) in enumerate(kinds.items(), start=1)
    )


def _capital(said: str) -> str:
    return said[:1].upper() + said[1:]


def key_name(pages: Sequence[KeyPage]) -> str:
    """A key page's name in words: `D flat and C sharp` where exercises spell it differently."""
    names = dict.fromkeys(tonic_words(page.name) for page in pages)
    return " and ".join(names)


def site_choices(found: InstrumentBook) -> Iterator[tuple[str, str, str, PrintChoice]]:
    """The files the site offers for an instrument: name, group, words, and what is in it."""
    slug = found.instrument.slug
    if found.exercises:
        yield "book", "The whole book", "Every exercise in every key", PrintChoice(slug)
    for key in KEY_SLUGS:
        pages = found.in_key(key)
        if pages:
            said = f"Every exercise in {key_name(pages)}"
            yield f"key-{key}", "One key", said, PrintChoice(slug, key=key)
    for each, pages in found.exercises:
        if pages:
            said = f"{each.title} in every key"
            yield f"exercise-{each.slug}", "One exercise", said, PrintChoice(slug, exercise=each.slug)
