"""What flows over the pages: rows of engraved music and words, and how they are measured."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TypedDict

from .extracted_piece import ExtractedPiece
from .page_breaks import FORBIDDEN, BreakableBlock
from .tags import RowTagger, Tag, is_artifact
from .text import Style, Text


@dataclass(frozen=True, slots=True)
class PageOf:
    """The number of the page on which a marked place comes to lie, in the letters of a style."""

    mark: str
    style: Style


@dataclass(frozen=True, slots=True)
class Music:
    """A system of an engraved piece, by the piece's name, counted from 0; `scale` makes it larger."""

    piece: str
    system: int
    scale: float = 1.0


@dataclass(frozen=True, slots=True)
class Cell:
    """A thing in a row: words, a page's number, one system of a piece, or the line of a picture's piece.

    `at` is 0 where it stands at the left edge and 1 at the right; `indent` moves it right by millimetres, and
    `drop` down. `after` puts it behind the cell before it instead. Systems side by side have their highest
    staves in one line, and words beside them stand level with those. `tag` leads from the row's element to
    that which holds it.
    """

    what: Text | PageOf | Music | ExtractedPiece
    at: float = 0.0
    indent: float = 0.0
    drop: float = 0.0
    after: bool = False
    tag: Tag = ()


@dataclass(frozen=True, slots=True)
class Thumb:
    """A mark at a page's outer edge, where a thumb finds it: its place of twelve from the top, a letter."""

    place: int
    text: Text


class RowOptions(TypedDict, total=False):
    """What may be said of a row besides its cells, as in `Row`."""

    space: float
    stretch: float
    cost: float
    turn: float
    keep: bool
    height: float
    opens: bool
    opens_right: bool
    blank: float
    mark: str
    link: str
    head: str | None
    leader: bool
    thumbs: tuple[Thumb, ...]
    more_marks: tuple[str, ...]
    tag: Tag


@dataclass(frozen=True, slots=True)
class Row:
    """Cells side by side, and how they stand on a page.

    `space`, `stretch`, `cost`, `turn`, `opens`, `opens_right` and `blank` are as in
    `page_breaks.BreakableBlock`. `keep` holds the next row on the same page. `height` is the least height.
    `mark` and `more_marks` name the place, `link` leads to another. `head` is the running head from here on,
    None where it stays. `leader` draws dots between two cells. `thumbs` stand at the outer edge of its page.
    `tag` leads to the element that holds all its cells, as in `tags.RowTagger`.
    """

    cells: tuple[Cell, ...] = ()
    space: float = 0.0
    stretch: float = 0.0
    cost: float = 0.0
    turn: float = 0.0
    keep: bool = False
    height: float = 0.0
    opens: bool = False
    opens_right: bool = False
    blank: float = 0.0
    mark: str = ""
    link: str = ""
    head: str | None = None
    leader: bool = False
    thumbs: tuple[Thumb, ...] = ()
    more_marks: tuple[str, ...] = ()
    tag: Tag = ()

    @property
    def marks(self) -> Iterator[str]:
        """Every name of its place."""
        return filter(None, (self.mark, *self.more_marks))

    @property
    def texts(self) -> Iterator[Text]:
        """The words in it."""
        yield from (cell.what for cell in self.cells if isinstance(cell.what, Text))
        yield from (thumb.text for thumb in self.thumbs)

    @property
    def musical(self) -> bool:
        """Whether there is a system of music in it."""
        return any(isinstance(cell.what, Music) for cell in self.cells)


@dataclass(frozen=True, slots=True)
class Placed:
    """A line of a piece in a row: its left end, its right and its top, in millimetres from the row's corner.

    `strip`, `line`, `scale` and `tag` are as in `page.PlacedSystem`.
    """

    strip: ExtractedPiece | str
    line: int
    left: float
    right: float
    top: float
    scale: float = 1.0
    tag: Tag = ()


@dataclass(frozen=True, slots=True)
class Numbered:
    """A page number still to come: which, its place (as in `Cell`), its baseline in the line, its link."""

    what: PageOf
    at: float
    indent: float
    baseline: float
    tag: Tag


@dataclass(frozen=True, slots=True)
class Line:
    """A measured line of the flow; `first` where it is its row's first, `tag` its row's link."""

    row: Row
    box: BreakableBlock
    placed: tuple[Placed, ...]
    numbered: tuple[Numbered, ...]
    first: bool
    tag: Tag = ()


Strips = Callable[[str], ExtractedPiece]
"""A piece's measures by its name."""


def measure_row(
    rows: Iterable[Row], lettered: Mapping[Text, ExtractedPiece], strips: Strips, width: float
) -> list[Line]:
    """Rows as single lines: words that were broken make several, a system of music is one."""
    lines: list[Line] = []
    kept = False
    tagger = RowTagger()
    for row in rows:
        tagger.begin_row(row.tag, bool(row.link))
        for number, line in enumerate(_lines(row, lettered, strips, width, tagger)):
            held = kept and number == 0
            lines.append(replace(line, box=replace(line.box, cost=FORBIDDEN)) if held else line)
        kept = row.keep
    return lines


def _lines(
    row: Row, lettered: Mapping[Text, ExtractedPiece], strips: Strips, width: float, tagger: RowTagger
) -> Iterator[Line]:
    texts = [cell.what for cell in row.cells if isinstance(cell.what, Text)]
    depth = max((len(lettered[words].lines) for words in texts), default=1)
    styles = [cell.what.style for cell in row.cells if isinstance(cell.what, (Text, PageOf))]
    spread = list(_spread(row, lettered, strips, width))
    tags = [_tag(cell, number, tagger) for number, cell in enumerate(row.cells)]
    inked = [tag for cell, tag in zip(row.cells, tags, strict=True) if not isinstance(cell.what, PageOf)]
    row_link = tagger.row_link() if row.link else ()
    axis = max(
        (_middle(cell.what, strip) for cell, strip, *_ in spread if isinstance(cell.what, Music)),
        default=None,
    )
    leading = max((style.leading for style in styles), default=0.0) if axis is None else 0.0
    ascent = max((style.ascent for style in styles), default=0.0)
    for number in range(depth):
        placed = []
        height = leading
        for (cell, strip, left, extent), tag in zip(spread, inked, strict=True):
            if isinstance(cell.what, Music):
                system = strip.lines[cell.what.system]
                scale = cell.what.scale
                top = (axis or 0.0) - _middle(cell.what, strip)
                height = max(height, top + system.height * scale)
                right = left + system.right * scale
                placed.append(Placed(cell.what.piece, cell.what.system, left, right, top, scale, tag))
                continue
            if number >= len(strip.lines):
                continue
            line = strip.lines[number]
            top = cell.drop
            if isinstance(cell.what, Text):
                style = cell.what.style
                baseline = ascent if axis is None else axis + style.capital / 2 + number * style.leading
                top += baseline - (line.baseline or 0.0)
            else:
                height = max(height, line.height)
            shift = 0.0 if cell.after else cell.at * (extent - line.right)
            placed.append(Placed(strip, number, left + shift, left + shift + line.right, top, 1.0, tag))
        if number:
            # Neither the first line of a paragraph nor its last stands alone.
            alone = number == 1 or number == depth - 1
            yield Line(
                row,
                BreakableBlock(height, cost=FORBIDDEN if alone else 10.0),
                tuple(placed),
                (),
                False,
                row_link,
            )
            continue
        numbered = tuple(
            Numbered(cell.what, cell.at, cell.indent, ascent, tag)
            for cell, tag in zip(row.cells, tags, strict=True)
            if isinstance(cell.what, PageOf)
        )
        box = BreakableBlock(
            max(height, row.height),
            space=row.space,
            stretch=row.stretch,
            cost=row.cost,
            turn=row.turn,
            system=row.musical,
            opens=row.opens,
            opens_right=row.opens_right,
            blank=row.blank,
        )
        yield Line(row, box, tuple(placed), numbered, True, row_link)


def _tag(cell: Cell, number: int, tagger: RowTagger) -> Tag:
    """The element of a cell, counted from 0; none for a ruled line and for a picture without words."""
    what = cell.what
    if isinstance(what, Text):
        silent = is_artifact(cell.tag) if cell.tag else not what.words
        return () if silent else tagger.words(number, cell.tag, what.style.rank, what.said)
    if isinstance(what, PageOf):
        return tagger.link(number, cell.tag)
    if cell.tag and is_artifact(cell.tag):
        return ()
    if isinstance(what, Music):
        return tagger.music(cell.tag, what.piece, what.system)
    return tagger.picture(number, cell.tag) if cell.tag else ()


def _middle(music: Music, strip: ExtractedPiece) -> float:
    """Millimetres from a system's top to its highest staff's middle line."""
    return (strip.lines[music.system].baseline or 0.0) * music.scale


def _spread(
    row: Row, lettered: Mapping[Text, ExtractedPiece], strips: Strips, width: float
) -> Iterator[tuple[Cell, ExtractedPiece, float, float]]:
    """Each cell with its ink, its left end and its extent to the right."""
    right = 0.0
    for cell in row.cells:
        if isinstance(cell.what, PageOf):
            continue
        if isinstance(cell.what, Music):
            strip = strips(cell.what.piece)
            extent = strip.lines[cell.what.system].right * cell.what.scale
        else:
            strip = cell.what if isinstance(cell.what, ExtractedPiece) else lettered[cell.what]
            extent = max(line.right for line in strip.lines)
        left = cell.indent + (right if cell.after else cell.at * (width - extent))
        right = left + extent
        yield cell, strip, left, extent


def all_texts(rows: Iterable[Row]) -> Iterator[Text]:
    """Every text of some rows."""
    return (found for row in rows for found in row.texts)
