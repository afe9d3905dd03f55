"""The music of daily sets: what of each block is engraved, and how its keys stand on the page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

from ..book.edition import Step, line_alone, on_the_way, shown_way
from ..book.pieces import AS_WRITTEN, InstrumentBook, KeyPage, Rendition, SettingPieces
from ..daily.blocks import Block
from ..engrave.breaks import SPACING
from ..engrave.piece import Layout, Piece
from ..music.exercise import Exercise
from ..music.score import Score
from ..paper.page_format import PageFormat
from ..variations.models import changes_notes, is_in_its_model
from .edition_layouts import (
    CLOSE,
    MOST_COLUMNS,
    Columns,
    columns,
    fitting_columns,
    letters_for,
    model_layout,
    step_layout,
)

_MOST_MODELS = 2
"""Columns of which a model may take one."""

_FEW_KEYS = 2
"""A run of so many long pieces is written out, for its models would leave too much to be guessed."""


@dataclass(frozen=True, slots=True)
class Pass:
    """A block's keys gone through once in a way: each key written out, or one as a model for all.

    `means` is what the way asks for.
    """

    way: str
    means: str
    steps: tuple[Step, ...]
    grid: Columns
    layout: Layout
    model: bool = False

    @property
    def pieces(self) -> Iterator[Piece]:
        """Its music, to be engraved."""
        for step in self.steps:
            if step.cell.score is not None:
                yield Piece(step.cell.name, step.cell.score, self.layout)


@dataclass(frozen=True, slots=True)
class BlockMusic:
    """A block, its exercise, the settings of its keys, and the passes through them in their order."""

    block: Block
    exercise: Exercise
    placed: tuple[SettingPieces, ...]
    passes: tuple[Pass, ...]


@dataclass(frozen=True, slots=True)
class _Found:
    """A piece of the book: its page, its setting and its part."""

    page: KeyPage
    placed: SettingPieces
    part: Rendition

    @property
    def scores(self) -> tuple[Score, Score]:
        """Its key as written, and in its way."""
        plain, varied = self.placed.parts[0].score, self.part.score
        assert plain is not None
        assert varied is not None  # only what can be played comes in a plan
        return plain, varied


def _changes(found: _Found) -> bool:
    """Whether its way changes the notes."""
    return changes_notes(*found.scores)


class BlockPages:
    """Makes the music of blocks of an instrument's book for pages of one form."""

    def __init__(self, book: InstrumentBook, form: PageFormat) -> None:
        self._form = form
        self._staff = form.layout.staff
        self._letters = letters_for(self._staff)
        self._found = {
            part.name: _Found(page, placed, part)
            for _, pages in book.exercises
            for page in pages
            for placed in page.placed
            for part in placed.parts
        }

    def music(self, block: Block) -> BlockMusic:
        """A block's music."""
        runs: dict[str, list[_Found]] = {}
        for item in block.items:
            runs.setdefault(item.variation, []).append(self._found[item.name])
        first = next(iter(runs.values()))
        return BlockMusic(
            block,
            first[0].page.exercise,
            tuple(found.placed for found in first),
            tuple(self._pass(way, run, block.plain_first) for way, run in runs.items()),
        )

    def _pass(self, way: str, run: Sequence[_Found], plain_first: bool) -> Pass:
        means = run[0].part.means
        if way == AS_WRITTEN:
            return self._written_out(way, means, [_plain(found) for found in run], CLOSE)
        if plain_first and self._is_modelled(run):
            return self._model(way, means, run[0])
        spacing = SPACING if _changes(run[0]) else CLOSE
        return self._written_out(way, means, [_varied(found) for found in run], spacing)

    def _is_modelled(self, run: Sequence[_Found]) -> bool:
        """Whether a model shows enough of a way whose keys were played as written before it."""
        if _changes(run[0]):
            return False
        if len(run) > _FEW_KEYS or is_in_its_model(*run[0].scores):
            return True
        return self._grid([_plain(found) for found in run], CLOSE, meter=False).count > 1

    def _model(self, way: str, means: str, found: _Found) -> Pass:
        shown = replace(found.part, score=shown_way(*found.scores, whole=False))
        layout = partial(model_layout, staff=self._staff)
        grid = fitting_columns([shown], _MOST_MODELS, self._letters, layout, self._form.width)
        step = _step(found, _named(shown, f"in short, {grid.count} a line"))
        return Pass(way, means, (step,), grid, layout(grid), model=True)

    def _written_out(self, way: str, means: str, cells: Sequence[Step], spacing: float) -> Pass:
        """Every key, with its meter where that takes no more rows."""
        grid = self._grid(cells, spacing, meter=True)
        without = self._grid(cells, spacing, meter=False)
        meter = grid.count >= without.count
        grid = grid if meter else without
        where = f"{grid.count} a line" if meter else f"{grid.count} a line without meter"
        steps = tuple(replace(step, cell=_named(step.cell, where)) for step in cells)
        return Pass(way, means, steps, grid, step_layout(grid, self._staff, meter, spacing))

    def _grid(self, steps: Sequence[Step], spacing: float, meter: bool) -> Columns:
        """The grid of some keys: as few columns as make no more rows."""
        layout = partial(step_layout, staff=self._staff, meter=meter, spacing=spacing)
        cells = [step.cell for step in steps]
        most = fitting_columns(cells, MOST_COLUMNS, self._letters, layout, self._form.width).count
        rows = -(-len(cells) // most)
        return columns(-(-len(cells) // rows), self._letters, self._form.width)


def _named(part: Rendition, where: str) -> Rendition:
    """A part under the name that it has in one place, where it has a layout of its own."""
    return replace(part, name=f"{part.name}, {where}")


def _step(found: _Found, cell: Rendition) -> Step:
    return Step(found.page.key, found.placed.setting, cell)


def _plain(found: _Found) -> Step:
    """A key as written."""
    return _step(found, on_the_way(line_alone(found.placed.parts[0], "alone")))


def _varied(found: _Found) -> Step:
    """A key in a way, written out."""
    shown = shown_way(*found.scores, whole=True)
    cell = replace(found.part, score=shown)
    return _step(found, on_the_way(cell) if len(shown.lines) == 1 else cell)
