"""A student's hand-out: one page with this week's keys, the teacher's words, and lines for notes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ..book.pieces import AS_WRITTEN, InKey, Part, Placed, shelf
from ..book.read import Book
from ..cache.store import PieceCache
from ..daily.measure import main_register, moments, register_order
from ..engrave.engraved_book import ink, stop_where_most_failed
from ..engrave.scheduler import Failure, Progress
from ..language.handout import Handout, Known
from ..music.exercise import FALLING, RISING
from . import text as words
from .compose import Printed, bound, filled
from .documents import NothingToPrint, labels
from .exercise_rows import Setter
from .flow import Cell, Music, Row
from .page import About
from .page_format import Form
from .text import Style, Text, text
from .typesetter import Workshop

_WORDS = Style(12, 5.6)
_LINE_HEIGHT = 9.0
_FEWEST_LINES = 3
"""Lines for notes that a page must have room for."""

_WAYS = {FALLING: "going down", RISING: "going up"}

_STAFF_SPACE = 25.4 / 72.27 * 5


@dataclass(frozen=True, slots=True)
class _Piece:
    """An exercise in a key from one start pitch, and those of its parts that are wanted."""

    page: InKey
    placed: Placed
    parts: tuple[Part, ...]

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


def handout_page(book: Book, handout: Handout, form: Form, progress: Progress | None = None) -> Printed:
    """Engrave and lay out. Raises NothingToPrint, TooMuch and EngraverMissing."""
    pieces = list(_pieces(book, handout))
    if not pieces:
        raise NothingToPrint("nothing in these keys of the book answers to the hand-out: nothing to print")
    music = {part.name: part.score for piece in pieces for part in piece.parts if part.score is not None}
    inked = ink(music, None, progress, form.layout)
    stop_where_most_failed(inked)
    workshop = Workshop(inked, form, PieceCache())
    workshop.check([part for piece in pieces for part in piece.parts])
    setter = Setter(workshop.shape, form.width, lambda part: True)
    room = _room(setter, handout, pieces, workshop)
    lines = _lines(room)
    if lines < _FEWEST_LINES:
        raise TooMuch(_too_much(setter, handout, pieces, workshop))
    rows = [*_rows(setter, handout, pieces), *_notes(setter, lines)]
    about = About(f"{handout.title}: {book.name}", book.name)
    return bound(rows, about, handout.title, (), workshop)


def _pieces(book: Book, handout: Handout) -> Iterator[_Piece]:
    """What is to be played, key by key in the order of the hand-out."""
    instrument = next(each for each in book.instruments if each.slug == handout.instrument)
    wanted = [each for each in book.exercises if each.slug in (handout.exercises or (each.slug,))]
    found = shelf(tuple(wanted), instrument)
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


def _rows(setter: Setter, handout: Handout, pieces: Sequence[_Piece]) -> list[Row]:
    name = f"for {handout.student}" if handout.student else "Name:"
    cells = [Cell(text(words.PAGE_TITLE, handout.title, setter.width * 0.68))]
    if handout.student:
        cells.append(Cell(text(_WORDS, name, setter.width * 0.3), 1.0))
    else:
        cells += [Cell(_ruled(50), 1.0), Cell(text(_WORDS, name, 20), indent=setter.width - 66)]
    rows = [Row(tuple(cells), mark="title", head=handout.title)]
    for number, said in enumerate(handout.words):
        rows.append(Row((Cell(text(_WORDS, said, setter.width)),), space=2.0 if number else 4.0))
    told: set[str] = set()
    for number, piece in enumerate(pieces):
        rows += _piece(setter, piece, pieces[number - 1] if number else None, told)
    return rows


def _piece(setter: Setter, piece: _Piece, before: _Piece | None, told: set[str]) -> Iterator[Row]:
    exercise = piece.page.exercise
    space = 3.5
    if before is None or before.name != piece.name:
        beat = Cell(words.tempo(words.NUMBER, exercise.tempo), 1.0)
        yield Row((Cell(text(words.KEY, piece.name, setter.width * 0.75)), beat), space=6.0, keep=True)
        space = 0.8
        if exercise.slug not in told and exercise.attend:
            told.add(exercise.slug)
            said = "; ".join(exercise.attend)
            yield setter.line(words.ASIDE, f"Attend to: {said}.", space=1.0, keep=True)
    for number, part in enumerate(piece.parts):
        setting = piece.placed.setting
        where = [f"From {setting.start.spoken}", _WAYS.get(setting.direction, "")] if number == 0 else []
        says = [*filter(None, where), *([] if part.label == AS_WRITTEN else [part.label])]
        if says:
            yield setter.line(words.LABEL, ", ".join(says), space=space if number == 0 else 3.0, keep=True)
        strip = setter.strips(part.name)
        if isinstance(strip, Failure):
            said = f"The engraver could not write this out: {strip.said}"
            yield setter.line(words.ASIDE, said, space=0.5)
            continue
        for system in range(len(strip.lines)):
            yield Row((Cell(Music(part.name, system)),), space=3.0 if system else 0.8)


def _notes(setter: Setter, lines: int) -> Iterator[Row]:
    """Lines to write on."""
    yield setter.line(words.HEADING, "Notes", space=8.0, keep=True)
    for _ in range(lines):
        yield Row((Cell(_ruled(setter.width)),), space=0.0, height=_LINE_HEIGHT)


def _ruled(width: float) -> Text:
    """A thin line to write on, so many millimetres long."""
    length = width / _STAFF_SPACE
    return Text(_WORDS, "", rf"\path #0.08 #'((moveto 0 0) (lineto {length:.2f} 0))")


def _room(setter: Setter, handout: Handout, pieces: Sequence[_Piece], workshop: Workshop) -> float:
    """Millimetres left on the page below the music; negative where there is more than a page."""
    depths = filled(_rows(setter, handout, pieces), workshop)
    return workshop.form.depth - depths[0] if len(depths) == 1 else -1.0


def _lines(room: float) -> int:
    """How many lines for notes there is room for."""
    return int((room - 8.0 - words.HEADING.leading) / _LINE_HEIGHT)


def _too_much(setter: Setter, handout: Handout, pieces: list[_Piece], workshop: Workshop) -> str:
    for count in range(len(pieces) - 1, 0, -1):
        if _lines(_room(setter, handout, pieces[:count], workshop)) >= _FEWEST_LINES:
            fits = ", ".join(dict.fromkeys(piece.name for piece in pieces[:count]))
            return (
                f"this is more than one page holds: {count} of {len(pieces)} pieces fit ({fits}). "
                "Leave out a key, an exercise or a variation"
            )
    return "this is more than one page holds: shorten the words, or choose a shorter exercise"
