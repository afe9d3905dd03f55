"""Prints from a book: engrave what is wanted, then lay it out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache

from ..book.durations import BookTimes
from ..book.edition import ExerciseEdition, edition_of
from ..book.pieces import InstrumentBook, Rendition, SettingPieces, instrument_book_of
from ..book.read import Book
from ..cache.memo import memo_key
from ..cache.store import CacheStore
from ..engrave.engraved_book import engrave_scores, stop_where_most_failed
from ..engrave.engravings import Engravings
from ..engrave.processes.scheduler import Pool
from ..jobs.progress import Progress
from ..music.description import describe_score
from ..music.exercise import Exercise, exercise_fingerprint
from ..music.score import Score
from ..music.sounding.timing import BREATH_SECONDS
from ..paper import text as words
from ..paper.compose import Described, Flow, Printed, flow_rows, paged, running_head
from ..paper.extracted_piece import ExtractedPiece, ExtractedSystem
from ..paper.flow import all_texts
from ..paper.page import DocumentInfo
from ..paper.page_format import PageFormat
from ..paper.prefetch import extract_ahead
from ..paper.text import Text
from ..paper.typesetter import Typesetter
from ..translation.catalog import TO_ENGLISH, Translation
from .choice import PrintChoice, chosen
from .edition_layouts import editions_of, engrave_editions, letters_for
from .exercise_rows import RowBuilder, Strips
from .own_pages import AuthorsOrder
from .whole_documents import (
    AboutBook,
    Document,
    bound_book,
    bound_exercises,
    written_out_book,
    written_out_exercises,
    written_out_keys,
)


@dataclass(frozen=True, slots=True)
class PrintRequest:
    """A print of pieces that are engraved already.

    `book` and `description` are the book's name and description, `instrument_book` has only what `choice`
    names (`chosen`). `order` is the author's order of the book; `times` are those of its pieces. `editions`
    are exercises as the book prints them, by their names, as far as they are made; prints of the same
    variations share them.
    """

    book: str
    description: str
    instrument_book: InstrumentBook
    choice: PrintChoice
    order: AuthorsOrder = field(default_factory=AuthorsOrder)
    translation: Translation = TO_ENGLISH
    times: BookTimes = field(default_factory=lambda: BookTimes(BREATH_SECONDS), compare=False)
    editions: dict[str, ExerciseEdition] = field(default_factory=dict, compare=False)

    @property
    def cautions(self) -> Callable[[SettingPieces], tuple[str, ...]]:
        """What to say of a setting's breaths."""
        return self.times.cautions

    @property
    def is_book(self) -> bool:
        """Whether the whole book is to be printed, with the author's own pages."""
        return not (self.choice.keys or self.choice.exercises)

    def without(self, known: Callable[[Exercise], bool]) -> PrintRequest:
        """The same print without some exercises; the first stays where none would be left."""
        found = self.instrument_book
        left = tuple(each for each in found.exercises if not known(each[0])) or found.exercises[:1]
        return replace(self, instrument_book=InstrumentBook(found.instrument, left))


_ROWS_A_PAGE = 12
"""Rows on a page at least, as a rule: words and systems."""


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
    return compose_prints(_request(book, description, found, choice), typesetter)


def _request(book: Book, description: str, found: InstrumentBook, choice: PrintChoice) -> PrintRequest:
    more = order_of(book), book.translation, BookTimes(book.breath_seconds)
    return PrintRequest(book.name, description, found, choice, *more)


def order_of(book: Book) -> AuthorsOrder:
    """The author's order of a book, with the folder of her pages."""
    return AuthorsOrder(book.contents, book.pages)


def form_of(choice: PrintChoice, form: PageFormat) -> PageFormat:
    """The form of a choice's pages: as a book's they are bound."""
    return replace(form, bound=choice.is_bound)


def engraved(
    book: Book,
    choice: PrintChoice,
    form: PageFormat,
    pool: Pool | None = None,
    progress: Progress | None = None,
) -> tuple[InstrumentBook, Typesetter]:
    """What a choice names, engraved, private exercises too. Raises NothingToPrint and EngraverMissing."""
    instrument = next(each for each in book.instruments if each.slug == choice.instrument)
    found = chosen(instrument_book_of(book.exercises, instrument, book.page_words), choice)
    form = form_of(choice, form)
    if choice.is_bound:
        return found, _edition_engraved(found, choice, form, pool, progress)
    music = scores_of(_written_out(found, choice))
    engravings = engrave_scores(music, pool, progress, form.layout)
    return found, typesetter_of(engravings, music, form, pool)


def typesetter_of(
    engravings: Engravings[str], music: Mapping[str, Score], form: PageFormat, pool: Pool | None
) -> Typesetter:
    """What sets engraved music on pages; the scores by the pieces' names.

    Raises EngraverAtFault where most of it failed.
    """
    stop_where_most_failed(engravings)
    typesetter = Typesetter(engravings, form, CacheStore(), pool)
    extract_ahead(typesetter.extract(engravings), typesetter.kept)
    typesetter.check(music.items())
    return typesetter


def _edition_engraved(
    found: InstrumentBook, choice: PrintChoice, form: PageFormat, pool: Pool | None, progress: Progress | None
) -> Typesetter:
    editions = editions_of(found, choice.has)
    engravings = engrave_editions(editions, form.layout.staff, pool, progress)
    music = scores_of(part for edition in editions for part in edition.renditions)
    return typesetter_of(engravings, music, form, pool)


def scores_of(parts: Iterable[Rendition]) -> dict[str, Score]:
    """The music of parts by their names."""
    return {part.name: part.score for part in parts if part.score is not None}


def compose_prints(request: PrintRequest, typesetter: Typesetter) -> Printed:
    """A print on one paper."""
    [printed] = compose_prints_for(request, (typesetter,))
    return printed


def compose_prints_for(
    request: PrintRequest, typesetters: Sequence[Typesetter], keys: Sequence[str] = ()
) -> Iterator[Printed]:
    """A print for several papers of one width; kept, so that the same is not laid out again.

    `keys` are those of `print_keys`, where they are known.
    """
    composed: _Composed | None = None
    keys = keys or print_keys(request, typesetters)
    for typesetter, key in zip(typesetters, keys, strict=True):
        data = typesetter.kept.get(key)
        if data is not None:
            count, _, pdf = data.partition(b"\n")
            yield Printed(pdf, int(count), key=key)
            continue
        composed = composed or _composed(request, typesetter)
        document = composed.document
        printed = paged(
            composed.flow, composed.about, document.title, document.outline, typesetter, composed.described
        )
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
    yield request.translation.language
    yield from (request.book, request.description, repr(request.choice), repr(request.times.limit))
    yield repr(request.instrument_book.instrument)
    if request.is_book:
        yield from request.order.decided_by()
    if request.choice.is_bound:
        yield from _edition_decided_by(request, typesetter)
        return
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


def _edition_decided_by(request: PrintRequest, typesetter: Typesetter) -> Iterator[str]:
    for edition in _editions(request):
        yield exercise_fingerprint(edition.exercise)
        yield repr(edition.remarks)
        for way in edition.ways:
            yield f"{way.number} {way.name} {way.means} {way.shown.left_out} {way.remark}"
        for step in edition.steps:
            yield f"{step.key} {step.setting.start} {step.setting.direction} {step.setting.drone}"
        yield from (typesetter.key(part.name) for part in edition.renditions)


def _parts(request: PrintRequest, editions: Sequence[ExerciseEdition]) -> Iterator[Rendition]:
    """All music of a print."""
    if request.choice.is_bound:
        return (part for edition in editions for part in edition.renditions)
    return _written_out(request.instrument_book, request.choice)


def _written_out(found: InstrumentBook, choice: PrintChoice) -> Iterator[Rendition]:
    for _, pages in found.exercises:
        for page in pages:
            for placed in page.placed:
                yield from filter(choice.has, placed.parts)


def describe_parts(parts: Iterable[Rendition], translation: Translation) -> Described:
    """What describes these parts by their names, each when it is asked for."""
    scores = scores_of(parts)
    return cache(lambda name: describe_score(scores[name], translation=translation))


@dataclass(frozen=True, slots=True)
class _Composed:
    """A print before it is broken into pages."""

    document: Document
    about: DocumentInfo
    flow: Flow
    described: Described


def _builder(request: PrintRequest, form: PageFormat, strips: Strips) -> RowBuilder:
    """What makes the rows of a print."""
    return RowBuilder(
        strips,
        form.width,
        request.choice.has,
        form.layout.room,
        letters=letters_for(form.layout.staff),
        cautions=request.cautions,
        translation=request.translation,
    )


def _row_builder(request: PrintRequest, typesetter: Typesetter) -> RowBuilder:
    return replace(_builder(request, typesetter.form, typesetter.shape), calm=typesetter.calm)


def _composed(request: PrintRequest, typesetter: Typesetter) -> _Composed:
    editions = _editions(request)
    document = _document(_row_builder(request, typesetter), request, typesetter.form, editions)
    if request.is_book:
        typesetter.problems |= dict.fromkeys(request.order.problems(typesetter.form.width))
    title, book = document.title, request.book
    about = DocumentInfo(title if title == book else f"{title}: {book}", book, request.translation.language)
    flow = flow_rows(document.rows, typesetter)
    return _Composed(document, about, flow, describe_parts(_parts(request, editions), request.translation))


def texts(
    request: PrintRequest, form: PageFormat, known: Callable[[Exercise], bool] = lambda exercise: False
) -> Iterator[Text]:
    """The words of a print, its running heads among them; nothing of its music is looked at.

    Those of exercises that are `known` are left out, but for the first where all are.
    """
    form = form_of(request.choice, form)
    system = ExtractedPiece((ExtractedSystem(0.0, 0.0, 0.0, None, ()),), {})
    row_builder = _builder(request, form, lambda _: system)
    every = len(request.instrument_book.exercises)
    request = request.without(known)
    document = _document(row_builder, request, form, _editions(request))
    yield from all_texts(document.rows)
    heads = (row.head for row in document.rows if row.head)
    for said in dict.fromkeys((document.title, *heads)):
        yield running_head(said, form)
    # Of the pages' numbers, as many blocks as such a print has as a rule; what is left out has rows of music
    # like the rest, and as many of words.
    times_more = every / len(request.instrument_book.exercises) - 1
    more = 2 * times_more * sum(row.musical for row in document.rows)
    for number in range(1, 2 + int(len(document.rows) + more) // _ROWS_A_PAGE, words.NUMBERS_A_BLOCK):
        yield words.numeral(words.NUMBER, number)[0]


def _editions(request: PrintRequest) -> list[ExerciseEdition]:
    """The exercises of a print that is bound; none of another."""
    if not request.choice.is_bound:
        return []
    made, wanted = request.editions, request.choice.has
    names = [f"{exercise.slug} {request.choice.part}" for exercise, _ in request.instrument_book.exercises]
    for name, (exercise, pages) in zip(names, request.instrument_book.exercises, strict=True):
        if name not in made:
            made[name] = edition_of(exercise, pages, wanted, request.cautions)
    return [made[name] for name in names]


def _document(
    row_builder: RowBuilder, request: PrintRequest, form: PageFormat, editions: Sequence[ExerciseEdition]
) -> Document:
    found, choice = request.instrument_book, request.choice
    about = AboutBook(request.book, request.description, request.order)
    if choice.is_bound:
        staff = form.layout.staff
        if choice.exercises:
            return bound_exercises(row_builder, editions, staff)
        return bound_book(row_builder, found, editions, staff, about)
    if choice.exercises:
        return written_out_exercises(row_builder, found, in_one_key=len(choice.keys) == 1)
    if choice.keys:
        return written_out_keys(row_builder, found, choice.keys)
    return written_out_book(row_builder, found, about)
