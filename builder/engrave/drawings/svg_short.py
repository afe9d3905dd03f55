"""A drawing's lines in fewer characters, for a page that has many drawings.

Stems, staff lines, bar lines and slurs are most of a page. Here they are counted in hundredths of a point, so
that their numbers need no dots, and each shape of a path begins at the end of the one before. Their ink is
the same: no place is rounded again. Glyphs stay in points, because scripts read where note heads are.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

_PEN = '<g stroke="currentColor" stroke-linecap="round" stroke-linejoin="round">'
SCALE = ' transform="scale(.01)"'
_GROUP = re.compile(f'{_PEN}((?:<path [^>]*/>)+)</g>(?:<path d="([^"]*)"/>)?')
_MARKERS = re.compile(r'<g fill="none">((?:<path marker-mid=[^>]*/>)+)</g>')
_PATH = re.compile(r'<path d="([^"]*)"((?: [a-z-]+="[^"]*")*)/>')
_WIDTHS = re.compile(r'(stroke-width|stroke-dasharray|stroke-dashoffset)="([\d.,]+)"')
_SHAPES = re.compile(r"M[^M]*")
_STEPS = re.compile(r"([Mmhvlcz])([-\d. ]*)")
_NUMBERS = re.compile(r"-?(?:\d+\.?\d*|\.\d+)")


@dataclass(frozen=True, slots=True)
class _Shape:
    """One shape of a path in hundredths: where it begins and ends, and its steps after that."""

    x: int
    y: int
    steps: str
    end_x: int
    end_y: int
    line: tuple[int, int] | None = None
    """The one step of a straight line, which can be drawn from either end."""


def shorten_body(body: str) -> str:
    """A drawing's body with the same ink. What does not look as `svg_joining.py` writes it stays as it is."""
    return _MARKERS.sub(_ungroup, _GROUP.sub(_shorten_group, body))


def _ungroup(found: re.Match[str]) -> str:
    """A page has fewer elements where each path says for itself that it is not filled."""
    return found[1].replace("<path ", '<path fill="none" ')


def _shorten_group(found: re.Match[str]) -> str:
    rows = [(outline, more) for outline, more in _PATH.findall(found[1])]
    if found[2]:
        rows.append((found[2], ' stroke="none"'))
    written = []
    for outline, more in rows:
        short = shorten_lines(outline, can_turn="dasharray" not in more)
        if short is None or "transform" in more:
            return found[0]
        written.append(f'<path d="{short}"{_WIDTHS.sub(_hundredfold, more)}/>')
    return f"{_PEN[:-1]}{SCALE}>{''.join(written)}</g>"


def _hundredfold(found: re.Match[str]) -> str:
    numbers = ",".join(str(_hundredths(number)) for number in found[2].split(","))
    return f'{found[1]}="{numbers}"'


@lru_cache(maxsize=65536)
def _hundredths(number: str) -> int:
    return round(float(number) * 100)


def shorten_lines(outline: str, can_turn: bool = True) -> str | None:
    """Shapes that begin with an absolute M, in hundredths; None where a step is not M, m, h, v, l, c or z.

    `can_turn` says that a straight line may be drawn from its other end.
    """
    shapes = [_read_shape(text) for text in _SHAPES.findall(outline)]
    if not shapes or None in shapes or sum(map(len, _SHAPES.findall(outline))) != len(outline):
        return None
    rows: list[str] = []
    x = y = 0
    for shape in filter(None, shapes):
        begin = _join("m" if rows else "M", shape.x - x, shape.y - y)
        chosen = begin + shape.steps, shape.end_x, shape.end_y
        if rows and shape.line and can_turn:
            across, down = shape.line
            turned = _join("m", shape.end_x - x, shape.end_y - y) + _line(-across, -down)
            if len(turned) < len(chosen[0]):
                chosen = turned, shape.x, shape.y
        text, x, y = chosen
        rows.append(text)
    return "".join(rows)


@lru_cache(maxsize=16384)
def _read_shape(text: str) -> _Shape | None:
    x = y = 0
    first: tuple[int, int] | None = None
    start = (0, 0)
    rows: list[str] = []
    lines: list[tuple[int, int]] = []
    read = 0
    for found in _STEPS.finditer(text):
        read += len(found[0])
        command = found[1]
        values = [_hundredths(number) for number in _NUMBERS.findall(found[2])]
        if command == "M":
            if first or len(values) != 2:
                return None
            x, y = first = start = values[0], values[1]
            continue
        if command == "z":
            rows.append("z")
            x, y = start
            continue
        if command == "h":
            across, down = sum(values), 0
            values = [across]
        elif command == "v":
            across, down = 0, sum(values)
            values = [down]
        elif command == "c":
            across, down = sum(values[4::6]), sum(values[5::6])
        else:
            across, down = sum(values[::2]), sum(values[1::2])
        x, y = x + across, y + down
        if command == "m":
            start = x, y
        lines.append((across, down) if command in "hvl" else (0, 0))
        rows.append(_join(command, *values))
    if first is None or read != len(text):
        return None
    line = lines[0] if len(lines) == len(rows) == 1 and lines[0] != (0, 0) else None
    return _Shape(*first, "".join(rows), x, y, line)


def _line(across: int, down: int) -> str:
    if not down:
        return f"h{across}"
    return _join("l", across, down) if across else f"v{down}"


def _join(command: str, *values: int) -> str:
    return command + " ".join(map(str, values)).replace(" -", "-")
