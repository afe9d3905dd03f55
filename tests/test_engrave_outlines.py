"""Shorter path data draws the same outline, compared by a second reader of path data."""

from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st

from stavewright.engrave.outlines import shorten_outline
from stavewright.engrave.svg import drawing

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
