"""A piece's PDF taken apart: each system or line of words by itself, its glyphs by their outlines.

The engraver gives every piece a file with fonts of its own that hold just the glyphs the piece needs. A book
made of whole files would carry a clef a thousand times, and a piece broken over two pages would lie hidden
on both. Here a file is read once: what it draws is sorted by system and written anew in black, and each
glyph is known by its outline, so that a book may share one font (`fonts`).

Only what the engraver draws is understood: paths and text (PDF 1.7, ISO 32000-1, 8.5 and 9.4). Anything else
is refused, so that nothing is lost in silence.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from io import BytesIO
from math import inf
from typing import Any

from pikepdf import Pdf, PdfError

from ..engrave.scheduler import Engraved
from .extracted_piece import POINTS, ExtractedPiece, ExtractedSystem, Glyph, Run
from .pdf_fonts import Face, Unreadable, faces

_UNIT = 100 * POINTS
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
            page.contents_coalesce()
            reader = _Reader(known, float(page.mediabox[3]))
            reader.read(page.Contents.read_bytes())
    except (PdfError, IndexError, AttributeError, KeyError) as error:
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
                baseline=None if baseline is None else round(-baseline / _UNIT - system.top, 3),
                drawn=tuple(drawn),
            )
        )
    return ExtractedPiece(tuple(found), dict(sorted(used.items())))


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


_TOKEN = re.compile(
    rb"\((?:[^()\\]|\\.|\((?:[^()\\]|\\.)*\))*\)|<<|>>|<[0-9A-Fa-f\s]*>|[\[\]]|%[^\r\n]*|/?[^\s()<>\[\]{}/%]+",
    re.DOTALL,
)
_ESCAPES = {b"n": b"\n", b"r": b"\r", b"t": b"\t", b"b": b"\b", b"f": b"\f"}
_IGNORED = frozenset({"gs", "i", "ri", "W", "W*", "BMC", "MP", "DP"})


def _string(token: bytes) -> bytes:
    def plain(match: re.Match[bytes]) -> bytes:
        escaped = match[1]
        if escaped[:1].isdigit():
            return bytes([int(escaped, 8) & 255])
        return b"" if escaped in (b"\n", b"\r\n") else _ESCAPES.get(escaped, escaped)

    return re.sub(rb"\\([0-7]{1,3}|\r\n|.)", plain, token[1:-1], flags=re.DOTALL)


def _instructions(data: bytes) -> Iterator[tuple[str, list[Any]]]:
    """Each operator with what stands before it."""
    operands: list[Any] = []
    stack: list[list[Any]] = []
    for token in _TOKEN.findall(data):
        first = token[0]
        if first in b"0123456789-.+":
            operands.append(float(token))
        elif first == 40:  # (
            operands.append(_string(token))
        elif first == 91 or token == b"<<":
            stack.append(operands)
            operands = []
        elif first == 93 or token == b">>":
            inner, operands = operands, stack.pop()
            operands.append(inner)
        elif first == 60:  # <
            digits = b"".join(token[1:-1].split())
            operands.append(bytes.fromhex((digits + b"0" * (len(digits) % 2)).decode()))
        elif first == 47:  # /
            operands.append(token.decode("latin-1"))
        elif first != 37:  # %
            yield token.decode("latin-1"), operands
            operands = []


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
        self.low, self.high = inf, -inf
        self.line: Matrix = _UNMOVED
        self.at: Matrix = _UNMOVED
        self.leading = 0.0
        self.actual: str | None = None

    def read(self, data: bytes) -> None:
        """Read all. Raises Unreadable at what is not understood."""
        for operator, operands in _instructions(data):
            act = _ACTS.get(operator)
            if act is not None:
                act(self, operator, operands)
            elif operator not in _IGNORED:
                raise Unreadable(f"the piece's PDF holds {operator!r}, which is neither line nor letter")

    def keep(self, operator: str, operands: list[Any]) -> None:
        self.saved.append(replace(self.state))

    def give_back(self, operator: str, operands: list[Any]) -> None:
        self.state = self.saved.pop()

    def move(self, operator: str, operands: list[Any]) -> None:
        self.state.matrix = _times((*operands,), self.state.matrix)

    def pen(self, operator: str, operands: list[Any]) -> None:
        if operator == "w":
            self.state.width = operands[0]
        elif operator == "J":
            self.state.cap = int(operands[0])
        elif operator == "j":
            self.state.join = int(operands[0])
        elif operator == "d":
            self.state.dash = (tuple(operands[0]), operands[1])

    def colour(self, operator: str, operands: list[Any]) -> None:
        # Paper knows black, and white that covers what lies below.
        levels = [value for value in operands if isinstance(value, float)]
        white = min(levels) > 0.5 if operator.lower() in ("g", "rg", "sc", "scn") else not any(levels)
        if operator.isupper():
            self.state.stroke_white = white
        else:
            self.state.fill_white = white

    def draw(self, operator: str, operands: list[Any]) -> None:
        a, b, c, d, e, f = self.state.matrix
        row = ""
        for x, y in zip(operands[::2], operands[1::2], strict=True):
            height = round(b * x + d * y + f)
            self.low, self.high = min(self.low, height), max(self.high, height)
            row += f"{round(a * x + c * y + e)} {height} "
        self.path.append(row + operator)

    def rectangle(self, operator: str, operands: list[Any]) -> None:
        x, y, width, height = operands
        self.draw("m", [x, y])
        self.draw("l", [x + width, y])
        self.draw("l", [x + width, y + height])
        self.draw("l", [x, y + height])
        self.path.append("h")

    def paint(self, operator: str, operands: list[Any]) -> None:
        if operator != "n" and self.path:
            state = self.state
            white = state.stroke_white if operator in "sS" else state.fill_white
            path = "\n".join(self.path) + f"\n{operator}"
            pen = "" if operator in ("f", "F", "f*") else self._pen()
            self.items.append(_Item(self.low, self.high, path, pen, white))
        self.path = []
        self.low, self.high = inf, -inf

    def _pen(self) -> str:
        state = self.state
        a, b, c, d, _, _ = state.matrix
        scale = abs(a * d - b * c) ** 0.5
        lengths, phase = state.dash
        dash = " ".join(f"{length * scale:.0f}" for length in lengths)
        return f"{state.width * scale:.1f} w {state.cap} J {state.join} j [{dash}] {phase * scale:.0f} d"

    def begin(self, operator: str, operands: list[Any]) -> None:
        self.line = self.at = _UNMOVED

    def nothing(self, operator: str, operands: list[Any]) -> None:
        pass

    def meaning(self, operator: str, operands: list[Any]) -> None:
        """ISO 32000-1, 14.9.4: what a stretch of glyphs stands for."""
        self.actual = None
        names = operands[1] if operator == "BDC" and isinstance(operands[1], list) else []
        if "/ActualText" in names:
            said = names[names.index("/ActualText") + 1]
            self.actual = said.decode("utf-16" if said[:2] == b"\xfe\xff" else "latin-1")

    def font(self, operator: str, operands: list[Any]) -> None:
        self.state.face, self.state.size = self.known[operands[0]], operands[1]

    def place(self, operator: str, operands: list[Any]) -> None:
        if operator == "Tm":
            self.line = (*operands,)
        elif operator == "TL":
            self.leading = operands[0]
            return
        else:
            x, y = (0.0, -self.leading) if operator == "T*" else operands
            self.line = _times((1.0, 0.0, 0.0, 1.0, x, y), self.line)
        self.at = self.line

    def next_line(self, operator: str, operands: list[Any]) -> None:
        self.place("T*", [])
        self.show("Tj", operands)

    def spacing(self, operator: str, operands: list[Any]) -> None:
        if any(operands) and operator != "Tz":
            raise Unreadable(f"the piece's PDF spaces letters by {operator!r}")

    def show(self, operator: str, operands: list[Any]) -> None:
        face, size = self.state.face, self.state.size
        if face is None:
            raise Unreadable("the piece's PDF shows letters of no font")
        shown: list[Glyph | float] = []
        advance = before = 0.0
        for part in operands[0] if operator == "TJ" else operands:
            if isinstance(part, float):
                shown.append(part)
                advance -= part / 1000
                continue
            for code in face.codes(part):
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


_ACTS = {
    "q": _Reader.keep,
    "Q": _Reader.give_back,
    "cm": _Reader.move,
    "re": _Reader.rectangle,
    "BT": _Reader.begin,
    "ET": _Reader.nothing,
    "Tf": _Reader.font,
    "'": _Reader.next_line,
    **dict.fromkeys(("w", "J", "j", "d", "M"), _Reader.pen),
    **dict.fromkeys(("g", "G", "rg", "RG", "k", "K", "sc", "SC", "scn", "SCN"), _Reader.colour),
    **dict.fromkeys(("cs", "CS"), _Reader.nothing),
    **dict.fromkeys(("m", "l", "c", "h"), _Reader.draw),
    **dict.fromkeys(("S", "s", "f", "F", "f*", "B", "B*", "b", "b*", "n"), _Reader.paint),
    **dict.fromkeys(("BDC", "EMC"), _Reader.meaning),
    **dict.fromkeys(("Tm", "Td", "TD", "T*", "TL"), _Reader.place),
    **dict.fromkeys(("Tc", "Tw", "Tz", "Ts", "Tr"), _Reader.spacing),
    **dict.fromkeys(("Tj", "TJ"), _Reader.show),
}


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
    return None if glyph.musical else Glyph(glyph.font, "", 250, " ")


def _first(item: _Item) -> Glyph:
    return next(part for part in item.glyphs if isinstance(part, Glyph))
