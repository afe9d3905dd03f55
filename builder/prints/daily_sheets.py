"""Daily sets on paper: each day's pages for the stand, with the music in the order played."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from math import ceil

from ..book.edition import remarks_of
from ..book.pieces import Rendition, instrument_book_of
from ..book.read import Book
from ..daily.blocks import Block
from ..daily.cautions import cautions
from ..daily.plan import Plan
from ..daily.planner import remarks
from ..daily.sets import PAUSE, Day, block_how, block_keys, block_title, days, way_words
from ..engrave.markup import checkbox_lines
from ..engrave.processes.scheduler import Pool, engrave_all
from ..jobs.progress import Progress
from ..music.winds.instrument import Instrument
from ..paper import text as words
from ..paper.compose import Printed, flow_rows, numbered_pages, write_pages
from ..paper.flow import Cell, PageOf, Row, all_texts
from ..paper.page import DocumentInfo, Entry, Page
from ..paper.page_format import PageFormat
from ..paper.tags import Element, Tag, heading, list_item
from ..paper.text import Style, Text, text
from ..translation.said import NOTHING, Said, capital, counted, joined, phrase, term
from .choice import NothingToPrint
from .daily_music import BlockMusic, BlockPages, Pass
from .documents import describe_parts, scores_of, typesetter_of
from .edition_layouts import letters_for
from .edition_rows import key_beside, key_rows, systems
from .exercise_rows import RowBuilder, rights, tempo_text
from .selection import MOST_PIECES

_PASS = Style(14, 6.2, italic=True, rank=4)
_BOX = 6.0
"""Millimetres for a box to tick before words of the largest style that has one."""

_SHORT = 4
"""Lines of music of a block that is never divided."""

_STRETCH = 0.3
"""How willingly the room above words grows: by half at most. That above music grows less, as in the book."""

# What pages cost; an empty third of one costs about 60.
_DIVIDED = 60.0
"""A page that begins within a longer block."""
_KEY_DIVIDED = 1_000.0
"""One that begins within a key of a few lines."""
_TURNED = 5_000.0
"""What comes on top where the leaf must be turned for it."""
_BLANK = 400.0
"""A blank page before a day: it stands there only where it spares a turn within a block."""
_WHOLE = 100_000.0
"""A page that begins within the overview, which is on one page where it has room there."""


@dataclass(frozen=True, slots=True)
class StudentPlan:
    """A plan to print, for an instrument, and for whom if a name is given."""

    plan: Plan
    instrument: Instrument
    student: str = ""


def daily_sheets(
    book: Book,
    plans: Sequence[StudentPlan],
    start: date | None,
    form: PageFormat,
    pool: Pool | None = None,
    progress: Progress | None = None,
) -> Printed:
    """Each student's plan as sheets with their music, one student after another.

    Days have dates if the first one's is given in `start`. Each plan begins on a leaf of its own, with pages
    numbered from 1. Raises NothingToPrint where they hold more music than a print may, EngraverMissing, and
    EngraverAtFault where most of the music failed.
    """
    music = _music_of(book, plans, form)
    pieces = {
        piece.name: piece
        for each in music
        for block in each.values()
        for part in block.passes
        for piece in part.pieces
    }
    engravings = engrave_all(pieces, pieces.__getitem__, pool, progress)
    parts = list(_parts(music))
    typesetter = typesetter_of(engravings, scores_of(parts), form, pool)
    builder = RowBuilder(
        typesetter.shape,
        form.width,
        lambda part: True,
        letters=letters_for(form.layout.staff),
        translation=book.translation,
    )
    sheets = [
        _Sheets(number, book.name, each, start, found, builder)
        for number, (each, found) in enumerate(zip(plans, music, strict=True))
    ]
    # All words in one run of the engraver.
    typesetter.engrave_texts(each for sheet in sheets for each in all_texts(sheet.rows))
    leaves: list[Page] = []
    for sheet in sheets:
        if len(leaves) % 2 and not form.single_sided:
            leaves.append(Page())
        flow = flow_rows(sheet.rows, typesetter)
        leaves += numbered_pages(flow, "", typesetter, (Element("Part", f"{sheet.number}"),))
    title = "; ".join(dict.fromkeys(sheet.title for sheet in sheets))
    outline = [entry for sheet in sheets for entry in sheet.outline(alone=len(sheets) == 1)]
    about = DocumentInfo(f"{title}: {book.name}", book.name, book.language)
    return write_pages(leaves, about, outline, typesetter, describe_parts(parts, book.translation))


_BlocksMusic = dict[Block, BlockMusic]
"""The music of each block of a plan."""


def _music_of(book: Book, plans: Sequence[StudentPlan], form: PageFormat) -> list[_BlocksMusic]:
    """The music of each plan's blocks. Raises NothingToPrint."""
    asked = sum(len(block.items) for each in plans for block in each.plan.blocks)
    if asked > MOST_PIECES:
        raise NothingToPrint(
            f"these sets ask for {asked:,} pieces of music, and a print holds {MOST_PIECES:,}: ask for fewer "
            "days, or divide them into several files"
        )
    made: dict[str, BlockPages] = {}
    found = []
    for each in plans:
        slug = each.instrument.slug
        if slug not in made:
            made[slug] = BlockPages(
                instrument_book_of(book.exercises, each.instrument, book.page_words), form
            )
        found.append({block: made[slug].music(block) for block in dict.fromkeys(each.plan.blocks)})
    return found


def _parts(music: Sequence[_BlocksMusic]) -> Iterator[Rendition]:
    """Every part that is shown."""
    for each in music:
        for block in each.values():
            for part in block.passes:
                yield from (step.cell for step in part.steps)


@dataclass(frozen=True)
class _Sheets:
    """A student's plan as rows of pages; `number` counts the plans from 0."""

    number: int
    book: str
    wanted: StudentPlan
    start: date | None
    music: _BlocksMusic
    builder: RowBuilder

    @cached_property
    def days(self) -> tuple[Day, ...]:
        """Every day."""
        return days(self.wanted.plan, self.start)

    @property
    def title(self) -> str:
        """How long and for how many days."""
        wish = self.wanted.plan.problem.wish
        minutes = counted("{count} minute", "{count} minutes", wish.minutes)
        days = counted("{count} day", "{count} days", wish.days)
        return self.builder.say(phrase("Daily sets: {minutes} for {days}", minutes=minutes, days=days))

    @property
    def about(self) -> str:
        """For whom, for which instrument, from which book."""
        student = phrase("For {student}", student=self.wanted.student) if self.wanted.student else ""
        return self.builder.say(joined((student, term(self.wanted.instrument.name), self.book), ". "))

    def head(self, said: str) -> str:
        """Words for a page's head, with the student's name if there is one."""
        return ", ".join(filter(None, (self.builder.say(said), self.wanted.student)))

    def mark(self, day: Day | None = None, block: int = 0) -> str:
        """The name of its first page, of a day, or of a day's block counted from 1."""
        place = f".{day.number}" if day else ""
        return f"#{self.number}{place}{f'.{block}' if block else ''}"

    def outline(self, alone: bool) -> Iterator[Entry]:
        """The days, and below each its blocks; below the student's name where there are several plans."""
        depth = 0
        if not alone:
            yield Entry(0, self.head(self.title), self.mark())
            depth = 1
        for day in self.days:
            yield Entry(depth, self.builder.say(day.name), self.mark(day))
            for number, block in enumerate(day.blocks, 1):
                title = self.builder.say(block_title(block))
                yield Entry(depth + 1, f"{number}. {title}", self.mark(day, number))

    @cached_property
    def rows(self) -> list[Row]:
        """The overview, the days, and what is said at the end."""
        rows = list(self.overview())
        for day in self.days:
            rows += self.day(day)
        return [*rows, *self.ending()]

    def overview(self) -> Iterator[Row]:
        """All days with their blocks, in short."""
        builder = self.builder
        title = self.head(self.title)
        yield builder.line(words.PAGE_TITLE, self.title, mark=self.mark(), head=title, keep=True)
        yield builder.line(words.READ_TEXT, f"{self.about}.", space=1.5, keep=True)
        for day in self.days:
            cells = (
                Cell(builder.text(words.HEADING, day.name, builder.width * 0.6)),
                Cell(PageOf(self.mark(day), builder.style(words.NUMBER)), 1.0),
                Cell(
                    builder.text(words.NUMBER, phrase("{time}, page", time=_minutes(day.seconds)), 60),
                    1.0,
                    indent=-8.0,
                ),
            )
            yield Row(cells, space=5.0, cost=_WHOLE, keep=True)
            for number, block in enumerate(day.blocks):
                # A register says enough here; the day's page has the start pitches.
                keys = "" if block.items[0].by_pitch else block_keys(block)
                said = builder.say(joined((joined((block_title(block), keys)), block_how(block)), ": "))
                ticked = boxed(builder.style(words.BODY), said, builder.width - 6)
                tag = (Element("L", f"{day.number}"), *list_item(number, "LBody"))
                last = number + 1 == len(day.blocks)
                yield Row((Cell(ticked, indent=3.0),), space=0.6, keep=not last, tag=tag)

    def day(self, day: Day) -> Iterator[Row]:
        """A day, from a new page on: its head, its blocks, and the pauses between its sittings."""
        builder = self.builder
        cells = (
            Cell(builder.plain(words.PAGE_TITLE, day.name, builder.width * 0.75)),
            Cell(builder.text(words.STAND_TEXT, _minutes(day.seconds), builder.width * 0.2), 1.0),
        )
        # What its first page is part of stands at its head.
        yield Row(cells, opens=True, blank=_BLANK, mark=self.mark(day), head=self.about, keep=True)
        number = 0
        for place, sitting in enumerate(day.sittings):
            if place:
                yield builder.line(
                    words.PURPOSE, joined((PAUSE, "."), ""), space=7.0, stretch=_STRETCH, cost=_DIVIDED
                )
            for block in sitting:
                number += 1
                yield from self.block(day, number, block)

    def block(self, day: Day, number: int, block: Block) -> Iterator[Row]:
        """A block's words and music, which a page's end divides only if they are long."""
        music = self.music[block]
        head = self.head(day.name)
        rows = list(self.block_head(day, number, music, head))
        for place, part in enumerate(music.passes):
            made = list(self.one_pass(music, part))
            if place == 0:
                # A page that begins within the block names it.
                day_head = words.shortened(head, words.HEAD, self.builder.width * 0.45)
                made[0] = replace(made[0], head=f"{day_head}: {self.builder.say(block_title(block))}")
            rows += made
        short = sum(row.musical for row in rows) <= _SHORT
        before, *others = rows
        within_key = False
        for row in others:
            # What holds a system to the one after it gives way where that spares a turn.
            keep = short or (before.keep and not before.musical)
            cost = _KEY_DIVIDED if within_key else _DIVIDED
            yield replace(before, keep=keep)
            within_key = row.keep and row.musical
            before = replace(row, cost=row.cost + cost, turn=_TURNED)
        yield replace(before, keep=False)

    def block_head(self, day: Day, number: int, music: BlockMusic, head: str) -> Iterator[Row]:
        """Number, title and minutes; its keys and its tempo; the points to attend to."""
        builder, block, exercise = self.builder, music.block, music.exercise
        lane = 8.0 * builder.letters
        mark = self.mark(day, number)
        cells = (
            Cell(builder.text(words.TITLE, f"{number}", lane), tag=(heading(3, mark),)),
            Cell(
                builder.text(words.TITLE, block_title(block), builder.width * 0.8 - lane),
                indent=lane,
                tag=(heading(3, mark),),
            ),
            Cell(builder.text(words.STAND_TEXT, _minutes(block.seconds), 40), 1.0),
        )
        yield Row(cells, space=6.0, stretch=_STRETCH, keep=True, mark=mark, head=head)
        keys = builder.say(capital(block_keys(block)))
        beat = Cell(tempo_text(builder.style(words.READ_TEXT), exercise, builder.translation), 1.0)
        keys_cell = Cell(builder.text(words.READ_TEXT, f"{keys}.", builder.width * 0.75))
        yield Row((keys_cell, beat), space=0.8, keep=True)
        told = any(other.exercise == block.exercise for other in day.blocks[: number - 1])
        if exercise.attend and not told:
            said = "; ".join(exercise.attend)
            yield builder.line(words.READ_TEXT, phrase("Focus: {points}.", points=said), space=0.6, keep=True)
        for remark in remarks_of(music.placed):
            yield builder.line(words.ASIDE, remark, space=0.6, keep=True)
        if drone := _drones(music):
            said_of = builder.text(
                words.READ_TEXT, phrase("Drone: {notes}", notes=drone), builder.width * 0.6
            )
            line = Cell(words.rule(builder.style(words.READ_TEXT), 40), indent=3.0, after=True)
            yield Row((Cell(said_of), line), space=0.6, keep=True)

    def one_pass(self, music: BlockMusic, part: Pass) -> Iterator[Row]:
        """A way with its box, what it asks for, and its music."""
        builder = self.builder
        name = boxed(builder.style(_PASS), builder.say(way_words(part.way)), builder.width)
        yield Row((Cell(name),), space=2.5, stretch=_STRETCH, keep=True)
        says: list[str] = [part.means] if part.means else []
        if part.model:
            one = len(music.placed) == 1
            says.append(term("Like this:") if one else term("Each key like this:"))
        if says:
            yield builder.line(words.READ_TEXT, joined(says), space=0.6, keep=True)
        if not part.model:
            yield from key_rows(builder, part.steps, part.grid)
            return
        [step] = part.steps
        beside = key_beside(builder, step.setting, part.grid, 0.0)
        yield from systems(builder, step.cell, part.grid.lane, 2.5, beside=beside, tag=_MODEL)

    def ending(self) -> Iterator[Row]:
        """What the plan covers, cautions, and the sources of the exercises."""
        builder = self.builder
        plan = self.wanted.plan
        yield Row(
            (Cell(builder.text(words.HEADING, term("About these sets"), builder.width), tag=(heading(3),)),),
            opens=True,
            keep=True,
            head=self.head(self.title),
        )
        for each in (*remarks(plan), *cautions(plan)):
            yield Row((Cell(builder.plain(words.SMALL, each, min(builder.width, 150))),), space=1.4)
        exercises = {found.exercise.slug: found.exercise for found in self.music.values()}
        stated = [each for each in exercises.values() if each.source or each.publishable]
        yield from rights(builder, stated, name=True, space=4.0)


_MODEL: Tag = (Element("Div", "model"),)
"""What holds a model with the letter of its key."""


def _drones(music: BlockMusic) -> Said:
    """The drones of a block's keys, in their order; empty without one."""
    drones = (placed.setting.drone for placed in music.placed)
    names = list(dict.fromkeys(drone.spoken for drone in drones if drone is not None))
    if not names:
        return NOTHING
    found = names[0]
    for name in names[1:]:
        found = phrase("{first}, then {second}", first=found, second=name)
    return found


def _minutes(seconds: int) -> str:
    """A length in whole minutes, rounded up: `4 min`."""
    return f"{ceil(seconds / 60)} min"


def boxed(style: Style, said: str, width: float) -> Text:
    """Words of any origin behind a box to tick, broken into lines of at most `width` millimetres."""
    plain = text(style, said, width - _BOX)
    lines = words.broken(plain.words, style, width - _BOX)
    return Text(style, plain.words, checkbox_lines(lines))
