"""How an exercise in the book is laid out for the engraver: its grid of columns, and its pieces."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, partial

from ..book.edition import ExerciseEdition, Way, edition_of
from ..book.pieces import InstrumentBook, Rendition, SettingPieces
from ..cache.store import CacheStore
from ..engrave.breaks import lines
from ..engrave.engravings import Engravings
from ..engrave.piece import STAND, Failure, Layout, Piece, Use
from ..engrave.processes.background import BackgroundThread
from ..engrave.processes.scheduler import Pool, engrave_all
from ..jobs.progress import Progress
from ..music.score import Score
from ..paper.page_format import BOUND_WIDTH
from .parts import duet_parts

LARGE = 1.2
"""So much larger than the rest is the line at an exercise's opening."""

CLOSE = 1.2
"""Staff spaces that a note twice as long takes more: closer than where a line stands alone."""

_GUTTER = 5.0
_LANE = 12.0
_WIDE_LANE = 17.0
"""Millimetres: between columns, and left of a line for its key; the last where there is one column."""

MOST_COLUMNS = 3
"""Keys that stand side by side at most."""


@dataclass(frozen=True, slots=True)
class Columns:
    """How many pieces stand side by side, and the width of each one's music in millimetres."""

    count: int
    lane: float
    width: float

    def left_of(self, number: int) -> float:
        """Millimetres from the page's text to a column's lane, from 0."""
        return number * (self.lane + self.width + _GUTTER)


def columns(count: int, letters: float = 1.0, width: float = BOUND_WIDTH) -> Columns:
    """The grid of a page for so many columns, with letters `letters` times as large as usual.

    `width` is that of the page's text in millimetres.
    """
    lane = round((_LANE if count > 1 else _WIDE_LANE) * letters, 2)
    return Columns(count, lane, round((width - _GUTTER * (count - 1)) / count - lane, 2))


@dataclass(frozen=True, slots=True)
class EditionLayouts:
    """How an exercise's pieces are laid out: its large line, its ways of playing, and its keys.

    `way_columns` are the grids of the ways, in their order; `staff` is in printer's points.
    """

    large: Layout
    way_columns: tuple[Columns, ...]
    step_columns: Columns
    staff: float

    def way(self, way: Way, grid: Columns) -> Layout:
        """The layout of a way of playing: one that is written out has more room for its signs."""
        return (
            Layout(grid.width, self.staff, alike=False, use=Use.PAPER)
            if way.whole
            else model_layout(grid, self.staff)
        )

    @property
    def step(self) -> Layout:
        """The layout of a key: the same lines in all keys, and no meter."""
        return step_layout(self.step_columns, self.staff)


def model_layout(grid: Columns, staff: float) -> Layout:
    """The layout of a model of a way of playing."""
    return Layout(grid.width, staff, CLOSE, alike=False, use=Use.PAPER)


def step_layout(grid: Columns, staff: float, meter: bool = False, spacing: float = CLOSE) -> Layout:
    """The layout of a key among others: the same lines in all keys."""
    return Layout(grid.width, staff, spacing, meter, use=Use.PAPER)


def letters_for(staff: float) -> float:
    """How many times as large as usual words are beside a staff of so many printer's points.

    They grow with it, but by two fifths at most: the page has no room for more.
    """
    return round(min(1.4, max(1.0, staff / STAND.staff)), 2)


def layouts_of(edition: ExerciseEdition, staff: float) -> EditionLayouts:
    """As many columns as the longest piece leaves room for."""
    large = Layout(round(BOUND_WIDTH / LARGE, 2), staff, alike=False, use=Use.PAPER)
    letters = letters_for(staff)
    ways = (
        columns(1, letters)
        if way.whole or way.shown.score is None
        else fitting_columns([way.shown], 2, letters, partial(model_layout, staff=staff))
        for way in edition.ways
    )
    cells = [step.cell for step in edition.steps]
    steps = fitting_columns(cells, MOST_COLUMNS, letters, partial(step_layout, staff=staff))
    return EditionLayouts(large, tuple(ways), steps, staff)


def fitting_columns(
    parts: Sequence[Rendition],
    most: int,
    letters: float,
    layout_of: Callable[[Columns], Layout],
    width: float = BOUND_WIDTH,
) -> Columns:
    """The most columns of a page's `width` in which each of some pieces has one line."""
    scores = [part.score for part in parts if part.score is not None]
    grids = (columns(count, letters, width) for count in range(most, 1, -1))
    fitting = (grid for grid in grids if all(_is_one_line(score, layout_of(grid)) for score in scores))
    return next(fitting, columns(1, letters, width))


def _is_one_line(score: Score, layout: Layout) -> bool:
    found = lines(score, layout.room, layout.spacing, layout.meter, layout.alike)
    return not found.ends and not found.crowded


def pieces_of(edition: ExerciseEdition, staff: float = STAND.staff) -> Iterator[Piece]:
    """All music of an exercise in the book, to be engraved."""
    layouts = layouts_of(edition, staff)
    asked = [(edition.home.cell, layouts.large)] if edition.home else []
    ways = zip(edition.ways, layouts.way_columns, strict=True)
    asked += [(way.shown, layouts.way(way, grid)) for way, grid in ways]
    asked += [(step.cell, layouts.step) for step in edition.steps]
    for part, layout in asked:
        if part.score is not None:
            yield Piece(part.name, part.score, layout)


def engrave_editions(
    editions: Iterable[ExerciseEdition],
    staff: float = STAND.staff,
    pool: Pool | None = None,
    progress: Progress | None = None,
    behind: BackgroundThread | None = None,
) -> Engravings[str]:
    """Engrave all music of exercises in the book, as `engrave_all` does it. Raises EngraverMissing."""
    pieces = {piece.name: piece for edition in editions for piece in pieces_of(edition, staff)}
    return engrave_all(pieces, pieces.__getitem__, pool, progress, None, behind)


def editions_of(
    found: InstrumentBook,
    wanted: Callable[[Rendition], bool] = lambda part: True,
    cautions: Callable[[SettingPieces], tuple[str, ...]] = lambda placed: (),
) -> list[ExerciseEdition]:
    """The exercises of an instrument's book, as the book prints them; the rest as in `edition_of`."""
    return [edition_of(exercise, pages, wanted, cautions) for exercise, pages in found.exercises]


def site_editions(found: Sequence[InstrumentBook]) -> Iterator[ExerciseEdition]:
    """Everything that a site offers of the book edition: its exercises, and the parts of duets alone."""
    return (edition for each in (*found, *duet_parts(found)) for edition in editions_of(each))


def editions_known(
    found: Sequence[InstrumentBook], keys: dict[str, str], failures: dict[str, Failure], store: CacheStore
) -> Engravings[str]:
    """The same as `engrave_editions` gives, in a process that engraves nothing of it unless it must."""

    @cache
    def pieces() -> dict[str, Piece]:
        return {piece.name: piece for edition in site_editions(found) for piece in pieces_of(edition)}

    return Engravings(keys, lambda name: pieces()[name], store, failures)
