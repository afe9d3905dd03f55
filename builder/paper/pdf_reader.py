"""A piece's PDF taken apart: each system or line of words by itself, its glyphs by their outlines.

The engraver gives every piece a file with fonts of its own that hold just the glyphs the piece needs. A book
made of whole files would carry a clef a thousand times, and a piece broken over two pages would lie hidden
on both. Here a file is read once: what it draws is sorted by system and written anew in black, and each
glyph is known by its outline, so that a book may share one font (`fonts`).

Only what the engraver draws is understood: paths and text (PDF 1.7, ISO 32000-1, 8.5 and 9.4). Anything else
is refused, so that nothing is lost in silence.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cache
from io import BytesIO
from math import inf

from pikepdf import Dictionary, Object, Page, Pdf, PdfError, parse_content_stream, unparse_content_stream

from ..engrave.piece import Engraved, System
from ..units import POINTS_PER_MM
from .extracted_piece import ExtractedPiece, ExtractedSystem, Glyph, Run
from .pdf_fonts import Face, Unreadable, faces

_UNIT = 100 * POINTS_PER_MM
"""Coordinates are written as whole hundredths of a point: short, and finer than any printer."""

_MARGIN = 1.0
"""Millimetres of the strip left of the music."""

Matrix = tuple[float, float, float, float, float, float]


def extract_piece(piece: Engraved) -> ExtractedPiece:
    """Read a piece. Raises Unreadable."""
    try:
        with Pdf.open(BytesIO(piece.pdf)) as strip:
            page = strip.pages[0]
            known = faces(page)
            reader = _Reader(known, float(page.mediabox[3]))
            reader.read(page)
    except Unreadable:
        raise
    except (PdfError, IndexError, AttributeError, KeyError, TypeError, ValueError) as error:
        raise Unreadable(f"the piece's PDF is broken: {error}") from error
    lines: list[list[_Item]] = [[] for _ in piece.systems]
    edges = [(-system.top * _UNIT, -system.bottom * _UNIT) for system in piece.systems]
    number = 0
    for item in reader.items:
        number = _system_of(item, edges, number)
        lines[number].append(item)
    used: dict[str, Glyph] = {}
    found = []
    for system, items in zip(piece.systems, lines, strict=True):
        drawn, baseline = _drawn(items, used)
        found.append(
            ExtractedSystem(
                top=round(system.top, 3),
                height=round(system.bottom - system.top, 3),
                right=round(system.right - _MARGIN, 3),
                baseline=_baseline(system, baseline),
                drawn=tuple(drawn),
            )
        )
    return ExtractedPiece(tuple(found), dict(sorted(used.items())))


def _baseline(system: System, words: float | None) -> float | None:
    """Millimetres from a line's top to its highest staff's middle line, or to its first words' baseline."""
    if system.middle is not None:
        return round(system.middle - system.top, 3)
    return None if words is None else round(-words / _UNIT - system.top, 3)


def _system_of(item: _Item, edges: list[tuple[float, float]], before: int) -> int:
    """The system an item belongs to: the one that holds its middle; of two, the one drawn at the time.

    The engraver draws one system after the other, but two may reach into each other's height.
    """
    middle = (item.low + item.high) / 2
    if edges[before][1] <= middle <= edges[before][0]:
        return before
    return min(range(len(edges)), key=lambda n: max(middle - edges[n][0], edges[n][1] - middle, 0.0))


@dataclass(slots=True)
class _Item:
    """Something drawn, a path with its paint or a run of glyphs; `low` and `high` bound its height."""

    low: float
    high: float
    path: str = ""
    pen: str = ""
    white: bool = False
    glyphs: tuple[Glyph | float, ...] = ()
    matrix: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
    start: float = 0.0
    end: float = 0.0


_IGNORED = frozenset({"gs", "i", "ri", "M", "Tz", "W", "W*", "cs", "CS", "BMC", "MP", "DP"})


def _times(a: Matrix, b: Matrix) -> Matrix:
    """First a, then b."""
    return (
        a[0] * b[0] + a[1] * b[2],
        a[0] * b[1] + a[1] * b[3],
        a[2] * b[0] + a[3] * b[2],
        a[2] * b[1] + a[3] * b[3],
        a[4] * b[0] + a[5] * b[2] + b[4],
        a[4] * b[1] + a[5] * b[3] + b[5],
    )


_UNMOVED: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)


@dataclass(slots=True)
class _State:
    """The graphics state, as far as the engraver uses it."""

    matrix: Matrix
    width: float = 1.0
    cap: int = 0
    join: int = 0
    dash: tuple[tuple[float, ...], float] = ((), 0.0)
    fill_white: bool = False
    stroke_white: bool = False
    face: Face | None = None
    size: float = 1.0


class _Reader:
    """Turns content into items, in hundredths of a point from the upper left end of the music, upward."""

    def __init__(self, known: dict[str, Face], height: float) -> None:
        self.known = known
        self.items: list[_Item] = []
        self.state = _State((100.0, 0.0, 0.0, 100.0, -_MARGIN * _UNIT, -100.0 * height))
        self.saved: list[_State] = []
        self.path: list[str] = []
        self.heights: list[int] = []
        self.line: Matrix = _UNMOVED
        self.at: Matrix = _UNMOVED
        self.leading = 0.0
        self.actual: str | None = None

    def read(self, page: Page) -> None:
        """Read a page's content. Raises Unreadable at what is not understood."""
        instructions = parse_content_stream(page)
        # pikepdf writes an instruction to a line. To read its numbers there is quicker than one by one.
        content = unparse_content_stream(instructions).decode("latin-1")
        rows = content.split("\n") if content else []
        for instruction, row in zip(instructions, rows, strict=True):
            *words, operator = row.split()
            # The commonest operators come first.
            match operator:
                case "m" | "l" | "c":
                    self.draw(operator, map(float, words))
                case "h":
                    self.path.append(operator)
                case "f" | "S":
                    self.paint(operator)
                case "Tj":
                    self.show(instruction.operands)
                case "Tf":
                    self.state.face = self.known[words[0]]
                    self.state.size = float(words[1])
                case "Tm":
                    self.line = self.at = _matrix(map(float, words))
                case "cm":
                    self.state.matrix = _times(_matrix(map(float, words)), self.state.matrix)
                case "q":
                    self.saved.append(replace(self.state))
                case "Q":
                    self.state = self.saved.pop()
                case "BT":
                    self.line = self.at = _UNMOVED
                case "ET":
                    pass
                case "Td" | "TD":
                    self.move_line(*map(float, words))
                case "TJ":
                    self.show(instruction.operands[0])
                case "re":
                    self.rectangle(*map(float, words))
                case "g" | "rg" | "k" | "sc" | "scn":
                    self.state.fill_white = _is_white(operator, words)
                case "G" | "RG" | "K" | "SC" | "SCN":
                    self.state.stroke_white = _is_white(operator, words)
                case "n" | "s" | "F" | "f*" | "B" | "B*" | "b" | "b*":
                    self.paint(operator)
                case "w":
                    self.state.width = float(words[0])
                case "J":
                    self.state.cap = int(float(words[0]))
                case "j":
                    self.state.join = int(float(words[0]))
                case "d":
                    self.state.dash = (tuple(map(float, instruction.operands[0])), float(words[-1]))
                case "TL":
                    self.leading = float(words[0])
                case "T*":
                    self.move_line(0.0, -self.leading)
                case "'":
                    self.move_line(0.0, -self.leading)
                    self.show(instruction.operands)
                case "Tc" | "Tw" | "Ts" | "Tr":
                    if any(map(float, words)):
                        raise Unreadable(f"the piece's PDF spaces letters by {operator!r}")
                case "BDC":
                    self.actual = _actual_text(instruction.operands[1])
                case "EMC":
                    self.actual = None
                case _ if operator not in _IGNORED:
                    raise Unreadable(f"the piece's PDF holds {operator!r}, which is neither line nor letter")

    def draw(self, operator: str, numbers: Iterator[float]) -> None:
        """Add a step of a path; `numbers` are the coordinates of its points."""
        a, b, c, d, e, f = self.state.matrix
        row = ""
        for x, y in zip(numbers, numbers, strict=True):
            height = round(b * x + d * y + f)
            self.heights.append(height)
            row += f"{round(a * x + c * y + e)} {height} "
        self.path.append(row + operator)

    def rectangle(self, x: float, y: float, width: float, height: float) -> None:
        """Add a rectangle to the path."""
        self.draw("m", iter((x, y)))
        self.draw("l", iter((x + width, y)))
        self.draw("l", iter((x + width, y + height)))
        self.draw("l", iter((x, y + height)))
        self.path.append("h")

    def paint(self, operator: str) -> None:
        """Turn the path into an item, unless nothing paints it."""
        if operator != "n" and self.path:
            state = self.state
            white = state.stroke_white if operator in "sS" else state.fill_white
            path = "\n".join(self.path) + f"\n{operator}"
            pen = "" if operator in ("f", "F", "f*") else self._pen()
            low, high = min(self.heights, default=inf), max(self.heights, default=-inf)
            self.items.append(_Item(low, high, path, pen, white))
        self.path = []
        self.heights = []

    def _pen(self) -> str:
        state = self.state
        a, b, c, d, _, _ = state.matrix
        scale = abs(a * d - b * c) ** 0.5
        lengths, phase = state.dash
        dash = " ".join(f"{length * scale:.0f}" for length in lengths)
        return f"{state.width * scale:.1f} w {state.cap} J {state.join} j [{dash}] {phase * scale:.0f} d"

    def move_line(self, x: float, y: float) -> None:
        """Begin a line of text, away from the beginning of the line before it."""
        self.line = self.at = _times((1.0, 0.0, 0.0, 1.0, x, y), self.line)

    def show(self, parts: Iterable[object]) -> None:
        """Add a run of glyphs: strings in the font's codes, and numbers that move the next glyph left."""
        face, size = self.state.face, self.state.size
        if face is None:
            raise Unreadable("the piece's PDF shows letters of no font")
        shown: list[Glyph | float] = []
        advance = before = 0.0
        for part in parts:
            if isinstance(part, int | Decimal):
                move = float(part)
                shown.append(move)
                advance -= move / 1000
                continue
            for code in face.codes(bytes(part) if isinstance(part, Object) else b""):
                before = before if any(isinstance(each, Glyph) for each in shown) else advance
                glyph = face.glyph(code)
                if self.actual is not None:
                    # Joined or rearranged letters: the first glyph stands for all of them.
                    glyph, self.actual = replace(glyph, text=self.actual), ""
                shown.append(glyph)
                advance += glyph.width / 1000
        matrix = _times(_times((size, 0.0, 0.0, size, 0.0, 0.0), self.at), self.state.matrix)
        glyphs = [part for part in shown if isinstance(part, Glyph)]
        if glyphs:
            low, high = _heights(glyphs, matrix)
            start, end = (matrix[4] + along * matrix[0] for along in (before, advance))
            white = self.state.fill_white
            self.items.append(
                _Item(low, high, white=white, glyphs=tuple(shown), matrix=matrix, start=start, end=end)
            )
        self.at = _times((1.0, 0.0, 0.0, 1.0, advance * size, 0.0), self.at)


def _matrix(numbers: Iterable[float]) -> Matrix:
    a, b, c, d, e, f = numbers
    return a, b, c, d, e, f


def _is_white(operator: str, words: list[str]) -> bool:
    """Whether a colour is white: paper knows black, and white that covers what lies below."""
    levels = [float(word) for word in words if not word.startswith("/")]
    return not any(levels) if operator in ("k", "K") else min(levels) > 0.5


def _actual_text(properties: Object) -> str | None:
    """What a marked stretch of glyphs stands for (ISO 32000-1, 14.9.4)."""
    text = properties.get("/ActualText") if isinstance(properties, Dictionary) else None
    if text is None:
        return None
    said = bytes(text)
    return said.decode("utf-16" if said[:2] == b"\xfe\xff" else "latin-1")


def _heights(glyphs: list[Glyph], matrix: Matrix) -> tuple[float, float]:
    """The lowest and the highest point of upright glyphs; a space has its baseline."""
    extents = [_extent(glyph.outline) for glyph in glyphs]
    edges = [matrix[5] + matrix[3] / 1000 * edge for extent in extents for edge in extent]
    return min(edges), max(edges)


@cache
def _extent(outline: str) -> tuple[float, float]:
    numbers = [word for word in outline.split() if word not in ("m", "l", "c")]
    heights = [float(number) for number in numbers[1::2]] or [0.0]
    return min(heights), max(heights)


_SPACE_GAP = 0.14
"""The least gap, in sizes of the letters, that parts two words; the engraver sets no space between them."""


def _drawn(items: list[_Item], used: dict[str, Glyph]) -> tuple[list[str | Run], float | None]:
    """A line's content, and its first baseline."""
    levels = [round(item.matrix[5]) for item in items if item.glyphs]
    if levels and max(levels) - min(levels) < 10:
        # A line of words: letters of another font may have been drawn after those that follow them.
        fonts = {_first(item).font for item in items if item.glyphs}
        parts_shown = [part for item in items for part in item.glyphs]
        back = any(isinstance(part, float) and part >= 1000 * _SPACE_GAP for part in parts_shown)
        if len(fonts) > 1 or back:
            items = [word for item in items for word in (_words(item) if item.glyphs else [item])]
        items = sorted(items, key=lambda item: item.start if item.glyphs else -inf)
    parts: list[str | Run] = []
    rows: list[str] = []
    pen = ""
    baseline = None
    for item, following in zip(items, [*items[1:], None], strict=True):
        if item.white:
            rows.append("1 g 1 G")
        if item.glyphs:
            if baseline is None and not _first(item).musical:
                baseline = item.matrix[5]
            turn = " ".join(f"{value:.1f}".removesuffix(".0") for value in item.matrix[:4])
            rows.append(f"BT {turn} {item.matrix[4]:.0f} {item.matrix[5]:.0f} Tm")
            parts += ["\n".join(rows), _run(item, following, used)]
            rows = ["ET"]
        else:
            if item.pen and item.pen != pen:
                pen = item.pen
                rows.append(pen)
            rows.append(item.path)
        if item.white:
            rows.append("0 g 0 G")
    parts.append("\n".join(rows))
    return parts, baseline


def _words(item: _Item) -> Iterator[_Item]:
    """A run cut where a gap parts two words or leaves room for letters of another font, and at steps back."""
    a, b, c, d, x, y = item.matrix
    word: list[Glyph | float] = []
    start = end = x
    for part in (*item.glyphs, -1000.0):
        if not isinstance(part, Glyph) and (not word or abs(part) >= 1000 * _SPACE_GAP):
            if word:
                matrix = (a, b, c, d, start, y)
                yield replace(item, glyphs=tuple(word), matrix=matrix, start=start, end=end)
            word = []
            x -= part / 1000 * a
            start = x
            continue
        word.append(part)
        x += (part.width if isinstance(part, Glyph) else -part) / 1000 * a
        end = x


def _run(item: _Item, following: _Item | None, used: dict[str, Glyph]) -> Run:
    """A run's glyphs by key, with a space where only a gap parted two words."""
    run: list[str | float] = []
    for part in item.glyphs:
        if isinstance(part, Glyph):
            used[part.key] = part
            run.append(part.key)
        elif part <= -1000 * _SPACE_GAP and run and (space := _space(item)):
            used[space.key] = space
            run += [space.key, part + space.width]
        else:
            run.append(part)
    space = _space(item)
    ended = next((used[part].text for part in reversed(run) if isinstance(part, str)), "")
    if space and ended != " " and not (following and following.glyphs and _joined(item, following)):
        used[space.key] = space
        run.append(space.key)
    return tuple(run)


def _joined(item: _Item, following: _Item) -> bool:
    """Whether letters go on where those before end, so that they are one word."""
    level = abs(following.matrix[5] - item.matrix[5]) < 10
    return level and abs(following.start - item.end) < _SPACE_GAP * abs(item.matrix[0])


def _space(item: _Item) -> Glyph | None:
    """A space in the letters of a run; none among signs of music."""
    glyph = _first(item)
    return None if glyph.musical else Glyph(glyph.font, "", 250.0, " ")


def _first(item: _Item) -> Glyph:
    return next(part for part in item.glyphs if isinstance(part, Glyph))
