"""Path data of SVG in fewer characters.

Most of a page of music is path data. Relative steps are shorter than places, and equal shapes become equal
text wherever they stand, which compresses well. Stems, bar lines and ledger lines are boxes: Cairo writes a
round one as four curves whose numbers differ a little wherever it stands. Here a box is its corner, width,
height and radius, and all boxes run the same way round, so that many of them can be one path without a hole
where two overlap.
"""

from __future__ import annotations

from functools import lru_cache

_SIZES = {"M": 2, "L": 2, "C": 6, "Z": 0}
"""How many numbers follow each command."""

_MANY = 1_000_000
"""Hundredths; longer numbers than any outline needs: the engraver's pages are some thousand points long."""

_NEAR = 0.02
"""Points: what Cairo's rounding may change between two sides of one box."""
_CURVE = 0.5523
"""Where the handles of a quarter circle lie, as a part of its radius."""

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


def shorten_outline(outline: str, across: float = 1, down: float = 1) -> str:
    """An outline of absolute M, L, C and Z, to a hundredth, with relative steps.

    Its points are first multiplied by `across` and `down`. They are rounded before their distances are
    taken, so no error adds up. Anything else than those four comes back as it was.
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
            places = [round(float(word) * 100 * across) for word in values[::2]]
            heights = [round(float(word) * 100 * down) for word in values[1::2]]
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


def outline_of_box(outline: str) -> str | None:
    """A closed outline of absolute M, L, C and Z as a box of relative steps, to a hundredth of a point.

    None where it is no box: something else than upright and level sides with four equal quarter circles, or
    none, at its corners.
    """
    steps = _steps(outline)
    if steps is None:
        return None
    points = [step[-1] for step in steps]
    left, right = min(x for x, _ in points), max(x for x, _ in points)
    top, bottom = min(y for _, y in points), max(y for _, y in points)
    curves = [(points[number - 1], *step) for number, step in enumerate(steps) if len(step) == 3]
    radius = abs(curves[0][3][0] - curves[0][0][0]) if curves else 0.0
    if len(curves) not in (0, 4) or not all(_quarter(*curve, radius) for curve in curves):
        return None
    before_x, before_y = points[-1]
    for step, (x, y) in zip(steps, points, strict=True):
        if len(step) == 1 and abs(x - before_x) > _NEAR and abs(y - before_y) > _NEAR:
            return None
        # From the nearest corner.
        if not min(x - left, right - x) + min(y - top, bottom - y) <= radius + 2 * _NEAR:
            return None
        before_x, before_y = x, y
    if not curves and (len(set(points)) < 4 or len(points) != 4):
        return None
    return _write_box(left, top, right - left, bottom - top, radius)


def _steps(outline: str) -> list[tuple[_Point, ...]] | None:
    """Each step's points, of one closed outline: three for a curve, one for a line.

    The first line leads to the beginning, so that every step follows another.
    """
    words = outline.split()
    while len(words) >= 3 and words[-3] == "M":
        del words[-3:]
    if len(words) < 10 or words[0] != "M" or words[-1] != "Z" or words.count("Z") + words.count("M") != 2:
        return None
    steps: list[tuple[_Point, ...]] = []
    index = 0
    try:
        while index < len(words) - 1:
            size = _SIZES[words[index]]
            numbers = list(map(float, words[index + 1 : index + 1 + size]))
            if size == 6:
                a, b, c, d, e, f = numbers
                steps.append(((a, b), (c, d), (e, f)))
            else:
                x, y = numbers
                steps.append(((x, y),))
            index += 1 + size
    except (KeyError, ValueError):
        return None
    first, last = steps[0][0], steps[-1][-1]
    if abs(first[0] - last[0]) + abs(first[1] - last[1]) <= _NEAR:
        # It came back to where it began: that step closes it.
        del steps[0]
    return steps


def _quarter(start: _Point, near: _Point, far: _Point, end: _Point, radius: float) -> bool:
    """Whether a curve is a quarter circle of a radius between an upright and a level side."""
    across, down = end[0] - start[0], end[1] - start[1]
    if abs(abs(across) - radius) > _NEAR or abs(abs(down) - radius) > _NEAR:
        return False
    # It leaves along a level side and comes to an upright one, or the other way round.
    level = abs(near[0] - (start[0] + across * _CURVE)) + abs(near[1] - start[1])
    level += abs(far[0] - end[0]) + abs(far[1] - (end[1] - down * _CURVE))
    upright = abs(near[0] - start[0]) + abs(near[1] - (start[1] + down * _CURVE))
    upright += abs(far[0] - (end[0] - across * _CURVE)) + abs(far[1] - end[1])
    return level <= 4 * _NEAR or upright <= 4 * _NEAR


def _write_box(left: float, top: float, width: float, height: float, radius: float) -> str:
    """A box from its upper left corner, clockwise."""
    x, y, across, down = (round(value * 100) for value in (left, top, width, height))
    turn = min(round(radius * 100), across // 2, down // 2)
    along, beside = across - 2 * turn, down - 2 * turn

    def corner(right: int, below: int) -> str:
        if not turn:
            return ""
        space = " " if right > 0 else ""
        return f"a{_join_numbers([turn, turn])} 0 0 1{space}{_join_numbers([right, below])}"

    def side(letter: str, length: int) -> str:
        return f"{letter}{_write_number(length)}" if length else ""

    rows = [
        f"M{_join_numbers([x + turn, y])}",
        side("h", along) + corner(turn, turn),
        side("v", beside) + corner(-turn, turn),
        side("h", -along) + corner(-turn, -turn),
    ]
    if turn:
        rows.append(side("v", -beside) + corner(turn, -turn))
    return "".join(rows) + "z"
