"""Path data of SVG in fewer characters.

Most of a page of music is path data. Relative steps are shorter than places, and equal shapes become equal
text wherever they stand, which compresses well. Stems, bar lines and ledger lines are boxes: Cairo writes a
round one as four curves whose numbers differ a little wherever it stands. Here a box is its corner, width,
height and radius (the corners are a matter of the pen), and all boxes run the same way round, so that many of
them can be one path without a hole where two overlap.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

_SIZES = {"M": 2, "L": 2, "C": 6, "Z": 0}
"""How many numbers follow each command."""

_MANY = 1_000_000
"""Hundredths; longer numbers than any outline needs: the engraver's pages are some thousand points long."""

_NEAR = 0.02
"""Points: what Cairo's rounding may change between two sides of one box."""
_CURVE = 0.5523
"""Where the handles of a quarter circle lie, as a part of its radius."""

_NUMBERS = re.compile(r"-?(?:\d+\.?\d*|\.\d+)")
_BEGINNING = re.compile(rf"M({_NUMBERS.pattern}) ?({_NUMBERS.pattern})")
_ROUNDED = 0.03
"""Points: two roundings to a hundredth, and the six digits of the engraver's numbers."""

_Point = tuple[float, float]


@lru_cache(maxsize=65536)
def _write_number(hundredths: int) -> str:
    """A number of hundredths without needless zeros: 50 is `.5`, -120 is `-1.2`."""
    sign = "-" if hundredths < 0 else ""
    whole, part = divmod(abs(hundredths), 100)
    fraction = f".{part:02d}".rstrip("0") if part else ""
    return sign + (f"{whole}{fraction}" if whole or not fraction else fraction)


def _join_numbers(steps: list[int]) -> str:
    """Numbers with a space only where their signs do not part them."""
    return " ".join(map(_write_number, steps)).replace(" -", "-")


def shorten_outline(
    outline: str, across: float = 1, down: float = 1, right: float = 0, below: float = 0
) -> str:
    """An outline of absolute M, L, C and Z, to a hundredth, with relative steps.

    Its points are first multiplied by `across` and `down`, and moved by `right` and `below`. They are rounded
    before their distances are taken, so no error adds up. Anything else than those four comes back as it was.
    """
    words = outline.split()
    rows: list[str] = []
    x = y = start_x = start_y = index = 0
    end = len(words)
    while end >= 3 and words[end - 3] == "M":
        # Cairo says where the pen stands when it has done.
        end -= 3
    try:
        while index < end:
            command = words[index]
            size = _SIZES[command]
            index += 1
            if not size:
                rows.append("z")
                x, y = start_x, start_y
                continue
            values = words[index : index + size]
            index += size
            places = [round((float(word) * across + right) * 100) for word in values[::2]]
            heights = [round((float(word) * down + below) * 100) for word in values[1::2]]
            if len(values) < size or max(map(abs, places + heights)) > _MANY:
                return outline
            if size == 6:
                (a, c, e), (b, d, f) = places, heights
                rows.append("c" + _join_numbers([a - x, b - y, c - x, d - y, e - x, f - y]))
                x, y = e, f
                continue
            (a,), (b,) = places, heights
            if command == "M":
                # The first place is absolute, so that outlines can be put one after another.
                rows.append("m" + _join_numbers([a - x, b - y]) if rows else "M" + _join_numbers([a, b]))
                start_x, start_y = a, b
            elif b == y:
                rows.append("h" + _write_number(a - x))
            elif a == x:
                rows.append("v" + _write_number(b - y))
            else:
                rows.append("l" + _join_numbers([a - x, b - y]))
            x, y = a, b
    except (KeyError, ValueError, OverflowError):
        return outline
    return "".join(rows)


def move_outline(outline: str, right: float, below: float) -> str | None:
    """A shortened outline at another place, in points; None where it does not begin as those do."""
    found = _BEGINNING.match(outline)
    if found is None:
        return None
    x, y = float(found[1]) + right, float(found[2]) + below
    return f"M{_join_numbers([round(x * 100), round(y * 100)])}{outline[found.end() :]}"


def join_corners(places: Sequence[_Point]) -> str:
    """A line through places in points, with a step before the first and after the last that lead nowhere."""
    x, y = (round(value * 100) for value in places[0])
    rows, before = [f"M{_join_numbers([x, y])}l0 0"], (x, y)
    for place in places[1:]:
        here = round(place[0] * 100), round(place[1] * 100)
        step = _join_numbers([here[0] - before[0], here[1] - before[1]])
        rows.append(step if step.startswith("-") else f" {step}")
        before = here
    return "".join([*rows, " 0 0"])


def way_round(outline: str) -> int:
    """Which way round one closed outline of absolute steps runs: 1 or -1; 0 where there are several, or none.

    Outlines that run the same way round can be one path without a hole where two overlap.
    """
    words = outline.split()
    while len(words) >= 3 and words[-3] == "M":
        del words[-3:]
    if words.count("M") != 1 or words[:1] != ["M"] or words[-1:] != ["Z"]:
        return 0
    try:
        numbers = [float(word) for word in words if word not in _SIZES]
    except ValueError:
        return 0
    points = list(zip(numbers[::2], numbers[1::2], strict=False))
    area = sum(a * d - b * c for (a, b), (c, d) in zip(points, points[1:] + points[:1], strict=True))
    return (area > 0) - (area < 0)


def are_alike(one: str, other: str) -> bool:
    """Whether two shortened outlines have the same steps, but for what rounding changes."""
    numbers = [_NUMBERS.findall(each) for each in (one, other)]
    # As many numbers, or a level side in one would be a slanted one in the other.
    if len(numbers[0]) != len(numbers[1]):
        return False
    if any(abs(float(a) - float(b)) > _ROUNDED for a, b in zip(*numbers, strict=True)):
        return False
    commands = [_NUMBERS.sub(" ", each).split() for each in (one, other)]
    return commands[0] == commands[1]


@dataclass(frozen=True, slots=True)
class Box:
    """A box in hundredths of a point, `left` to `height` its edges without the round corners.

    `radius` is that of the corners: the box reaches as far beyond these edges.
    """

    left: int
    top: int
    width: int
    height: int
    radius: int

    @property
    def outline(self) -> str:
        """From its upper left corner, clockwise; a line where it has no width or no height."""
        rows = [f"M{_join_numbers([self.left, self.top])}"]
        if self.width:
            rows.append(f"h{_write_number(self.width)}")
        if self.height:
            rows.append(f"v{_write_number(self.height)}")
        if self.width and self.height:
            rows.append(f"h{_write_number(-self.width)}z")
        return "".join(rows) if len(rows) > 1 else f"{rows[0]}h0"


def read_box(outline: str) -> Box | None:
    """A closed outline of absolute M, L, C and Z as a box.

    None where it is no box: something else than upright and level sides with four equal quarter circles, or
    none, at its corners.
    """
    # Slurs are seen to be none before their numbers are read.
    curves = outline.count("C")
    steps = _steps(outline) if curves in (0, 4) else None
    if steps is None:
        return None
    across_all, down_all = [step[-2] for step in steps], [step[-1] for step in steps]
    left, right, top, bottom = min(across_all), max(across_all), min(down_all), max(down_all)
    radius = 0.0
    if curves:
        first = next(number for number, step in enumerate(steps) if len(step) == _SIZES["C"])
        radius = abs(across_all[first] - across_all[first - 1])
    before_x, before_y = across_all[-1], down_all[-1]
    for step in steps:
        x, y = step[-2], step[-1]
        if len(step) == _SIZES["C"]:
            if not _quarter(before_x, before_y, step, radius):
                return None
        elif abs(x - before_x) > _NEAR and abs(y - before_y) > _NEAR:
            return None
        # From the nearest corner.
        if not min(x - left, right - x) + min(y - top, bottom - y) <= radius + 2 * _NEAR:
            return None
        before_x, before_y = x, y
    if not curves and (len(steps) != 4 or len(set(steps)) < 4):
        return None
    x, y, across, down = (round(value * 100) for value in (left, top, right - left, bottom - top))
    turn = min(round(radius * 100), across // 2, down // 2)
    return Box(x + turn, y + turn, across - 2 * turn, down - 2 * turn, turn)


def _steps(outline: str) -> list[tuple[float, ...]] | None:
    """Each step's numbers, of one closed outline: three points for a curve, one for a line.

    The first line leads to the beginning, so that every step follows another.
    """
    words = outline.split()
    while len(words) >= 3 and words[-3] == "M":
        del words[-3:]
    if len(words) < 10 or words[0] != "M" or words[-1] != "Z" or words.count("Z") + words.count("M") != 2:
        return None
    steps: list[tuple[float, ...]] = []
    index = 0
    last = len(words) - 1
    try:
        while index < last:
            end = index + 1 + _SIZES[words[index]]
            steps.append(tuple(map(float, words[index + 1 : end])))
            index = end
    except (KeyError, ValueError):
        return None
    if abs(steps[0][0] - steps[-1][-2]) + abs(steps[0][1] - steps[-1][-1]) <= _NEAR:
        # It came back to where it began: that step closes it.
        del steps[0]
    return steps


def _quarter(start_x: float, start_y: float, curve: tuple[float, ...], radius: float) -> bool:
    """Whether a curve is a quarter circle of a radius between an upright and a level side."""
    near_x, near_y, far_x, far_y, end_x, end_y = curve
    across, down = end_x - start_x, end_y - start_y
    if abs(abs(across) - radius) > _NEAR or abs(abs(down) - radius) > _NEAR:
        return False
    # It leaves along a level side and comes to an upright one, or the other way round.
    level = abs(near_x - (start_x + across * _CURVE)) + abs(near_y - start_y)
    level += abs(far_x - end_x) + abs(far_y - (end_y - down * _CURVE))
    if level <= 4 * _NEAR:
        return True
    upright = abs(near_x - start_x) + abs(near_y - (start_y + down * _CURVE))
    upright += abs(far_x - (end_x - across * _CURVE)) + abs(far_y - end_y)
    return upright <= 4 * _NEAR
