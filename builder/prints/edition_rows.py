"""An exercise in the book: an opening with its line and its ways of playing, then every key in one stream."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from ..book.edition import ExerciseEdition, Step, Way, key_words
from ..book.pieces import Rendition
from ..engrave.piece import Failure
from ..music.exercise import DIRECTION_TEXT
from ..music.settings.transpositions import Setting
from ..paper import text as words
from ..paper.flow import Cell, Music, Row, RowOptions, Thumb
from ..paper.tags import Element, Tag, heading, list_item
from ..translation.catalog import Translation
from ..translation.said import capital, joined, phrase, term, term_in
from .edition_layouts import LARGE, Columns, EditionLayouts
from .exercise_rows import WITHIN_PART, RowBuilder, tempo_text

_NUMBER = 8.0
"""Millimetres from the number of a way of playing to its name."""

_DRONE_DROP = 6.0
"""Millimetres from a key's letter down to its drone."""

_NAMED = 0.75
"""So much smaller is a key beside its line where it is a word (`Cis`, `sol`) and no letter."""

_KEPT_SYSTEMS = 4
"""Lines of one key that stay on one page."""

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
    beat = Cell(tempo_text(builder.style(words.STAND_TEXT), exercise, builder.translation), 1.0)
    yield Row((Cell(title), beat), **options)
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
        said = phrase("Drone: {notes}", notes=drone.spoken)
        cells = (
            Cell(builder.text(words.STAND_TEXT, said, 60)),
            Cell(words.rule(builder.style(words.STAND_TEXT), 40), indent=3, after=True),
        )
        yield Row(cells, space=5.0, keep=True)
    yield from systems(builder, home.cell, 0.0, 8.0, scale=LARGE)


def systems(
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
        failed: RowOptions = {"space": space, "tag": tag, **(begun or {})}
        yield builder.line(words.ASIDE, strip.instead, **failed)
        return
    count = len(strip.lines)
    within = _STAVES_SPACE if _has_staves(part) else _LINE_SPACE
    for number in range(count):
        music = Cell(Music(part.name, number, scale), indent=left)
        options: RowOptions = {
            "space": within if number else space,
            "stretch": _LINE_STRETCH if number else _KEY_STRETCH,
            "cost": WITHIN_PART if number else _BETWEEN,
            "turn": _TURN if number else 0.0,
            "keep": number + 1 < count <= _KEPT_SYSTEMS,
            "tag": tag,
        }
        if number == 0:
            options |= begun or {}
        yield Row((music,) if number else (*beside, music), **options)


def _has_staves(part: Rendition) -> bool:
    return part.score is not None and len(part.score.lines) > 1


_WAYS = Element("Div", "ways")
_KEYS = Element("Div", "keys")
"""What holds the ways of playing, and the keys of one direction."""


def _section(number: int) -> Element:
    """What holds a way of playing or a key: its name and its music belong together, whatever is beside."""
    return Element("Sect", f"{number}")


# What a page beginning at a place costs, as in exercise_rows.py.
_TURN = 130.0
_BETWEEN = 2.0
_BEFORE_HEADING = 1.0

_STRETCH = 0.07
_LINE_STRETCH = 0.3
_KEY_STRETCH = 0.6
"""How willingly the room above words, a line of a key and a new key grows: by an eighth, by a half, and to
twice its size at most. Keys come to stand apart first. What then is left of a page stays at its foot."""

_LINE_SPACE = 3.5
_STAVES_SPACE = 5.5
_KEY_SPACE = 5.5
_STAVES_KEY_SPACE = 8.0
"""Millimetres above a line of a key and above a new key: with one staff, and with several."""


def _ways(builder: RowBuilder, ways: Sequence[Way], layouts: EditionLayouts) -> Iterator[Row]:
    """The numbered ways in their order: two short ones side by side, the others over the whole width."""
    if not ways:
        return
    yield builder.line(words.SECTION, term("Ways of playing"), space=9.0, cost=_BEFORE_HEADING, keep=True)
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
            yield from systems(builder, way.shown, grid.lane, 1.0, tag=tag)


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
        said = joined((way.means, way.remark))
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
    begun: set[str] = set()

    def begins(group: Sequence[Step]) -> RowOptions:
        fresh = list(dict.fromkeys(key_mark(step) for step in group if key_mark(step) not in begun))
        begun.update(fresh)
        return {
            "thumbs": tuple(_thumb(step, builder.translation) for step in group),
            "more_marks": tuple(fresh),
        }

    for direction, steps in _directions(edition.steps):
        said = capital(DIRECTION_TEXT[direction] or term("Through the keys"))
        yield builder.line(words.SECTION, said, space=9.0, cost=_BEFORE_HEADING, keep=True)
        yield from key_rows(builder, steps, layouts.step_columns, begins)


def key_rows(
    builder: RowBuilder,
    steps: Sequence[Step],
    grid: Columns,
    begins: Callable[[Sequence[Step]], RowOptions] = lambda group: {},
) -> Iterator[Row]:
    """Keys in their order, each with its letter; as many side by side as the grid has columns.

    `begins` gives the options of the row with which some keys begin.
    """
    for place in range(0, len(steps), grid.count):
        group = steps[place : place + grid.count]
        apart = _STAVES_KEY_SPACE if _has_staves(group[0].cell) else _KEY_SPACE
        space = apart if place else 2.5
        if grid.count == 1:
            beside = key_beside(builder, group[0].setting, grid, 0.0)
            tag = (_KEYS, _section(place))
            yield from systems(builder, group[0].cell, grid.lane, space, 1.0, beside, begins(group), tag)
            continue
        options: RowOptions = {"space": space, "stretch": _KEY_STRETCH, "cost": _BETWEEN, "tag": (_KEYS,)}
        cells = _abreast_cells(builder, group, grid, place)
        options |= begins(group)
        if cells:
            yield Row(cells, **options)
            options = {"space": space, "tag": (_KEYS,)}
        for step in group:
            if isinstance(failure := builder.strips(step.cell.name), Failure):
                yield builder.line(
                    words.ASIDE, joined((key_words(step.setting), failure.instead), ": "), **options
                )
                options = {"space": space, "tag": (_KEYS,)}


def _abreast_cells(builder: RowBuilder, group: Sequence[Step], grid: Columns, place: int) -> tuple[Cell, ...]:
    """Short lines side by side, each with its key; `place` is the first one's in its direction."""
    cells: list[Cell] = []
    for column, step in enumerate(group):
        left = grid.left_of(column)
        if not isinstance(builder.strips(step.cell.name), Failure):
            tag = (_section(place + column),)
            beside = key_beside(builder, step.setting, grid, left)
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


def key_beside(builder: RowBuilder, setting: Setting, grid: Columns, left: float) -> tuple[Cell, ...]:
    """A key's letter beside its line, with the drone's name below it."""
    by_pitch = setting.exercise.travel.by_pitch
    style = builder.style(words.KEY_LETTER if grid.count == 1 else words.SMALL_KEY_LETTER)
    has_names = builder.translation.names is not None
    if has_names:
        style = style.scaled(_NAMED)
    if by_pitch:
        start = setting.start
        letter = words.note_name(style, start.letter, start.alter, str(start.octave), builder.translation)
    else:
        called = setting.called
        letter = words.note_name(style, called.letter, called.alter, translation=builder.translation)
    cells = [Cell(letter, indent=left)]
    if setting.drone is not None:
        drone = setting.drone
        name = words.note_name(
            builder.style(words.SMALL), drone.letter, drone.alter, str(drone.octave), builder.translation
        )
        drop = _DRONE_DROP * builder.letters
        tag = (Element("P", "drone"),)
        label = builder.text(words.SMALL, term_in("short, beside a line", "drone"), grid.lane)
        cells.append(Cell(label, indent=left, drop=drop, tag=tag))
        if has_names:
            below = drop + builder.style(words.SMALL).leading * _NAMED
            cells.append(Cell(name, indent=left, drop=below, tag=tag))
        else:
            cells.append(Cell(name, indent=1.0, drop=drop, after=True, tag=tag))
    return tuple(cells)


def _thumb(step: Step, translation: Translation) -> Thumb:
    key = step.setting.called
    name = words.note_name(words.THUMB, key.letter, key.alter, translation=translation)
    return Thumb(key.pitch_class, name)
