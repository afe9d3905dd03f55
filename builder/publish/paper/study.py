"""What is printed: one key, one exercise or the whole book, as rows that flow over the pages."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from builder.engrave.batch import Engraved, Failure
from builder.music.exercise import FALLING, RISING, Exercise

from ..plan import InKey, Part, Placed
from . import words
from .form import Form
from .pages import FORBIDDEN, Box, Page, paginate
from .rows import Cell, Entry, Row
from .words import Text, text
from .write import About, Ink, Leaf, pdf

Lettering = Callable[[Sequence[Text]], dict[Text, Engraved]]
"""Engraves texts."""

_DIRECTIONS = {FALLING: "going down", RISING: "going up", "": ""}


@dataclass(frozen=True, slots=True)
class Printed:
    """A finished print."""

    data: bytes
    pages: int


@dataclass(frozen=True, slots=True)
class Press:
    """What a print is made with: ink by part name, the form, and how words are engraved."""

    inked: dict[str, Engraved | Failure]
    form: Form
    lettering: Lettering


def _shown(exercise: Exercise, form: Form, heading: str, mark: str) -> Iterator[Row]:
    """An exercise's opening: its name and tempo, its purpose, what to attend to."""
    yield Row(
        (
            Cell(text(words.TITLE, heading, form.width * 0.7)),
            Cell(words.tempo(words.NUMBER, exercise.tempo, form.width * 0.3), 1.0),
        ),
        Box(0, space=9, stretch=1, cost=-20),
        mark,
    )
    if exercise.purpose:
        yield Row((Cell(text(words.ASIDE, exercise.purpose, form.width)),), Box(0, space=2, cost=FORBIDDEN))
    for point in exercise.attend:
        yield Row((Cell(text(words.SMALL, f"·  {point}", form.width)),), Box(0, space=1, cost=FORBIDDEN))


def _setting(placed: Placed, press: Press, named: bool, chosen: Callable[[Part], bool]) -> Iterator[Row]:
    setting, form = placed.setting, press.form
    register = setting.instrument.register(setting.start)
    says = ", ".join(filter(None, (f"From {setting.start.spoken}", _DIRECTIONS[setting.direction])))
    if named:
        yield Row(
            (
                Cell(text(words.HEADING, says, form.width * 0.7)),
                *(
                    [Cell(text(words.ASIDE, f"{register} register", form.width * 0.3), 1.0)]
                    if register
                    else []
                ),
            ),
            Box(0, space=6, stretch=1, cost=FORBIDDEN),
        )
    for remark in setting.remarks:
        yield Row((Cell(text(words.ASIDE, remark, form.width)),), Box(0, space=1.5, cost=FORBIDDEN))
    for part in placed.parts:
        if chosen(part):
            yield from _part(part, press)


def _part(part: Part, press: Press) -> Iterator[Row]:
    says = f"{part.label}. {part.means}".strip() if part.means else part.label
    label = Row(
        (Cell(text(words.ASIDE, says, press.form.width)),), Box(0, space=4.5, stretch=1, cost=2, turn=-1)
    )
    ink = press.inked.get(part.name) if part.score is not None else None
    if isinstance(ink, Engraved):
        yield label
        for number, system in enumerate(ink.systems):
            yield Row(
                (Cell((ink, number)),),
                Box(
                    system.bottom - system.top,
                    space=4.0 if number else 1.2,
                    stretch=1.0 if number else 0.2,
                    cost=40 if number else FORBIDDEN,
                    turn=200,
                    system=True,
                ),
            )
        return
    why = part.left_out if ink is None else f"The engraver could not write this out: {ink.said}"
    yield label
    yield Row((Cell(text(words.ASIDE, why, press.form.width)),), Box(0, space=1, cost=FORBIDDEN))


def _body(
    pages: Sequence[InKey], press: Press, heading: Callable[[InKey], str], chosen: Callable[[Part], bool]
) -> list[Row]:
    rows: list[Row] = []
    for page in pages:
        rows += _shown(page.exercise, press.form, heading(page), f"{page.exercise.slug}/{page.key}")
        for placed in page.placed:
            rows += _setting(placed, press, len(page.placed) > 1, chosen)
    return rows


def study(
    title: str,
    pages: Sequence[InKey],
    press: Press,
    heading: Callable[[InKey], str],
    about: About,
    chosen: Callable[[Part], bool] = lambda part: True,
) -> Printed:
    """Exercises in keys below one title."""
    form = press.form
    rows = [
        Row((Cell(text(words.PAGE_TITLE, title, form.width)),), mark="title"),
        *_body(pages, press, heading, chosen),
    ]
    lettered = press.lettering(
        [cell.what for row in rows for cell in row.cells if isinstance(cell.what, Text)]
    )
    flowing = [line for row in rows for line in _lines(row, lettered)]
    made = paginate([line.box for line in flowing], form.depth, single_sided=form.single_sided)
    heads = [Row((Cell(text(words.HEAD, title, form.width)),)) for _ in made]
    numbers = [text(words.NUMBER, str(number + 1), 20) for number in range(len(made))]
    lettered |= press.lettering(
        [cell.what for row in heads for cell in row.cells if isinstance(cell.what, Text)] + numbers
    )
    leaves = [
        _leaf(
            page,
            number,
            flowing,
            heads[number - 1] if number > 1 else None,
            numbers[number - 1],
            form,
            lettered,
        )
        for number, page in enumerate(made, start=1)
    ]
    outline = [Entry(0, heading(page), f"{page.exercise.slug}/{page.key}") for page in pages]
    return Printed(pdf(leaves, form, about, outline), len(leaves))


@dataclass(frozen=True, slots=True)
class _Line:
    """A row of one line, its ink measured."""

    box: Box
    cells: tuple[tuple[Engraved, int, float], ...]
    mark: str


def _lines(row: Row, lettered: dict[Text, Engraved]) -> Iterator[_Line]:
    """A row as single lines: words that were broken make several."""
    depth = max(len(lettered[cell.what].systems) if isinstance(cell.what, Text) else 1 for cell in row.cells)
    for number in range(depth):
        cells = []
        height = row.box.height
        for cell in row.cells:
            if isinstance(cell.what, Text):
                ink = lettered[cell.what]
                if number >= len(ink.systems):
                    continue
                cells.append((ink, number, cell.at))
                height = max(height, cell.what.style.leading * 0.8)
            else:
                cells.append((*cell.what, cell.at))
        box = row.box if not number else Box(0, space=0.6, cost=FORBIDDEN)
        yield _Line(
            Box(height, box.space, box.stretch, box.cost, box.turn, box.system, box.opens, box.opens_right),
            tuple(cells),
            row.mark if not number else "",
        )


def _leaf(
    page: Page,
    number: int,
    flowing: Sequence[_Line],
    head: Row | None,
    numeral: Text,
    form: Form,
    lettered: dict[Text, Engraved],
) -> Leaf:
    ink: list[Ink] = []
    marks: list[tuple[str, float]] = []

    def place(piece: Engraved, line: int, at: float, top: float, height: float) -> None:
        system = piece.systems[line]
        left = form.left + at * (form.width - system.right)
        ink.append(Ink(piece, line, left, top + height - (system.bottom - system.top)))

    for line, top in zip(flowing[page.first : page.end], page.tops, strict=True):
        y = form.top + top
        for piece, index, at in line.cells:
            place(piece, index, at, y, line.box.height)
        if line.mark:
            marks.append((line.mark, y))
    outer = 1.0 if form.is_right_hand(number) else 0.0
    place(lettered[numeral], 0, outer, form.head - 4, 4)
    if head:
        for cell in head.cells:
            if isinstance(cell.what, Text):
                place(lettered[cell.what], 0, 0.5, form.head - 4, 4)
    return Leaf(tuple(ink), tuple(marks))
