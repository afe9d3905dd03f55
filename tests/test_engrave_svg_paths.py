"""Shorter path data draws the same: by a second reader of path data, by its numbers and by its pixels."""

from __future__ import annotations

import re

import resvg_py
from hypothesis import assume, given
from hypothesis import strategies as st

from stavewright.engrave.svg import drawing
from stavewright.engrave.svg_paths import outline_of_box, shorten_outline

number = st.floats(-900, 900).map(lambda value: round(value, 4))
point = st.tuples(number, number)
step = st.one_of(
    st.tuples(st.just("L"), point),
    st.tuples(st.just("C"), st.tuples(number, number, number, number, number, number)),
    st.just(("Z", ())),
)
outline = st.lists(st.tuples(point, st.lists(step, max_size=6)), min_size=1, max_size=4)


def written(parts: list) -> str:
    """As Cairo writes it: absolute, all parted by spaces."""
    words = []
    for start, steps in parts:
        words += ["M", *start]
        for command, values in steps:
            words += [command, *values]
    return " ".join(f"{word:.4f}" if isinstance(word, float) else str(word) for word in words)


def places(path: str) -> list[tuple[str, list[float]]]:
    """Every command with absolute numbers: SVG 1.1, chapter 8, for the commands in use here."""
    found = []
    x = y = start_x = start_y = 0.0
    for command, text in re.findall(r"([A-Za-z])([^A-Za-z]*)", path):
        numbers = [float(value) for value in re.findall(r"-?(?:\d+(?:\.\d+)?|\.\d+)", text)]
        if command == "h":
            numbers = [x + numbers[0], y]
        elif command == "v":
            numbers = [x, y + numbers[0]]
        elif command.islower():
            numbers = [value + (y if place % 2 else x) for place, value in enumerate(numbers)]
        if command in "zZ":
            x, y = start_x, start_y
        else:
            x, y = numbers[-2:]
        if command in "mM":
            start_x, start_y = x, y
        found.append(({"h": "L", "v": "L"}.get(command, command.upper()), numbers))
    return found


@given(outline)
def test_the_same_outline(parts: list) -> None:
    text = written(parts)
    wanted = places(text)
    while wanted and wanted[-1][0] == "M":
        wanted.pop()
    found = places(shorten_outline(text))
    assert [command for command, _ in found] == [command for command, _ in wanted]
    for (_, mine), (_, theirs) in zip(found, wanted, strict=True):
        assert len(mine) == len(theirs)
        assert all(abs(a - b) <= 0.0051 for a, b in zip(mine, theirs, strict=True))


def test_a_rectangle_is_short() -> None:
    cairo = "M 451.34 77.09 L 451.34 64.37 L 452.29 64.37 L 452.29 77.09 Z M 451.34 77.09"
    assert shorten_outline(cairo) == "M451.34 77.09v-12.72h.95v12.72z"


def test_what_is_not_understood_stays() -> None:
    for odd in ("m 1 2 l 3 4", "M 1 2 A 1 1 0 0 1 2 2", "M 1", "rubbish", "M 1e9 2 L 3 4"):
        assert shorten_outline(odd) == odd


def test_the_lines_of_a_staff_are_one_path() -> None:
    pen = 'style="fill:none;stroke-width:0.1;stroke:rgb(0%,0%,0%)" transform="matrix(5,0,0,-5,0,0)"'
    lines = "".join(f'<path d="M 0.6 {y} L 9.6 {y}" {pen}/>' for y in range(5))
    made = drawing(f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 50"><g>{lines}</g></svg>')
    assert made.body.count("<path") == 1
    assert made.body.count("M3") == 5


place = st.floats(0, 900).map(lambda value: round(value, 4))
length = st.floats(0.3, 400).map(lambda value: round(value, 4))
START = st.integers(0, 7)

CURVE = 0.552285
"""How far the handles of a quarter circle reach, of its radius: 4/3 (sqrt 2 - 1)."""


def as_cairo(
    x: float, y: float, width: float, height: float, radius: float, backward: bool, start: int
) -> str:
    """A box as Cairo writes it, from any of its corners, either way round."""
    r, k = radius, radius * (1 - CURVE)
    right, bottom = x + width, y + height
    steps: list[tuple[tuple[float, float], ...]] = [
        ((right - r, y),),
        ((right - k, y), (right, y + k), (right, y + r)),
        ((right, bottom - r),),
        ((right, bottom - k), (right - k, bottom), (right - r, bottom)),
        ((x + r, bottom),),
        ((x + k, bottom), (x, bottom - k), (x, bottom - r)),
        ((x, y + r),),
        ((x, y + k), (x + k, y), (x + r, y)),
    ]
    if not radius:
        steps = steps[::2]
    start %= len(steps)
    steps = steps[start:] + steps[:start]
    ends = [steps[-1][-1], *(step[-1] for step in steps)]
    if backward:
        steps = [(*step[-2::-1], ends[number]) for number, step in reversed(list(enumerate(steps)))]
        ends = [ends[-1], *(step[-1] for step in steps)]
    words = ["M", *ends[0]]
    for step in steps:
        words += ["C" if len(step) == 3 else "L", *(number for point in step for number in point)]
    words += ["Z", "M", *ends[0]]
    return " ".join(word if isinstance(word, str) else f"{word:.6f}" for word in words)


def edges(said: str) -> tuple[float, float, float, float]:
    """Left, top, right and bottom of a box's own words."""
    x = y = 0.0
    points = []
    for command, text in re.findall(r"([Mhvaz])([^Mhvaz]*)", said):
        numbers = [float(value) for value in re.findall(r"-?(?:\d+(?:\.\d+)?|\.\d+)", text)]
        if command == "M":
            x, y = numbers
        elif command == "h":
            x += numbers[0]
        elif command == "v":
            y += numbers[0]
        elif command == "a":
            assert numbers[2:5] == [0, 0, 1]
            x, y = x + numbers[5], y + numbers[6]
        points.append((x, y))
    across, down = [x for x, _ in points], [y for _, y in points]
    return min(across), min(down), max(across), max(down)


@given(place, place, length, length, st.sampled_from([0, 0.1, 0.2, 0.5]), st.booleans(), START)
def test_a_box_is_its_edges(
    x: float, y: float, width: float, height: float, radius: float, backward: bool, start: int
) -> None:
    assume(radius * 2 <= min(width, height))
    said = outline_of_box(as_cairo(x, y, width, height, radius, backward, start))
    assert said is not None
    wanted = x, y, x + width, y + height
    assert all(abs(a - b) <= 0.0151 for a, b in zip(edges(said), wanted, strict=True))
    assert said.count("a") == (4 if radius else 0)


def test_what_is_no_box() -> None:
    slanted = "M 69.82 -6.83 L 69.82 -7.23 L 67.35 -6.61 L 67.35 -6.21 Z"
    three = "M 0 0 L 9 0 L 9 9 Z"
    step = "M 0 0 L 9 0 L 9 4 L 5 4 L 5 9 L 0 9 Z"
    slur = "M 0 0 C 3 4 6 4 9 0 C 6 5 3 5 0 0 Z"
    two = f"{as_cairo(0, 0, 9, 9, 0, False, 0)} L 3 3 Z"
    unequal = (
        "M 2 0 L 8 0 C 9.1 0 10 0.9 10 2 L 10 9 C 10 9.6 9.6 10 9 10 "
        "L 1 10 C 0.4 10 0 9.6 0 9 L 0 2 C 0 0.9 0.9 0 2 0 Z"
    )
    for outline in (
        slanted,
        three,
        step,
        slur,
        two,
        unequal,
        "",
        "rubbish",
        "m 0 0 l 1 1 z",
        "M 0 0 L x y Z",
    ):
        assert outline_of_box(outline) is None, outline


def pixels(svg: str) -> bytes:
    """A drawing in black on white, four pixels a point."""
    return bytes(resvg_py.svg_to_bytes(svg_string=svg, background="white", zoom=4))


def test_boxes_that_cross_leave_no_hole() -> None:
    # A stem across a bar line and a ledger line, each the other way round, and a slur beside them.
    outlines = [
        as_cairo(20, 5, 0.64, 30, 0.2, False, 0),
        as_cairo(18, 5, 0.64, 30, 0, True, 1),
        as_cairo(10, 15, 20, 1, 0.5, True, 3),
        as_cairo(10, 25, 20, 1, 0.5, False, 5),
    ]
    head = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 40" width="40" height="40">'
    paths = "".join(f'<path d="{outline}"/>' for outline in outlines)
    raw = f"{head}<g>{paths}</g></svg>"
    made = drawing(raw)
    assert made.body.count("<path") == 1
    apart = "".join(f'<path d="{outline_of_box(outline)}"/>' for outline in outlines)
    assert pixels(f"{head}{made.body}</svg>") == pixels(f"{head}{apart}</svg>")
