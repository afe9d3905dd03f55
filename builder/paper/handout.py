"""A student's hand-out: one page with this week's keys, the teacher's words, and lines for notes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ..book.pieces import AS_WRITTEN, KeyPage, Rendition, SettingPieces, instrument_book_of
from ..book.read import Book
from ..cache.store import CacheStore
from ..daily.measure import main_register, moments, register_order
from ..engrave.engraved_book import engrave_scores, stop_where_most_failed
from ..engrave.markup import writing_line
from ..engrave.scheduler import Failure, Pool
from ..jobs.progress import Progress
from ..language.handout import Handout, Known
from ..music.exercise import DIRECTION_TEXT
from . import text as words
from .compose import Printed, bind_pages, filled
from .documents import NothingToPrint, labels
from .exercise_rows import RowBuilder
from .flow import Cell, Music, Row
from .page import DocumentInfo
from .page_format import PageFormat
from .text import Style, Text, text
from .typesetter import Typesetter

_WORDS = Style(12, 5.6)
_LINE_HEIGHT = 9.0
_FEWEST_LINES = 3
"""Lines for notes that a page must have room for."""


@dataclass(frozen=True, slots=True)
class _Piece:
    """An exercise in a key from one start pitch, and those of its parts that are wanted."""

    page: KeyPage
    placed: SettingPieces
    parts: tuple[Rendition, ...]

    @property
    def name(self) -> str:
        return f"{self.page.exercise.title}, {self.page.name}"


class TooMuch(NothingToPrint):
    """Raised where a hand-out would be longer than a page; the text says what fits."""


def known_to(book: Book) -> Known:
    """What a hand-out for this book may name."""
    registers = {
        instrument.slug: [register.name for register in instrument.registers]
        for instrument in book.instruments
    }
    return Known([exercise.slug for exercise in book.exercises], labels(book), registers)


def handout_page(
    book: Book, handout: Handout, form: PageFormat, pool: Pool | None = None, progress: Progress | None = None
) -> Printed:
    """Engrave and lay out. Raises NothingToPrint, TooMuch and EngraverMissing."""
    pieces = list(_pieces(book, handout))
    if not pieces:
        raise NothingToPrint("no exercise in the book matches the hand-out: nothing to print")
    music = {part.name: part.score for piece in pieces for part in piece.parts if part.score is not None}
    engravings = engrave_scores(music, pool, progress, form.layout)
    stop_where_most_failed(engravings)
    typesetter = Typesetter(engravings, form, CacheStore(), pool)
    typesetter.check([part for piece in pieces for part in piece.parts])
    row_builder = RowBuilder(typesetter.shape, form.width, lambda part: True)
    room = _room(row_builder, handout, pieces, typesetter)
    lines = _lines(room)
    if lines < _FEWEST_LINES:
        raise TooMuch(_too_much(row_builder, handout, pieces, typesetter))
    rows = [*_rows(row_builder, handout, pieces), *_notes(row_builder, lines)]
    about = DocumentInfo(f"{handout.title}: {book.name}", book.name)
    return bind_pages(rows, about, handout.title, (), typesetter)


def _pieces(book: Book, handout: Handout) -> Iterator[_Piece]:
    """What is to be played, key by key in the order of the hand-out."""
    instrument = next(each for each in book.instruments if each.slug == handout.instrument)
    wanted = [each for each in book.exercises if each.slug in (handout.exercises or (each.slug,))]
    found = instrument_book_of(tuple(wanted), instrument)
    order = register_order(instrument)
    names = handout.variations or (AS_WRITTEN,)
    for key in handout.keys:
        for page in found.in_key(key):
            by_register: dict[str, list[_Piece]] = {}
            for placed in page.placed:
                parts = tuple(part for part in placed.parts if part.label in names and part.score is not None)
                if parts and parts[0].score is not None:
                    register = main_register(moments(parts[0].score), instrument)
                    by_register.setdefault(register, []).append(_Piece(page, placed, parts))
            there = [register for register in order if register in by_register]
            for register in handout.registers or there[:1]:
                yield from by_register.get(register, ())


def _rows(row_builder: RowBuilder, handout: Handout, pieces: Sequence[_Piece]) -> list[Row]:
    name = f"for {handout.student}" if handout.student else "Name:"
    cells = [Cell(text(words.PAGE_TITLE, handout.title, row_builder.width * 0.68))]
    if handout.student:
        cells.append(Cell(text(_WORDS, name, row_builder.width * 0.3), 1.0))
    else:
        cells += [Cell(_ruled(50), 1.0), Cell(text(_WORDS, name, 20), indent=row_builder.width - 66)]
    rows = [Row(tuple(cells), mark="title", head=handout.title)]
    for number, said in enumerate(handout.words):
        rows.append(Row((Cell(text(_WORDS, said, row_builder.width)),), space=2.0 if number else 4.0))
    told: set[str] = set()
    for number, piece in enumerate(pieces):
        rows += _piece(row_builder, piece, pieces[number - 1] if number else None, told)
    return rows


def _piece(row_builder: RowBuilder, piece: _Piece, before: _Piece | None, told: set[str]) -> Iterator[Row]:
    exercise = piece.page.exercise
    space = 3.5
    if before is None or before.name != piece.name:
        beat = Cell(words.tempo(words.NUMBER, exercise.tempo), 1.0)
        yield Row((Cell(text(words.KEY, piece.name, row_builder.width * 0.75)), beat), space=6.0, keep=True)
        space = 0.8
        if exercise.slug not in told and exercise.attend:
            told.add(exercise.slug)
            said = "; ".join(exercise.attend)
            yield row_builder.line(words.ASIDE, f"Focus: {said}.", space=1.0, keep=True)
    for number, part in enumerate(piece.parts):
        setting = piece.placed.setting
        where = [f"From {setting.start.spoken}", DIRECTION_TEXT[setting.direction]] if number == 0 else []
        says = [*filter(None, where), *([] if part.label == AS_WRITTEN else [part.label])]
        if says:
            yield row_builder.line(
                words.LABEL, ", ".join(says), space=space if number == 0 else 3.0, keep=True
            )
        strip = row_builder.strips(part.name)
        if isinstance(strip, Failure):
            said = f"The engraver could not write this out: {strip.said}"
            yield row_builder.line(words.ASIDE, said, space=0.5)
            continue
        for system in range(len(strip.lines)):
            yield Row((Cell(Music(part.name, system)),), space=3.0 if system else 0.8)


def _notes(row_builder: RowBuilder, lines: int) -> Iterator[Row]:
    """Lines to write on."""
    yield row_builder.line(words.HEADING, "Notes", space=8.0, keep=True)
    for _ in range(lines):
        yield Row((Cell(_ruled(row_builder.width)),), space=0.0, height=_LINE_HEIGHT)


def _ruled(width: float) -> Text:
    """A thin line to write on, so many millimetres long."""
    return Text(_WORDS, "", writing_line(width))


def _room(
    row_builder: RowBuilder, handout: Handout, pieces: Sequence[_Piece], typesetter: Typesetter
) -> float:
    """Millimetres left on the page below the music; negative where there is more than a page."""
    depths = filled(_rows(row_builder, handout, pieces), typesetter)
    return typesetter.form.depth - depths[0] if len(depths) == 1 else -1.0


def _lines(room: float) -> int:
    """How many lines for notes there is room for."""
    return int((room - 8.0 - words.HEADING.leading) / _LINE_HEIGHT)


def _too_much(row_builder: RowBuilder, handout: Handout, pieces: list[_Piece], typesetter: Typesetter) -> str:
    for count in range(len(pieces) - 1, 0, -1):
        if _lines(_room(row_builder, handout, pieces[:count], typesetter)) >= _FEWEST_LINES:
            fits = ", ".join(dict.fromkeys(piece.name for piece in pieces[:count]))
            return (
                f"this does not fit on one page: {count} of {len(pieces)} lines of music fit ({fits}). "
                "Leave out a key, an exercise or a variation"
            )
    return "this does not fit on one page: shorten the words, or choose a shorter exercise"
