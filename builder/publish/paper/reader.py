"""A piece's PDF taken apart: each system or line of words by itself, its glyphs by their outlines.

The engraver gives every piece a file with fonts of its own that hold just the glyphs the piece needs. A book
made of whole files would carry a clef a thousand times, and a piece broken over two pages would lie hidden
on both. Here a file is read once: what it draws is sorted by system, written anew from the system's own
corner in black, and each glyph is known by its outline, so that a book may share one font (`fonts`).

Only what the engraver draws is understood: paths and text (PDF 1.7, ISO 32000-1, 8.5 and 9.4). Anything else
is refused, so that nothing is lost in silence.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from io import BytesIO
from typing import Any

from pikepdf import Pdf

from builder.engrave.batch import Engraved

from .glyphs import Face, Unreadable, faces
from .strip import POINTS, Glyph, Run, Strip, StripLine

_MARGIN = 1.0
"""Millimetres of the strip left of the music."""


def read(piece: Engraved) -> Strip:
    """Read a piece. Raises Unreadable."""
    with Pdf.open(BytesIO(piece.pdf)) as strip:
        page = strip.pages[0]
        height = float(page.mediabox[3])
        known = faces(page)
        reader = _Reader(known, height)
        page.contents_coalesce()
        reader.read(page.Contents.read_bytes())
    lines: list[list[_Item]] = [[] for _ in piece.systems]
    edges = [(system.top * POINTS, system.bottom * POINTS) for system in piece.systems]
    number = 0
    for item in reader.items:
        number = _system_of(item, edges, number)
        lines[number].append(item)
    used: dict[str, Glyph] = {}
    found = []
    for system, items in zip(piece.systems, lines, strict=True):
        drawn, baseline = _drawn(items, system.top * POINTS, used)
        found.append(
            StripLine(round(system.bottom - system.top, 3), round(system.right, 3), baseline, tuple(drawn))
        )
    return Strip(tuple(found), dict(sorted(used.items())))


def _system_of(item: _Item, edges: list[tuple[float, float]], before: int) -> int:
    """The system an item belongs to: the one that holds its middle; of two, the one drawn at the time."""
    middle = (item.low + item.high) / 2
    holding = [number for number, (top, bottom) in enumerate(edges) if top - 0.1 <= middle <= bottom + 0.1]
    if not holding:
        return min(range(len(edges)), key=lambda n: max(edges[n][0] - middle, middle - edges[n][1]))
    return before if before in holding else holding[0]


@dataclass(slots=True)
class _Item:
    """Something drawn, in points from the strip's upper left corner; `low` and `high` bound its height."""

    low: float
    high: float
    path: tuple[tuple[str, tuple[float, ...]], ...] = ()
    paint: str = ""
    pen: tuple[float, int, int, str] = (1.0, 0, 0, "[]0")
    white: bool = False
    glyphs: tuple[Glyph | float, ...] = ()
    matrix: tuple[float, ...] = ()
    end: float = 0.0


_TOKEN = re.compile(
    rb"\((?:[^()\\]|\\.|\((?:[^()\\]|\\.)*\))*\)|<<|>>|<[0-9A-Fa-f\s]*>|[\[\]]|%[^\r\n]*|/?[^\s()<>\[\]{}/%]+",
    re.DOTALL,
)
_ESCAPES = {b"n": b"\n", b"r": b"\r", b"t": b"\t", b"b": b"\b", b"f": b"\f"}
_IGNORED = frozenset({"gs", "i", "ri", "W", "W*", "BMC", "MP", "DP"})
Matrix = tuple[float, float, float, float, float, float]


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

    def copy(self) -> _State:
        return _State(*(getattr(self, name) for name in self.__slots__))


class _Reader:
    """Turns content into items, every coordinate from the strip's upper left corner, downward."""

    def __init__(self, known: dict[str, Face], height: float) -> None:
        self.known = known
        self.items: list[_Item] = []
        self.state = _State((1.0, 0.0, 0.0, -1.0, 0.0, height))
        self.saved: list[_State] = []
        self.path: list[tuple[str, tuple[float, ...]]] = []
        self.line: Matrix = _UNMOVED
        self.at: Matrix = _UNMOVED
        self.leading = 0.0
        self.actual: str | None = None

    def read(self, data: bytes) -> None:
        """Read all. Raises Unreadable at what is not understood."""
        for operator, operands in _instructions(data):
            if operator in _IGNORED:
                continue
            act = _ACTS.get(operator)
            if act is None:
                raise Unreadable(f"the piece's PDF holds {operator!r}, which is neither line nor letter")
            act(self, operator, operands)

    def _points(self, values: list[float]) -> tuple[float, ...]:
        a, b, c, d, e, f = self.state.matrix
        found: list[float] = []
        for x, y in zip(values[::2], values[1::2], strict=True):
            found += (a * x + c * y + e, b * x + d * y + f)
        return tuple(found)

    def keep(self, operator: str, operands: list[Any]) -> None:
        self.saved.append(self.state.copy())

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
        if operator == "re":
            x, y, width, height = operands
            corners = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
            for number, corner in enumerate(corners):
                self.path.append(("l" if number else "m", self._points(list(corner))))
            self.path.append(("h", ()))
        elif operator in "vy":
            before = self.path[-1][1][-2:]
            points = self._points(operands)
            points = (*before, *points) if operator == "v" else (*points, *points[-2:])
            self.path.append(("c", points))
        else:
            self.path.append((operator, self._points(operands)))

    def paint(self, operator: str, operands: list[Any]) -> None:
        path, self.path = tuple(self.path), []
        if operator == "n" or not path:
            return
        a, b, c, d, _, _ = self.state.matrix
        scale = abs(a * d - b * c) ** 0.5
        heights = [y for _, points in path for y in points[1::2]]
        lengths, phase = self.state.dash
        dash = "[" + " ".join(_number(length * scale) for length in lengths) + f"]{_number(phase * scale)}"
        pen = (self.state.width * scale, self.state.cap, self.state.join, dash)
        white = self.state.stroke_white if operator in "sS" else self.state.fill_white
        self.items.append(_Item(min(heights), max(heights), path, operator, pen, white))

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

    def spacing(self, operator: str, operands: list[Any]) -> None:
        if any(operands) and operator != "Tz":
            raise Unreadable(f"the piece's PDF spaces letters by {operator!r}")

    def show(self, operator: str, operands: list[Any]) -> None:
        face, size = self.state.face, self.state.size
        if face is None:
            raise Unreadable("the piece's PDF shows letters of no font")
        shown: list[Glyph | float] = []
        advance = 0.0
        for part in operands[0] if operator == "TJ" else operands:
            if isinstance(part, float):
                shown.append(part)
                advance -= part / 1000
                continue
            for code in face.codes(part):
                glyph = face.glyph(code)
                if self.actual is not None:
                    # Joined or rearranged letters: the first glyph stands for all of them.
                    glyph, self.actual = replace(glyph, text=self.actual), ""
                shown.append(glyph)
                advance += glyph.width / 1000
        matrix = _times(_times((size, 0.0, 0.0, size, 0.0, 0.0), self.at), self.state.matrix)
        if any(isinstance(part, Glyph) for part in shown):
            end = matrix[4] + advance * matrix[0]
            low, high = _heights([part for part in shown if isinstance(part, Glyph)], matrix)
            self.items.append(
                _Item(low, high, glyphs=tuple(shown), matrix=matrix, end=end, white=self.state.fill_white)
            )
        self.at = _times((1.0, 0.0, 0.0, 1.0, advance * size, 0.0), self.at)


_ACTS = {
    **dict.fromkeys(("q",), _Reader.keep),
    **dict.fromkeys(("Q",), _Reader.give_back),
    **dict.fromkeys(("cm",), _Reader.move),
    **dict.fromkeys(("w", "J", "j", "d", "M"), _Reader.pen),
    **dict.fromkeys(("g", "G", "rg", "RG", "k", "K", "sc", "SC", "scn", "SCN"), _Reader.colour),
    **dict.fromkeys(("cs", "CS"), _Reader.nothing),
    **dict.fromkeys(("m", "l", "c", "v", "y", "h", "re"), _Reader.draw),
    **dict.fromkeys(("S", "s", "f", "F", "f*", "B", "B*", "b", "b*", "n"), _Reader.paint),
    **dict.fromkeys(("BT",), _Reader.begin),
    **dict.fromkeys(("ET",), _Reader.nothing),
    **dict.fromkeys(("BDC", "EMC"), _Reader.meaning),
    **dict.fromkeys(("Tf",), _Reader.font),
    **dict.fromkeys(("Tm", "Td", "TD", "T*", "TL"), _Reader.place),
    **dict.fromkeys(("Tc", "Tw", "Tz", "Ts", "Tr"), _Reader.spacing),
    **dict.fromkeys(("Tj", "TJ"), _Reader.show),
}


def _heights(glyphs: list[Glyph], matrix: Matrix) -> tuple[float, float]:
    """The highest and the lowest point of upright glyphs, in points downward; a space has its baseline."""
    extents = [_extent(glyph.outline) for glyph in glyphs]
    scale = matrix[3] / 1000
    edges = [matrix[5] + scale * edge for extent in extents for edge in extent]
    return min(edges), max(edges)


@cache
def _extent(outline: str) -> tuple[float, float]:
    numbers = [word for word in outline.split() if word not in ("m", "l", "c")]
    heights = [float(number) for number in numbers[1::2]] or [0.0]
    return min(heights), max(heights)


def _number(value: float) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("", "-0") else text


_SPACE_GAP = 0.14
"""The least gap, in sizes of the letters, that parts two words; the engraver sets no space between them."""


def _drawn(items: list[_Item], top: float, used: dict[str, Glyph]) -> tuple[list[str | Run], float | None]:
    """A line's content from its upper left corner, and its first baseline below the top."""
    parts: list[str | Run] = []
    rows: list[str] = []
    pen: tuple[float, int, int, str] | None = None
    baseline = None
    left = _MARGIN * POINTS

    def point(values: Iterable[float]) -> str:
        return " ".join(
            _number(value - left if number % 2 == 0 else top - value) for number, value in enumerate(values)
        )

    for place, item in enumerate(items):
        if item.white:
            rows.append("1 g 1 G")
        if item.glyphs:
            if baseline is None and not _first(item).musical:
                baseline = round((item.matrix[5] - top) / POINTS, 3)
            a, b, c, d, e, f = item.matrix
            rows.append(f"BT {_number(a)} {_number(-b)} {_number(c)} {_number(-d)} {point((e, f))} Tm")
            parts.append("\n".join(rows))
            following = items[place + 1] if place + 1 < len(items) else None
            parts.append(_run(item, following, used))
            rows = ["ET"]
        else:
            if item.paint in ("S", "s", "B", "b", "B*", "b*") and item.pen != pen:
                width, cap, join, dash = pen = item.pen
                rows.append(f"{width:.3f} w {cap} J {join} j {dash} d")
            rows += [f"{point(points)} {operator}".strip() for operator, points in item.path]
            rows.append(item.paint)
        if item.white:
            rows.append("0 g 0 G")
    parts.append("\n".join(rows))
    return parts, baseline


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
    if following is not None and following.glyphs and (space := _space(item)):
        gap = (following.matrix[4] - item.end) / abs(item.matrix[0] or 1)
        if abs(following.matrix[5] - item.matrix[5]) < 0.1 and _SPACE_GAP < gap < 1.5 and _space(following):
            used[space.key] = space
            run.append(space.key)
    return tuple(run)


def _space(item: _Item) -> Glyph | None:
    """A space in the letters of a run; none among signs of music."""
    glyph = _first(item)
    return None if glyph.musical else Glyph(glyph.font, "", 250, " ")


def _first(item: _Item) -> Glyph:
    return next(part for part in item.glyphs if isinstance(part, Glyph))
