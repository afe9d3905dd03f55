"""The painted paths of a line of music in fewer words, with the same ink.

All is black, so nothing lies above anything else, and what has one pen is drawn at once (ISO 32000-1, 8.5.3).
The engraver draws the edge of a slur and then fills it: here one operator does both. It writes a stem as a
box with round corners, whose numbers differ wherever it stands: here all boxes of one size have the same
words, after a move from the one before, so that they pack well. What is filled is filled one by one, or two
shapes that run opposite ways would leave a hole where they overlap; plain rectangles all run the same way.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

_NEAR = 2
"""Hundredths of a point: what rounding may change between two sides of one box."""
_CURVE = 0.4477
"""How far the handles of a quarter circle are from its corner, as a part of its radius."""


@dataclass(frozen=True, slots=True)
class _Box:
    """A box by its lower left corner, in hundredths of a point; `radius` is that of its corners."""

    x: int
    y: int
    width: int
    height: int
    radius: int


def join_paths(painted: Iterable[tuple[str, str]]) -> list[str]:
    """Rows that draw paths, each given by its pen (empty where it is only filled) and its steps and operator.

    Their numbers are whole hundredths of a point; steps and operator have a line each.
    """
    groups: dict[tuple[str, str], list[str]] = {}
    boxes: list[_Box] = []
    edge: list[str] = []
    edge_pen = ""
    for pen, path in painted:
        *steps, operator = path.split("\n")
        while len(steps) > 1 and steps[-1].endswith(" m"):
            # The engraver says where the pen stands when it has done.
            del steps[-1]
        if operator == "f" and (box := _read_box(steps)):
            boxes.append(box)
            edge = []
            continue
        drawn = "\n".join(steps)
        if operator == "f" and edge and edge[-1] == drawn:
            edge.pop()
            pen, operator = edge_pen, "B"
        found = groups.setdefault((pen, operator), [])
        found.append(drawn)
        edge, edge_pen = (found, pen) if operator == "S" else ([], "")
    rows = []
    shown = ""
    for (pen, operator), paths in groups.items():
        if pen and pen != shown and paths:
            shown = pen
            rows.append(pen)
        if operator == "S":
            rows += [*paths, operator] if paths else []
        else:
            rows += [row for path in paths for row in (path, operator)]
    return rows + _write_boxes(boxes)


def _read_box(steps: Sequence[str]) -> _Box | None:
    """A closed path as a box: level and upright sides, and four quarter circles or none. Else None."""
    words = [step.split() for step in steps]
    curves = [place for place, each in enumerate(words) if each[-1] == "c"]
    commands = {each[-1] for each in words[1:-1]}
    if words[0][-1] != "m" or words[-1][-1] != "h" or not commands <= {"l", "c"}:
        return None
    if len(curves) != 4 and (curves or len(words) != 5):
        return None
    points = [(int(each[-3]), int(each[-2])) for each in words[:-1]]
    left, right = min(x for x, _ in points), max(x for x, _ in points)
    low, high = min(y for _, y in points), max(y for _, y in points)
    radius = abs(points[curves[0]][0] - points[curves[0] - 1][0]) if curves else 0
    for place, (x, y) in enumerate(points):
        # The side of the first point is the one that closes the path.
        across, down = abs(x - points[place - 1][0]), abs(y - points[place - 1][1])
        is_curve = place in curves
        off = max(abs(across - radius), abs(down - radius)) if is_curve else min(across, down)
        if off > _NEAR:
            return None
    width, height = right - left, high - low
    return _Box(left, low, width, height, min(radius, width // 2, height // 2))


def _write_boxes(boxes: Sequence[_Box]) -> list[str]:
    """Boxes filled: first those without a radius, then the round ones, each moved from the one before."""
    plain = [f"{box.x} {box.y} {box.width} {box.height} re" for box in boxes if not box.radius]
    rows = [*plain, "f"] if plain else []
    moved = [box for box in boxes if box.radius]
    if not moved:
        return rows
    rows.append("q")
    x = y = 0
    for box in moved:
        rows += [f"1 0 0 1 {box.x - x} {box.y - y} cm", _round_outline(box.width, box.height, box.radius)]
        x, y = box.x, box.y
    return [*rows, "Q"]


@lru_cache(maxsize=1024)
def _round_outline(width: int, height: int, radius: int) -> str:
    """A filled box with round corners, at the origin."""
    near = round(radius * _CURVE)
    across, up, far, high = width - radius, height - radius, width - near, height - near
    return (
        f"{radius} 0 m {across} 0 l {far} 0 {width} {near} {width} {radius} c {width} {up} l "
        f"{width} {high} {far} {height} {across} {height} c {radius} {height} l "
        f"{near} {height} 0 {high} 0 {up} c 0 {radius} l 0 {near} {near} 0 {radius} 0 c f"
    )
