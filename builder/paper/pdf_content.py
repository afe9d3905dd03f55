"""What a page of PDF draws: its paths with their paint, and its runs of glyphs, each with its place.

Only what the engraver draws is understood: paths and text (PDF 1.7, ISO 32000-1, 8.5 and 9.4). Anything else
is refused, so that nothing is lost in silence.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cache
from math import inf

from pikepdf import Dictionary, Object, Page, parse_content_stream, unparse_content_stream

from ..units import POINTS_PER_MM
from .extracted_piece import Glyph
from .pdf_fonts import Face, Unreadable

UNIT = 100 * POINTS_PER_MM
"""Coordinates are written as whole hundredths of a point: short, and finer than any printer."""

MARGIN = 1.0
"""Millimetres of the strip left of the music."""

Matrix = tuple[float, float, float, float, float, float]


@dataclass(slots=True)
class Item:
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


class ContentReader:
    """Turns content into items, in hundredths of a point from the upper left end of the music, upward."""

    def __init__(self, known: dict[str, Face], height: float) -> None:
        self.known = known
        self.items: list[Item] = []
        self.state = _State((100.0, 0.0, 0.0, 100.0, -MARGIN * UNIT, -100.0 * height))
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
            self.items.append(Item(low, high, path, pen, white))
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
                Item(low, high, white=white, glyphs=tuple(shown), matrix=matrix, start=start, end=end)
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
