"""An exercise in the book: an opening with its line and its ways of playing, then every key in one stream."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial

from ..book.edition import ExerciseEdition, Step, Way, edition_of
from ..book.pieces import InstrumentBook, Rendition, SettingPieces
from ..cache.store import CacheStore
from ..engrave.breaks import lines
from ..engrave.scheduler import STAND, BackgroundThread, Engravings, Failure, Layout, Piece, Pool, engrave_all
from ..jobs.progress import Progress
from ..music.exercise import DIRECTION_TEXT
from ..music.score import Score
from ..music.transpositions import Setting
from ..paper import text as words
from ..paper.flow import Cell, Music, Row, RowOptions, Thumb
from ..paper.page_format import BOUND_WIDTH
from ..paper.tags import Element, Tag, heading, list_item
from .exercise_rows import RowBuilder

LARGE = 1.2
"""So much larger than the rest is the line at an exercise's opening."""

_SPACING = 1.2
"""Staff spaces that a note twice as long takes more: closer than where a line stands alone."""

_GUTTER = 5.0
_LANE = 12.0
_WIDE_LANE = 17.0
"""Millimetres: between columns, and left of a line for its key; the last where there is one column."""

_NUMBER = 8.0
"""Millimetres from the number of a way of playing to its name."""

_DRONE_DROP = 6.0
"""Millimetres from a key's letter down to its drone."""

_MOST_COLUMNS = 3
_KEPT_SYSTEMS = 4
"""Lines of one key that stay on one page."""


@dataclass(frozen=True, slots=True)
class Columns:
    """How many pieces stand side by side, and the width of each one's music in millimetres."""

    count: int
    lane: float
    width: float

    def left_of(self, number: int) -> float:
        """Millimetres from the page's text to a column's lane, from 0."""
        return number * (self.lane + self.width + _GUTTER)


def columns(count: int, letters: float = 1.0) -> Columns:
    """The grid of a bound page for so many columns, with `letters` times as large as usual."""
    lane = round((_LANE if count > 1 else _WIDE_LANE) * letters, 2)
    return Columns(count, lane, round((BOUND_WIDTH - _GUTTER * (count - 1)) / count - lane, 2))


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
        return Layout(grid.width, self.staff, alike=False) if way.whole else _way_layout(grid, self.staff)

    @property
    def step(self) -> Layout:
        """The layout of a key: the same lines in all keys, and no meter."""
        return _step_layout(self.step_columns, self.staff)


def _way_layout(grid: Columns, staff: float) -> Layout:
    return Layout(grid.width, staff, _SPACING, alike=False)


def _step_layout(grid: Columns, staff: float) -> Layout:
    return Layout(grid.width, staff, _SPACING, meter=False)


def letters_for(staff: float) -> float:
    """How many times as large as usual words are beside a staff of so many printer's points.

    They grow with it, but by two fifths at most: the page has no room for more.
    """
    return round(min(1.4, max(1.0, staff / STAND.staff)), 2)


def layouts_of(edition: ExerciseEdition, staff: float) -> EditionLayouts:
    """As many columns as the longest piece leaves room for."""
    large = Layout(round(BOUND_WIDTH / LARGE, 2), staff, alike=False)
    letters = letters_for(staff)
    ways = (
        columns(1, letters)
        if way.whole or way.shown.score is None
        else _grid([way.shown], 2, letters, partial(_way_layout, staff=staff))
        for way in edition.ways
    )
    cells = [step.cell for step in edition.steps]
    steps = _grid(cells, _MOST_COLUMNS, letters, partial(_step_layout, staff=staff))
    return EditionLayouts(large, tuple(ways), steps, staff)


def _grid(
    parts: Sequence[Rendition], most: int, letters: float, layout_of: Callable[[Columns], Layout]
) -> Columns:
    """The most columns in which each of some pieces has one line."""
    scores = [part.score for part in parts if part.score is not None]
    grids = (columns(count, letters) for count in range(most, 1, -1))
    fitting = (grid for grid in grids if all(_is_one_line(score, layout_of(grid)) for score in scores))
    return next(fitting, columns(1, letters))


def _is_one_line(score: Score, layout: Layout) -> bool:
    return not lines(score, layout.room, layout.spacing, layout.meter, layout.alike).ends


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


def editions_known(
    found: Iterable[InstrumentBook], keys: dict[str, str], failures: dict[str, Failure], store: CacheStore
) -> Engravings[str]:
    """The same as `engrave_editions` gives, in a process that engraves nothing of it unless it must."""

    @cache
    def pieces() -> dict[str, Piece]:
        editions = (edition for each in found for edition in editions_of(each))
        return {piece.name: piece for edition in editions for piece in pieces_of(edition)}

    return Engravings(keys, lambda name: pieces()[name], store, failures)


KeyMark = Callable[[Step], str]


def edition_rows(
    builder: RowBuilder,
    edition: ExerciseEdition,
    layouts: EditionLayouts,
    key_mark: KeyMark,
    row: RowOptions,
) -> Iterator[Row]:
    """An exercise whole; `key_mark` names the place where a key begins."""
    yield from _opening(builder, edition, row)
    if edition.home is None:
        return
    yield from _line(builder, edition.home)
    yield from _ways(builder, edition.ways, layouts)
    yield from _steps(builder, edition, layouts, key_mark)


def _opening(builder: RowBuilder, edition: ExerciseEdition, row: RowOptions) -> Iterator[Row]:
    """Name and tempo, purpose, points to attend to, and what some keys leave out."""
    exercise = edition.exercise
    options: RowOptions = {**row, "keep": True}
    title = builder.text(words.EXERCISE, exercise.title, builder.width * 0.75)
    yield Row(
        (Cell(title), Cell(words.tempo(builder.style(words.STAND_TEXT), exercise.tempo), 1.0)), **options
    )
    if exercise.purpose:
        yield builder.line(words.PURPOSE, exercise.purpose, space=2.0, keep=True)
    if exercise.about:
        yield builder.line(words.READ_TEXT, exercise.about, space=2.0, keep=True)
    for number, point in enumerate(exercise.attend):
        said = point[:1].upper() + point[1:]
        point_text = builder.text(words.READ_TEXT, said, builder.width - 12)
        cell = Cell(point_text, indent=6.0, tag=list_item(number, "LBody"))
        bullet = Cell(builder.text(words.READ_TEXT, "–", 6.0), indent=1.0, tag=list_item(number, "Lbl"))
        yield Row((bullet, cell), space=0.6 if number else 2.4, keep=True, tag=(Element("L", "focus"),))
    for number, remark in enumerate(edition.remarks):
        yield builder.line(words.ASIDE, remark, space=0.6 if number else 2.4, keep=True)


def _line(builder: RowBuilder, home: Step) -> Iterator[Row]:
    """The line as its author wrote it, large."""
    drone = home.setting.drone
    if drone is not None:
        said = f"Drone: {drone.spoken}"
        cells = (
            Cell(builder.text(words.STAND_TEXT, said, 60)),
            Cell(words.rule(builder.style(words.STAND_TEXT), 40), indent=3, after=True),
        )
        yield Row(cells, space=5.0, keep=True)
    yield from _systems(builder, home.cell, 0.0, 8.0, scale=LARGE)


def _systems(
    builder: RowBuilder,
    part: Rendition,
    left: float,
    space: float,
    scale: float = 1.0,
    beside: tuple[Cell, ...] = (),
    begun: RowOptions | None = None,
    tag: Tag = (),
) -> Iterator[Row]:
    """The systems of a piece one below another; `beside` and `begun` belong to the first."""
    strip = builder.strips(part.name)
    if isinstance(strip, Failure):
        said = f"The engraver could not write this out: {strip.said}"
        yield builder.line(words.ASIDE, said, space=space, tag=tag)
        return
    count = len(strip.lines)
    for number in range(count):
        music = Cell(Music(part.name, number, scale), indent=left)
        options: RowOptions = {
            "space": 3.5 if number else space,
            "stretch": _STRETCH,
            "cost": _WITHIN if number else _BETWEEN,
            "turn": _TURN if number else 0.0,
            "keep": number + 1 < count <= _KEPT_SYSTEMS,
            "tag": tag,
        }
        if number == 0:
            options |= begun or {}
        yield Row((music,) if number else (*beside, music), **options)


_WAYS = Element("Div", "ways")
_KEYS = Element("Div", "keys")
"""What holds the ways of playing, and the keys of one direction."""


def _section(number: int) -> Element:
    """What holds a way of playing or a key: its name and its music belong together, whatever is beside."""
    return Element("Sect", f"{number}")


# What a page beginning at a place costs, as in exercise_rows.py.
_WITHIN = 70.0
_TURN = 130.0
_BETWEEN = 2.0
_BEFORE_HEADING = 1.0

_STRETCH = 0.07
"""Room above a line grows by an eighth at most, so that pages keep one rhythm; the rest stays at the foot."""


def _ways(builder: RowBuilder, ways: Sequence[Way], layouts: EditionLayouts) -> Iterator[Row]:
    """The numbered ways in their order: two short ones side by side, the others over the whole width."""
    if not ways:
        return
    yield builder.line(words.SECTION, "Ways of playing", space=9.0, cost=_BEFORE_HEADING, keep=True)
    waiting = list(zip(ways, layouts.way_columns, strict=True))
    while waiting:
        way, grid = waiting.pop(0)
        if grid.count == 2:
            pair = [way]
            if waiting and waiting[0][1].count == 2:
                pair.append(waiting.pop(0)[0])
            yield from _abreast(builder, pair, grid)
            continue
        yield from _way_words(builder, [way], grid, 6.0)
        if way.shown.score is not None:
            tag = (_WAYS, _section(way.number))
            yield from _systems(builder, way.shown, grid.lane, 1.0, tag=tag)


def _abreast(builder: RowBuilder, pair: Sequence[Way], grid: Columns) -> Iterator[Row]:
    yield from _way_words(builder, pair, grid, 6.0)
    cells = [
        Cell(
            Music(way.shown.name, 0),
            indent=grid.left_of(column) + grid.lane,
            tag=(_section(way.number),),
        )
        for column, way in enumerate(pair)
        if way.shown.score is not None and not isinstance(builder.strips(way.shown.name), Failure)
    ]
    if cells:
        yield Row(tuple(cells), space=1.0, tag=(_WAYS,))


def _way_words(builder: RowBuilder, ways: Sequence[Way], grid: Columns, space: float) -> Iterator[Row]:
    """Numbers and names, and below them what each asks for."""
    heads: list[Cell] = []
    asks: list[Cell] = []
    for column, way in enumerate(ways):
        left = grid.left_of(column)
        number = builder.text(words.STAND_TEXT, f"{way.number}", grid.lane)
        section = _section(way.number)
        head = section, heading(5, "head")
        heads.append(Cell(number, indent=left + grid.lane - _NUMBER * builder.letters, tag=head))
        name = builder.text(words.STAND_TEXT, way.name, grid.width)
        heads.append(Cell(name, indent=left + grid.lane, tag=head))
        said = " ".join(filter(None, (way.means, way.remark)))
        if said:
            asked = builder.text(words.WAY, said, grid.width)
            asks.append(Cell(asked, indent=left + grid.lane, tag=(section,)))
    yield Row(tuple(heads), space=space, stretch=_STRETCH, cost=_BETWEEN, keep=True, tag=(_WAYS,))
    if asks:
        goes_on = any(way.shown.score is not None for way in ways)
        yield Row(tuple(asks), space=0.4, keep=goes_on, tag=(_WAYS,))


def _steps(
    builder: RowBuilder, edition: ExerciseEdition, layouts: EditionLayouts, key_mark: KeyMark
) -> Iterator[Row]:
    """Every key in the order of travel, a heading where the direction changes."""
    grid = layouts.step_columns
    begun: set[str] = set()
    for direction, steps in _directions(edition.steps):
        heading = DIRECTION_TEXT[direction]
        said = heading[:1].upper() + heading[1:] if heading else "Through the keys"
        yield builder.line(words.SECTION, said, space=9.0, cost=_BEFORE_HEADING, keep=True)
        for place in range(0, len(steps), grid.count):
            group = steps[place : place + grid.count]
            fresh = list(dict.fromkeys(key_mark(step) for step in group if key_mark(step) not in begun))
            begun.update(fresh)
            begins: RowOptions = {"thumbs": tuple(map(_thumb, group)), "more_marks": tuple(fresh)}
            space = 2.5 if place == 0 else 5.5
            if grid.count == 1:
                beside = _beside(builder, group[0].setting, grid, 0.0)
                tag = (_KEYS, _section(place))
                yield from _systems(builder, group[0].cell, grid.lane, space, 1.0, beside, begins, tag)
            else:
                options: RowOptions = {"space": space, "stretch": _STRETCH, "cost": _BETWEEN, **begins}
                options["tag"] = (_KEYS,)
                yield Row(_abreast_cells(builder, group, grid, place), **options)


def _abreast_cells(builder: RowBuilder, group: Sequence[Step], grid: Columns, place: int) -> tuple[Cell, ...]:
    """Short lines side by side, each with its key; `place` is the first one's in its direction."""
    cells: list[Cell] = []
    for column, step in enumerate(group):
        left = grid.left_of(column)
        if not isinstance(builder.strips(step.cell.name), Failure):
            tag = (_section(place + column),)
            beside = _beside(builder, step.setting, grid, left)
            cells += (replace(cell, tag=tag + cell.tag) for cell in beside)
            cells.append(Cell(Music(step.cell.name, 0), indent=left + grid.lane, tag=tag))
    return tuple(cells)


def _directions(steps: Sequence[Step]) -> list[tuple[str, list[Step]]]:
    """Steps in runs of one direction."""
    runs: list[tuple[str, list[Step]]] = []
    for step in steps:
        if not runs or runs[-1][0] != step.setting.direction:
            runs.append((step.setting.direction, []))
        runs[-1][1].append(step)
    return runs


def _beside(builder: RowBuilder, setting: Setting, grid: Columns, left: float) -> tuple[Cell, ...]:
    """A key's letter beside its line, with the drone's name below it."""
    by_pitch = setting.exercise.travel.by_pitch
    style = builder.style(words.KEY_LETTER if grid.count == 1 else words.SMALL_KEY_LETTER)
    if by_pitch:
        letter = words.note_name(style, setting.start.letter, setting.start.alter, str(setting.start.octave))
    else:
        letter = words.note_name(style, setting.called.letter, setting.called.alter)
    cells = [Cell(letter, indent=left)]
    if setting.drone is not None:
        drone = setting.drone
        name = words.note_name(builder.style(words.SMALL), drone.letter, drone.alter, str(drone.octave))
        drop = _DRONE_DROP * builder.letters
        tag = (Element("P", "drone"),)
        cells.append(Cell(builder.text(words.SMALL, "drone", grid.lane), indent=left, drop=drop, tag=tag))
        cells.append(Cell(name, indent=1.0, drop=drop, after=True, tag=tag))
    return tuple(cells)


def _thumb(step: Step) -> Thumb:
    key = step.setting.called
    return Thumb(key.pitch_class, words.note_name(words.THUMB, key.letter, key.alter))
