"""A selection on paper: chosen music and words in the author's order; each student has pages of their own."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import islice

from ..book.pieces import AS_WRITTEN, KeyPage, Rendition, SettingPieces, instrument_book_of
from ..book.read import Book
from ..daily.measure import main_register, moments, register_order
from ..engrave.engraved_book import engrave_scores
from ..engrave.markup import writing_line
from ..engrave.piece import Failure
from ..engrave.processes.scheduler import Pool
from ..jobs.progress import Progress
from ..language.selecting.selection import Handout, Item, Known, KnownExercise, KnownKey, Selection
from ..music.exercise import DIRECTION_TEXT
from ..music.winds.instrument import Instrument, register_words
from ..paper import text as words
from ..paper.compose import Printed, filled, flow_rows, numbered_pages, write_pages
from ..paper.flow import Cell, Music, Row, all_texts
from ..paper.page import DocumentInfo, Entry, Page
from ..paper.page_format import PageFormat
from ..paper.tags import Element, heading
from ..paper.text import Style, Text, text
from ..paper.typesetter import Typesetter
from ..translation.said import Said, joined, phrase, term, term_in
from ..variations.printed_names import by_printed_name, label_words
from .choice import NothingToPrint, labels
from .documents import describe_parts, scores_of, typesetter_of
from .exercise_rows import (
    BEFORE_KEY,
    BEFORE_PART,
    BEFORE_SETTING,
    TURN_BETWEEN_PARTS,
    TURN_IN_MUSIC,
    RowBuilder,
    rights,
    tempo_text,
    within_part,
)

MOST_PIECES = 1_000
"""The most pieces of music that a selection may ask for, each counted as often as it is asked for."""

_WORDS = Style(12, 5.6)
_LINE_HEIGHT = 9.0
_BEFORE_NOTES = 8.0
_FEWEST_LINES = 3
"""Lines for notes that a page must have room for; where there is less, there are none."""


@dataclass(frozen=True, slots=True)
class _Piece:
    """An exercise in a key from one start pitch, and those of its parts that are wanted, in this order."""

    page: KeyPage
    placed: SettingPieces
    register: str
    parts: tuple[Rendition, ...]

    @property
    def name(self) -> Said:
        return joined((self.page.exercise.title, self.page.name), ", ")

    @property
    def start(self) -> Said:
        """The start pitch, the direction, and the register where the key has several starts."""
        setting = self.placed.setting
        several = self.register and len(self.page.placed) > 1
        register = register_words(self.register) if several else ""
        start = phrase("From {note}", note=setting.start.spoken)
        return joined((start, DIRECTION_TEXT[setting.direction], register), ", ")


_Content = str | _Piece


class ExercisePages:
    """The exercises of a book in all their keys, each made when it is first asked for."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self._exercises = {exercise.slug: exercise for exercise in book.exercises}
        self._found: dict[tuple[str, str], dict[str, tuple[KeyPage, dict[str, list[SettingPieces]]]]] = {}

    def instrument(self, slug: str) -> Instrument:
        """The book's instrument of this address."""
        return next(each for each in self.book.instruments if each.slug == slug)

    def of(self, instrument: str, slug: str) -> dict[str, tuple[KeyPage, dict[str, list[SettingPieces]]]]:
        """An exercise by key page: the page, and what can be played of it by register.

        A setting's register is that in which most of its sounding time as written lies.
        """
        if (instrument, slug) not in self._found:
            player = self.instrument(instrument)
            found: dict[str, tuple[KeyPage, dict[str, list[SettingPieces]]]] = {}
            words = self.book.page_words
            [(_, pages)] = instrument_book_of((self._exercises[slug],), player, words).exercises
            for page in pages:
                registers: dict[str, list[SettingPieces]] = {}
                for placed in page.placed:
                    if placed.parts and placed.parts[0].score is not None:
                        register = main_register(moments(placed.parts[0].score), player)
                        registers.setdefault(register, []).append(placed)
                if registers:
                    found[page.key] = page, registers
            self._found[instrument, slug] = found
        return self._found[instrument, slug]

    def known(self) -> Known:
        """What a selection from this book may name."""

        @cache
        def keys_of(instrument: str, slug: str) -> dict[str, KnownKey]:
            order = register_order(self.instrument(instrument))
            return {
                key: KnownKey(page.name, [name for name in order if name in registers])
                for key, (page, registers) in self.of(instrument, slug).items()
            }

        exercises = {
            each.slug: KnownExercise(
                each.title, tuple(dict.fromkeys((AS_WRITTEN, *(wish.label for wish in each.wanted))))
            )
            for each in self.book.exercises
        }
        registers = {
            instrument.slug: [register.name for register in instrument.registers]
            for instrument in self.book.instruments
        }
        return Known(exercises, registers, keys_of, by_printed_name(labels(self.book)))


def print_selection(
    pages: ExercisePages,
    selection: Selection,
    form: PageFormat,
    pool: Pool | None = None,
    progress: Progress | None = None,
) -> Printed:
    """Engrave and lay out, private exercises too; each hand-out begins on a leaf of its own.

    Raises NothingToPrint where more is asked for than a print may hold, and EngraverMissing.
    """
    contents = [list(_content(pages, handout)) for handout in selection.handouts]
    parts = list(islice(_parts(contents), MOST_PIECES + 1))
    if len(parts) > MOST_PIECES:
        raise NothingToPrint(
            f"this asks for more than {MOST_PIECES:,} pieces of music: divide it into several files"
        )
    music = scores_of(parts)
    engravings = engrave_scores(music, pool, progress, form.layout)
    typesetter = typesetter_of(engravings, music, form, pool)
    translation = pages.book.translation
    row_builder = RowBuilder(typesetter.shape, form.width, lambda part: True, translation=translation)
    sheets = [
        _Sheet(number, handout, content, row_builder)
        for number, (handout, content) in enumerate(zip(selection.handouts, contents, strict=True))
    ]
    # All words in one run of the engraver.
    typesetter.engrave_texts(each for sheet in sheets for each in all_texts(sheet.rows(1)))
    leaves: list[Page] = []
    for sheet in sheets:
        if len(leaves) % 2 and not form.single_sided:
            leaves.append(Page())
        flow = flow_rows(sheet.filled_rows(typesetter), typesetter)
        leaves += numbered_pages(flow, "", typesetter, (Element("Part", f"{sheet.number}"),))
    name = pages.book.name
    title = "; ".join(dict.fromkeys(handout.title for handout in selection.handouts))
    outline = [entry for sheet in sheets for entry in sheet.outline()]
    about = DocumentInfo(f"{title}: {name}", name, translation.language)
    return write_pages(leaves, about, outline, typesetter, describe_parts(parts, translation))


def _parts(contents: Sequence[Sequence[_Content]]) -> Iterator[Rendition]:
    """Every part of every piece."""
    for content in contents:
        for each in content:
            if isinstance(each, _Piece):
                yield from each.parts


def _content(pages: ExercisePages, handout: Handout) -> Iterator[_Content]:
    """A hand-out's words and pieces in its order."""
    order = register_order(pages.instrument(handout.instrument))
    count = 0
    for each in handout.content:
        for found in [each] if isinstance(each, str) else _pieces(pages, handout.instrument, each, order):
            yield found
            count += 1
            if count > MOST_PIECES:
                # It will be refused; a file may ask for millions.
                return


def _pieces(pages: ExercisePages, instrument: str, item: Item, order: Sequence[str]) -> Iterator[_Piece]:
    """An item's pieces: key by key, in each register by register."""
    found = pages.of(instrument, item.exercise)
    for key in item.keys:
        page, registers = found[key]
        for register in item.registers or [name for name in order if name in registers][:1]:
            for placed in registers.get(register, ()):
                by_label = {part.label: part for part in placed.parts}
                yield _Piece(page, placed, register, tuple(by_label[label] for label in item.variations))


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A hand-out as rows of a page; `number` counts the hand-outs from 0."""

    number: int
    handout: Handout
    content: Sequence[_Content]
    row_builder: RowBuilder

    @property
    def head(self) -> str:
        """What names it, above its second page and those that follow."""
        return ", ".join(filter(None, (self.handout.title, self.handout.student)))

    def head_within(self, piece: _Piece) -> str:
        """The same with a piece's name, of which more is shown."""
        head = words.shortened(self.head, words.HEAD, self.row_builder.width * 0.35)
        return f"{head}: {self.row_builder.say(piece.name)}"

    def mark(self, place: int | None = None) -> str:
        """The name of its first page, or of a place in its content."""
        return f"#{self.number}" if place is None else f"#{self.number}.{place}"

    def outline(self) -> Iterator[Entry]:
        """Its title, and below it each exercise in a key."""
        yield Entry(0, self.head, self.mark())
        for place, piece in enumerate(self.content):
            if isinstance(piece, _Piece) and self.begins(place):
                yield Entry(1, self.row_builder.say(piece.name), self.mark(place))

    def begins(self, place: int) -> bool:
        """Whether a piece has a heading: where the one before is not of the same exercise and key."""
        before = self.content[place - 1] if place else ""
        piece = self.content[place]
        return isinstance(before, str) or (isinstance(piece, _Piece) and before.page is not piece.page)

    def filled_rows(self, typesetter: Typesetter) -> list[Row]:
        """All rows, with as many lines for notes as its last page has room for."""
        rows = self.rows(0)
        depths = filled(rows, typesetter)
        room = typesetter.form.depth - depths[-1] - _BEFORE_NOTES - words.HEADING.leading
        for lines in range(int(room / _LINE_HEIGHT), _FEWEST_LINES - 1, -1):
            noted = self.rows(lines)
            if len(filled(noted, typesetter)) == len(depths):
                return noted
        return rows

    def rows(self, lines: int) -> list[Row]:
        """Title, content, so many lines for notes, and the sources, which never stand alone."""
        rows = [*self.title(), *self.body()]
        if lines:
            rows += self.notes(lines)
        pages = (each.page for each in self.content if isinstance(each, _Piece))
        exercises = {page.exercise.slug: page.exercise for page in pages}
        stated = [each for each in exercises.values() if each.source or each.publishable]
        sources = list(rights(self.row_builder, stated, name=True, space=4.0))
        held = [replace(row, keep=True) for row in (rows[-1], *sources)]
        return [*rows[:-1], *held[:-1], replace(held[-1], keep=False)]

    def title(self) -> Iterator[Row]:
        """The title, and the student's name or a line for it; a long name has a line of its own."""
        width = self.row_builder.width
        title = Cell(text(words.PAGE_TITLE, self.handout.title, width * 0.68))
        name = self.row_builder.say(phrase("for {student}", student=self.handout.student))
        if not self.handout.student:
            cells = [
                title,
                Cell(_ruled(50), 1.0),
                Cell(self.row_builder.plain(_WORDS, term("Name:"), 20), indent=width - 66),
            ]
        elif words.width_of(name, _WORDS) <= width * 0.3:
            cells = [title, Cell(text(_WORDS, name, width * 0.3), 1.0)]
        else:
            cells = [title]
        yield Row(tuple(cells), mark=self.mark(), head=self.head, keep=True)
        if len(cells) == 1:
            yield self.row_builder.line(_WORDS, name, space=1.0, keep=True)

    def body(self) -> Iterator[Row]:
        """Words and music."""
        told: set[str] = set()
        for place, each in enumerate(self.content):
            if isinstance(each, _Piece):
                yield from self.piece(place, each, told)
                continue
            after = self.content[place - 1] if place else None
            space = 4.0 if after is None else 2.0 if isinstance(after, str) else 7.0
            held = place + 1 < len(self.content) and isinstance(self.content[place + 1], _Piece)
            cell = Cell(text(_WORDS, each, self.row_builder.width))
            yield Row((cell,), space=space, stretch=1.0, cost=BEFORE_KEY, keep=held, head=self.head)

    def piece(self, place: int, piece: _Piece, told: set[str]) -> Iterator[Row]:
        """A piece; `told` are the exercises whose points were told, and grows."""
        builder, exercise = self.row_builder, piece.page.exercise
        space = 3.5
        if self.begins(place):
            beat = Cell(tempo_text(words.NUMBER, exercise, builder.translation), 1.0)
            heading = Cell(builder.plain(words.KEY, piece.name, builder.width * 0.75))
            yield Row(
                (heading, beat),
                space=6.0,
                stretch=1.0,
                cost=BEFORE_KEY,
                keep=True,
                mark=self.mark(place),
                head=self.head,
            )
            space = 0.8
            if exercise.slug not in told and exercise.attend:
                told.add(exercise.slug)
                said = "; ".join(exercise.attend)
                yield builder.line(words.BODY, phrase("Focus: {points}.", points=said), space=1.0, keep=True)
                space = 1.6
        for number, part in enumerate(piece.parts):
            says: list[str] = [piece.start] if number == 0 else []
            if part.label != AS_WRITTEN:
                says.append(label_words(part.label))
            label = joined(says, ", ") if says else AS_WRITTEN
            yield builder.line(
                words.LABEL,
                label,
                space=space if number == 0 else 3.0,
                stretch=1.0,
                cost=BEFORE_PART if number else BEFORE_SETTING,
                turn=TURN_BETWEEN_PARTS,
                keep=True,
                # A page that begins within the piece names it.
                head=self.head_within(piece) if number == 0 else None,
            )
            for remark in self.remarks(place, piece) if number == 0 else ():
                yield builder.line(words.ASIDE, remark, space=0.4, keep=True)
            yield from self.systems(part)

    def remarks(self, place: int, piece: _Piece) -> tuple[str, ...]:
        """What is to be said of a piece and not of the one before it below the same heading."""
        before = self.content[place - 1]
        remarks = piece.placed.setting.remarks
        if self.begins(place) or isinstance(before, str):
            return remarks
        return tuple(remark for remark in remarks if remark not in before.placed.setting.remarks)

    def systems(self, part: Rendition) -> Iterator[Row]:
        """A part's music, or why there is none."""
        builder = self.row_builder
        strip = None if part.score is None else builder.strips(part.name)
        if strip is None:
            yield builder.line(words.ASIDE, part.left_out, space=0.5)
        elif isinstance(strip, Failure):
            yield builder.line(words.ASIDE, strip.instead, space=0.5)
        else:
            count = len(strip.lines)
            for system in range(count):
                music = Cell(Music(part.name, system))
                if not system:
                    yield Row((music,), space=0.8, stretch=1.0)
                    continue
                cost = within_part(system, count)
                yield Row((music,), space=3.0, stretch=1.0, cost=cost, turn=TURN_IN_MUSIC)

    def notes(self, lines: int) -> Iterator[Row]:
        """Lines to write on."""
        yield self.row_builder.line(
            words.HEADING,
            term_in("room to write", "Notes"),
            space=_BEFORE_NOTES,
            keep=True,
            head=self.head,
            tag=(heading(4),),
        )
        for _ in range(lines):
            yield Row((Cell(_ruled(self.row_builder.width)),), height=_LINE_HEIGHT)


def _ruled(width: float) -> Text:
    """A thin line to write on, so many millimetres long."""
    return Text(_WORDS, "", writing_line(width))
