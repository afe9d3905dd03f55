"""The rows of whole documents: the book, an exercise, a key, each bound or written out.

The book (`bound_book`, `bound_exercises`) shows the ways of playing once and the line in every key; the
others write every variation out in every key.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Unpack

from ..book.edition import ExerciseEdition, Step
from ..book.pieces import InstrumentBook, KeyPage
from ..music.exercise import Exercise
from ..music.keys import KEY_SLUGS, tonic_words
from ..paper import text as words
from ..paper.extracted_piece import ExtractedPiece
from ..paper.flow import Cell, Row, RowOptions
from ..paper.page import Entry
from ..paper.tags import heading
from ..translation.said import Said, capital, joined, listed, phrase, player, term
from . import front_matter as front
from .edition_layouts import layouts_of
from .edition_rows import edition_rows
from .exercise_rows import BEFORE_EXERCISE, BEFORE_KEY, RowBuilder, in_key, opening, rights
from .front_matter import Chapter, Division
from .own_pages import AuthorsOrder, book_plan


@dataclass(frozen=True, slots=True)
class Document:
    """A print before it is lettered: its title, all that stands in it, and its outline."""

    title: str
    rows: list[Row]
    outline: list[Entry]


@dataclass(frozen=True, slots=True)
class AboutBook:
    """What a book says of itself: its name, a description, and its author's order with her own pages."""

    name: str
    description: str
    order: AuthorsOrder


Keys = tuple[tuple[str, str, str], ...]
"""As `Chapter.keys`: each key's page address, its name here, and its mark."""


def _key_mark(exercise: Exercise, key: str) -> str:
    return f"{exercise.slug}/{key}"


def _keys_of(exercise: Exercise, names: Iterable[tuple[str, str]]) -> Keys:
    """Keys by their addresses and names."""
    return tuple((key, capital(name), _key_mark(exercise, key)) for key, name in names)


def _entries(builder: RowBuilder, keys: Keys, depth: int) -> list[Entry]:
    return [Entry(depth, builder.say(name), mark) for _, name, mark in keys]


def bound_exercises(builder: RowBuilder, editions: Sequence[ExerciseEdition], staff: float) -> Document:
    """Exercises as they stand in the book, each from a new page on."""
    rows: list[Row] = []
    titles: list[str] = []
    outline: list[Entry] = []
    one = len(editions) == 1
    for edition in editions:
        exercise = edition.exercise
        mark, title = exercise.slug if rows else "#title", builder.say(exercise.title)
        titles.append(title)
        if not one:
            outline.append(Entry(0, title, mark))
        options: RowOptions = {"mark": mark, "head": title, "opens": bool(rows)}
        rows += _bound_rows(builder, edition, staff, options)
        outline += _entries(builder, _bound_keys(edition), 0 if one else 1)
    exercises = [edition.exercise for edition in editions]
    rows += rights(builder, exercises, name=not one, space=8.0)
    return Document("; ".join(titles), rows, outline)


def bound_book(
    builder: RowBuilder,
    found: InstrumentBook,
    editions: Sequence[ExerciseEdition],
    staff: float,
    about: AboutBook,
) -> Document:
    """The book, to be played through and to be bound."""
    sections = {
        edition.exercise.slug: _Section(_bound_keys(edition), partial(_bound_rows, builder, edition, staff))
        for edition in editions
    }
    lines = (edition.home.cell.name for edition in editions if edition.home)
    first = next((line for line in lines if isinstance(builder.strips(line), ExtractedPiece)), "")
    return _book(builder, found, about, first, sections)


def _bound_keys(edition: ExerciseEdition) -> Keys:
    return _keys_of(edition.exercise, {step.key: step.setting.called.name for step in edition.steps}.items())


def _bound_rows(
    builder: RowBuilder, edition: ExerciseEdition, staff: float, options: RowOptions
) -> Iterator[Row]:
    def key_mark(step: Step) -> str:
        return _key_mark(edition.exercise, step.key)

    return edition_rows(builder, edition, layouts_of(edition, staff), key_mark, options)


def written_out_exercises(builder: RowBuilder, found: InstrumentBook, in_one_key: bool) -> Document:
    """Exercises in their keys, each below its title; the key is in the title if it is the only one."""
    one = len(found.exercises) == 1
    outline: list[Entry] = []
    rows: list[Row] = []
    titles: list[str] = []
    for exercise, pages in found.exercises:
        title = builder.say(exercise.title)
        if in_one_key:
            title = builder.say(joined((title, pages[0].name), ", "))
        mark = exercise.slug if titles else "#title"
        shown = builder.plain(words.PAGE_TITLE, title, builder.width * 0.75)
        options: RowOptions = {"mark": mark, "head": title}
        if titles:
            # In one key, several stand on a page.
            more: RowOptions = {"space": 14, "stretch": 0.2, "cost": BEFORE_EXERCISE}
            options = {**options, **(more if in_one_key else {"opens": True})}
        rows += opening(builder, exercise, shown, **options)
        if not one:
            outline.append(Entry(0, title, mark))
        titles.append(title)
        told: set[str] = set()
        for page in pages:
            if not in_one_key:
                place = page.key if one else _key_mark(exercise, page.key)
                rows.append(_key_heading(builder, page, mark=place))
                outline.append(Entry(0 if one else 1, builder.say(capital(page.name)), place))
            rows += in_key(builder, page, told)
    rows += rights(builder, [exercise for exercise, _ in found.exercises], name=not one, space=8.0)
    return Document("; ".join(titles), rows, outline)


def written_out_keys(builder: RowBuilder, found: InstrumentBook, keys: Sequence[str]) -> Document:
    """Key after key, each below its title with every exercise in it."""
    groups = [(key, pages) for key in keys if (pages := found.in_key(key))]
    outline: list[Entry] = []
    rows: list[Row] = []
    for key, pages in groups:
        title = builder.say(every_in(key_name(pages)))
        top = f"#{key}" if rows else "#title"
        begins: RowOptions = {"mark": top, "head": title, "keep": True, "opens": bool(rows)}
        rows.append(builder.line(words.PAGE_TITLE, title, **begins))
        if len(groups) > 1:
            outline.append(Entry(0, title, top))
        for page in pages:
            called = builder.say(joined((page.exercise.title, page.name), ", "))
            name = builder.plain(words.TITLE, called, builder.width * 0.75)
            mark = page.exercise.slug if len(groups) == 1 else _key_mark(page.exercise, key)
            options: RowOptions = {"mark": mark, "space": 12, "stretch": 0.2, "cost": BEFORE_EXERCISE}
            rows += opening(builder, page.exercise, name, **options)
            rows += in_key(builder, page, set())
            outline.append(Entry(min(len(groups), 2) - 1, called, mark))
    rows += rights(builder, [exercise for exercise, _ in found.exercises], name=True, space=8.0)
    every = joined((key_name(pages) for _, pages in groups), "; ")
    return Document(builder.say(every_in(every)), rows, outline)


def written_out_book(builder: RowBuilder, found: InstrumentBook, about: AboutBook) -> Document:
    """Every exercise in every key and every variation."""
    sections = {
        exercise.slug: _Section(
            _keys_of(exercise, ((page.key, page.name) for page in pages)),
            partial(_written_out_rows, builder, exercise, pages),
        )
        for exercise, pages in found.exercises
    }
    parts = (
        part.name
        for _, pages in found.exercises
        for page in pages
        for placed in page.placed
        for part in placed.parts
        if part.score is not None
        and isinstance(builder.strips(part.name), ExtractedPiece)
        and builder.chosen(part)
    )
    return _book(builder, found, about, next(parts, ""), sections)


def _written_out_rows(
    builder: RowBuilder, exercise: Exercise, pages: Iterable[KeyPage], options: RowOptions
) -> Iterator[Row]:
    title = builder.plain(words.PAGE_TITLE, exercise.title, builder.width * 0.75)
    yield from opening(builder, exercise, title, **options)
    told: set[str] = set()
    for page in pages:
        mark = _key_mark(exercise, page.key)
        yield _key_heading(
            builder, page, mark=mark, head=builder.say(joined((exercise.title, page.name), ", "))
        )
        yield from in_key(builder, page, told)


def _key_heading(builder: RowBuilder, page: KeyPage, **row: Unpack[RowOptions]) -> Row:
    cell = Cell(builder.plain(words.KEY, capital(page.name), builder.width))
    options: RowOptions = {
        "space": 9.0,
        "stretch": 1.0,
        "cost": BEFORE_KEY,
        "keep": True,
        "mark": page.key,
        **row,
    }
    return Row((cell,), **options)


@dataclass(frozen=True, slots=True)
class _Section:
    """An exercise in the book: its keys, and what makes its rows, from the options of the first."""

    keys: Keys
    rows: Callable[[RowOptions], Iterator[Row]]


def _book(
    builder: RowBuilder,
    found: InstrumentBook,
    about: AboutBook,
    vignette: str,
    sections: Mapping[str, _Section],
) -> Document:
    """Front matter, the parts in the author's order or by their kinds, an index by key.

    `vignette` names the piece below the title; `sections` are the exercises by their addresses.
    """
    exercises = [exercise for exercise, _ in found.exercises]
    chapters = [Chapter(exercise, exercise.slug, sections[exercise.slug].keys) for exercise in exercises]
    plan = book_plan(about.order, chapters, lambda: _parts_by_kind(chapters))
    name = found.instrument.name
    instrument = phrase("for {instruments}", instruments=player(name, name.lower()))
    rows = [
        *front.title_page(builder, about.name, about.description, instrument, vignette),
        *front.imprint(builder, exercises),
        *plan.front_rows(builder),
    ]
    before = [*plan.before, (term("Contents"), "#contents")]
    outline = [Entry(0, builder.say(title), mark) for title, mark in before]
    for division in plan.divisions:
        if division.page:
            rows += plan.page_rows(builder, division)
            outline.append(Entry(0, builder.say(division.title), division.page))
            continue
        depth = 0
        if division.title:
            outline.append(Entry(0, builder.say(division.title), division.chapters[0].mark))
            depth = 1
        for number, chapter in enumerate(division.chapters):
            exercise = chapter.exercise
            opens: RowOptions = {"opens": True}
            if division.title and number == 0:
                shown: RowOptions = {"keep": True, "head": builder.say(exercise.title), **opens}
                shown["tag"] = (heading(2),)
                rows.append(builder.line(words.ASIDE, division.title, **shown))
                opens = {"space": 2.0}
            first: RowOptions = {"mark": chapter.mark, "head": builder.say(exercise.title), **opens}
            title, *others = sections[exercise.slug].rows(first)
            rows += [title if division.title else _like_part(title), *others]
            outline.append(Entry(depth, builder.say(exercise.title), chapter.mark))
            outline += _entries(builder, chapter.keys, depth + 1)
    all_pages = [page for _, pages in found.exercises for page in pages]
    keys = [(key, key_name([page for page in all_pages if page.key == key])) for key in KEY_SLUGS]
    rows += front.index_by_key(builder, plan.divisions, keys)
    outline.append(Entry(0, builder.say(term("Index by key")), "#index"))
    return Document(about.name, rows, outline)


def _like_part(title: Row) -> Row:
    """The title of an exercise that stands in no part, as a heading of the parts' rank."""
    words_of_it, *beside = title.cells
    return replace(title, cells=(replace(words_of_it, tag=(heading(2),)), *beside))


def _parts_by_kind(chapters: Sequence[Chapter]) -> tuple[Division, ...]:
    """The parts of a book that has no order of its author's: a part for each kind of exercises."""
    kinds: dict[str, list[Chapter]] = {}
    for chapter in chapters:
        kinds.setdefault(chapter.exercise.kind, []).append(chapter)
    if len(kinds) == 1:
        return (Division("", tuple(next(iter(kinds.values())))),)
    return tuple(
        Division(
            phrase("Part {number}. {title}", number=number, title=capital(kind or term("other exercises"))),
            tuple(found),
        )
        for number, (kind, found) in enumerate(kinds.items(), start=1)
    )


def every_in(keys: str) -> Said:
    """The title of what has every exercise in some keys."""
    return phrase("Every exercise in {key}", key=keys)


def key_name(pages: Sequence[KeyPage]) -> Said:
    """A key page's name in words: `D flat and C sharp` where exercises spell it differently."""
    names = dict.fromkeys(tonic_words(page.name) for page in pages)
    return listed(names)
