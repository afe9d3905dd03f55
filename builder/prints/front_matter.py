"""What stands before and behind the music of a whole book: title, a word to the player, contents, index."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ..daily.cautions import GENERAL
from ..music.exercise import Exercise
from ..paper import text as words
from ..paper.flow import Cell, Music, PageOf, Row, RowOptions
from ..paper.tags import ARTIFACT, Element, Tag
from ..paper.text import text
from ..translation.said import term
from .exercise_rows import RowBuilder, rights

PRACTICE = (
    term(
        "Choose an exercise for what you want to improve, not for how hard it is. Play the line as written "
        "before any of its variations, at the slower number of its tempo; treat the faster number as a "
        "limit, not a goal. You may leave out a part in brackets."
    ),
    term(
        "Play an exercise through its keys in the order of the book, or take one key a day; the index at the "
        "end lists every exercise in a key. If a line had to move to another octave to fit your instrument, "
        "the exercise says so."
    ),
    term("Of the focus points, choose one or two for today. Rest as long as you have played."),
)


@dataclass(frozen=True, slots=True)
class Chapter:
    """An exercise's place in the book."""

    exercise: Exercise
    mark: str
    keys: tuple[tuple[str, str, str], ...]
    """Each key's page address, its name here, and its mark."""


@dataclass(frozen=True, slots=True)
class Division:
    """A part of the book: its title, empty where it has none, and its exercises."""

    title: str
    chapters: tuple[Chapter, ...]
    page: str = ""
    """The mark of a page of the author's, which has no exercises."""


def title_page(
    row_builder: RowBuilder, name: str, description: str, instrument: str, vignette: str
) -> Iterator[Row]:
    """The book's name, what it is, and a line of its music."""
    yield Row(height=52, head="")
    title = row_builder.plain(words.BOOK_TITLE, name, row_builder.width * 0.95)
    if words.width_of(name, words.BOOK_TITLE) > row_builder.width * 0.95:
        title = words.halved(words.BOOK_TITLE, name, row_builder.width * 0.95) or title
    yield Row((Cell(title, 0.5),), keep=True)
    if description:
        yield Row(
            (Cell(row_builder.plain(words.LEAD, description, row_builder.width * 0.75), 0.5),),
            space=8,
            keep=True,
        )
    player = Cell(row_builder.plain(words.KEY, instrument, row_builder.width), 0.5, tag=(Element("P"),))
    yield Row((player,), space=16, keep=True)
    if vignette:
        # An ornament: the piece stands whole in its exercise.
        yield Row((Cell(Music(vignette, 0), 0.5, tag=ARTIFACT),), space=34, keep=True)


def page_heading(row_builder: RowBuilder, title: str, place: RowOptions) -> Row:
    """The title of a page, which is its running head too; `place` names it and says where it begins."""
    options: RowOptions = {"head": row_builder.say(title), "keep": True, **place}
    return Row((Cell(row_builder.plain(words.PAGE_TITLE, title, row_builder.width)),), **options)


def imprint(row_builder: RowBuilder, exercises: Sequence[Exercise]) -> Iterator[Row]:
    """Behind the title page: rights and sources."""
    yield Row(
        (Cell(row_builder.plain(words.HEADING, term("Rights and sources"), row_builder.width)),),
        opens=True,
        head="",
        keep=True,
    )
    yield from rights(row_builder, exercises, name=True, space=2.0)
    yield row_builder.line(
        words.SMALL, term("Engraved with LilyPond. Laid out and bound by Stavewright."), space=6, cost=5
    )


def word_to_the_player(row_builder: RowBuilder) -> Iterator[Row]:
    """How to practise, and cautions."""
    yield page_heading(row_builder, term("A word to the player"), {"mark": "#word", "opens_right": True})
    width = min(row_builder.width, 140)
    for number, said in enumerate(PRACTICE):
        yield Row((Cell(row_builder.plain(words.BODY, said, width)),), space=6 if not number else 3)
    yield from take_care(row_builder)


def take_care(row_builder: RowBuilder) -> Iterator[Row]:
    """Cautions, which stand in every book."""
    width = min(row_builder.width, 140)
    yield Row(
        (Cell(row_builder.plain(words.TITLE, term("Take care"), width)),), space=9, mark="#care", keep=True
    )
    for number, said in enumerate(GENERAL):
        # The cautions stay on one page.
        kept = number + 1 < len(GENERAL)
        yield Row(
            (Cell(row_builder.plain(words.BODY, said, width)),), space=4 if not number else 3, keep=kept
        )


def contents(
    row_builder: RowBuilder, divisions: Sequence[Division], before: Sequence[tuple[str, str]]
) -> Iterator[Row]:
    """Parts and exercises with their pages; each line leads to its page.

    `before` are the titles and marks of what stands before them.
    """
    yield page_heading(row_builder, term("Contents"), {"mark": "#contents", "opens": True})
    table: Tag = (Element("TOC", "contents"),)
    for number, (title, mark) in enumerate(before):
        yield _entry(row_builder, title, mark, table, space=1.6 if number else 8)
    for place, division in enumerate(divisions):
        inner = table
        if division.page:
            yield _entry(row_builder, division.title, division.page, table, space=5)
        elif division.title:
            part: Tag = (*table, Element("TOCI", f"part {place}"))
            said = row_builder.plain(words.HEADING, division.title, row_builder.width)
            yield Row((Cell(said, tag=(Element("P"),)),), space=5, keep=True, tag=part)
            inner = (*part, Element("TOC", "part"))
        for chapter in division.chapters:
            indent = 6 if division.title else 0
            yield _entry(row_builder, chapter.exercise.title, chapter.mark, inner, space=1.6, indent=indent)
            if chapter.exercise.purpose:
                purpose = row_builder.plain(words.ASIDE, chapter.exercise.purpose, row_builder.width - 40)
                tag = (*inner, Element("TOCI", chapter.mark))
                yield Row((Cell(purpose, indent=indent + 4),), space=0.2, cost=1e6, tag=tag)
    yield _entry(row_builder, term("Index by key"), "#index", table, space=8)


_NOTHING = text(words.BODY, "", 1.0)
"""For a place in a table that has nothing."""

_NAMES = 54.0
"""Millimetres of the index for the names of exercises; the keys share the rest."""


def index_by_key(
    row_builder: RowBuilder, divisions: Sequence[Division], keys: Sequence[tuple[str, str]]
) -> Iterator[Row]:
    """A table: a row for each exercise, a column for each key, and in it the page. `keys` have addresses and
    names, such as `D flat and C sharp` where exercises spell a key differently."""
    yield page_heading(row_builder, term("Index by key"), {"mark": "#index", "opens": True})
    table = Element("Table", "index")
    there = [(key, name) for key, name in keys if name]
    step = (row_builder.width - _NAMES) / max(len(there), 1)
    places = {key: _NAMES + number * step for number, (key, _) in enumerate(there)}
    names = [name.split(" and ") for _, name in there]
    for line in range(max(map(len, names), default=0)):
        # The table's first column has no heading.
        cells = [] if line else [Cell(_NOTHING, tag=(Element("TD"),))]
        cells += (
            Cell(
                words.spoken_name(words.STAND_TEXT, name[line], row_builder.translation),
                indent=places[key],
                tag=(Element("TH", key, scope="Column"),),
            )
            for (key, _), name in zip(there, names, strict=True)
            if line < len(name)
        )
        tag = (table, Element("TR", "head"))
        yield Row(tuple(cells), space=0.0 if line else 8.0, keep=True, tag=tag)
    for division in divisions:
        for chapter in division.chapters:
            title = row_builder.say(chapter.exercise.title)
            title = words.shortened(title, words.BODY, _NAMES - 4)
            name = Cell(row_builder.plain(words.BODY, title, _NAMES), tag=(Element("TH", scope="Row"),))
            marks = {page: mark for page, _, mark in chapter.keys}
            numbers = (
                Cell(
                    PageOf(marks[key], words.NUMBER) if key in marks else _NOTHING,
                    indent=places[key],
                    tag=(Element("TD", key),),
                )
                for key, _ in there
            )
            yield Row((name, *numbers), space=2.0, tag=(table, Element("TR", chapter.mark)))


def _entry(row_builder: RowBuilder, said: str, mark: str, table: Tag, space: float, indent: float = 0) -> Row:
    """A line of the contents; `table` leads to the list that has it."""
    cell = Cell(row_builder.plain(words.BODY, said, row_builder.width - 30), indent=indent)
    number = Cell(PageOf(mark, words.NUMBER), 1.0)
    tag = (*table, Element("TOCI", mark), Element("Reference", "to"))
    return Row((cell, number), space=space, link=mark, leader=True, tag=tag)
