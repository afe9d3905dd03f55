"""Shorter path data draws the same: by a second reader of path data, by its numbers and by its pixels."""

from __future__ import annotations

import re
from fractions import Fraction
from io import BytesIO

import numpy as np
import pytest
import resvg_py
from hypothesis import assume, given
from hypothesis import strategies as st
from PIL import Image

from stavewright.engrave.drawings.glyph_definitions import define_glyphs
from stavewright.engrave.drawings.svg import Drawing, Note, drawing, sprite
from stavewright.engrave.drawings.svg_paths import Box, read_box, shorten_outline
from stavewright.engrave.drawings.svg_short import shorten_body, shorten_lines

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


def edges(box: Box) -> tuple[float, float, float, float]:
    """Left, top, right and bottom of what a box draws: its own words, and half its pen around them."""
    x = y = 0.0
    points = []
    for command, text in re.findall(r"([Mhv])([^Mhvz]*)", box.outline):
        numbers = [float(value) for value in re.findall(r"-?(?:\d+(?:\.\d+)?|\.\d+)", text)]
        if command == "M":
            x, y = numbers
        elif command == "h":
            x += numbers[0]
        elif command == "v":
            y += numbers[0]
        points.append((x, y))
    across, down = [x for x, _ in points], [y for _, y in points]
    turn = box.radius / 100
    return min(across) - turn, min(down) - turn, max(across) + turn, max(down) + turn


@given(place, place, length, length, st.sampled_from([0, 0.1, 0.2, 0.5]), st.booleans(), START)
def test_a_box_is_its_edges(
    x: float, y: float, width: float, height: float, radius: float, backward: bool, start: int
) -> None:
    assume(radius * 2 <= min(width, height))
    box = read_box(as_cairo(x, y, width, height, radius, backward, start))
    assert box is not None
    wanted = x, y, x + width, y + height
    assert all(abs(a - b) <= 0.0151 for a, b in zip(edges(box), wanted, strict=True))
    assert box.radius == pytest.approx(radius * 100, abs=1)


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
        assert read_box(outline) is None, outline


def pixels(svg: str) -> bytes:
    """A drawing in black on white, four pixels a point."""
    return bytes(resvg_py.svg_to_bytes(svg_string=svg, background="white", zoom=4))


HEAD = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
    'viewBox="0 0 80 40" width="80" height="40">'
)


def difference(raw: str) -> float:
    """How much of the ink of a file is elsewhere when it is made fit for a page, as a part of it."""
    made = drawing(raw)
    one, joined, short = (
        np.asarray(Image.open(BytesIO(pixels(each))).convert("L")).astype(int)
        for each in (
            raw,
            *(f"{HEAD}{glyphs_of(made)}{body}</svg>" for body in (made.body, shorten_body(made.body))),
        )
    )
    assert (one < 128).any()
    return float(max(np.abs(one - other).sum() for other in (joined, short)) / (255 - one).sum())


def glyphs_of(*made: Drawing) -> str:
    """The glyphs of drawings as a page defines them."""
    found = {name: outline for each in made for name, outline in each.glyphs.items()}
    return define_glyphs(found, "".join(each.body for each in made))


def test_boxes_that_cross_leave_no_hole() -> None:
    # A stem across a bar line and a ledger line, each the other way round, and a slur beside them.
    outlines = [
        as_cairo(20, 5, 0.64, 30, 0.2, False, 0),
        as_cairo(18, 5, 0.64, 30, 0, True, 1),
        as_cairo(10, 15, 20, 1, 0.5, True, 3),
        as_cairo(10, 25, 20, 1, 0.5, False, 5),
        as_cairo(34, 5, 6, 30, 2, False, 5),
    ]
    paths = "".join(f'<path d="{outline}"/>' for outline in outlines)
    raw = f"{HEAD}<g>{paths}</g></svg>"
    # One path for each radius.
    assert drawing(raw).body.count("<path") == 4
    assert difference(raw) < 0.02


SHAPES = {
    "head": "M 0 0 C 0 -4 6 -4 6 0 C 6 4 0 4 0 0 Z M 0 0",
    "clef": "M 0 3 L 4 3 L 4 -6 L 0 -6 Z M 0 3",
    "sharp": "M 0 2 L 2 2 L 2 -2 L 0 -2 Z M 0 2",
    "blank": "",
}


def file_of_glyphs(*placed: tuple[str, float, float]) -> str:
    """A file as Cairo writes it: each glyph in a group of its own that says that it is black."""
    symbols = "".join(
        f'<symbol overflow="visible" id="{name}"><path style="stroke:none;" d="{shape}"/></symbol>'
        for name, shape in SHAPES.items()
    )
    uses = "".join(
        f'<g style="fill:rgb(0%,0%,0%);fill-opacity:1;"><use xlink:href="#{name}" x="{x}" y="{y}"/></g>'
        for name, x, y in placed
    )
    return f"{HEAD}<defs><g>{symbols}</g></defs><g>{uses}</g></svg>"


def test_a_glyph_that_stands_several_times_is_one_element() -> None:
    raw = file_of_glyphs(("head", 50, 20), ("sharp", 24, 9), ("head", 30.123, 10.456), ("head", 40, 30.5))
    notes = [Note(x + 3, y, 0, Fraction(n)) for n, (x, y) in enumerate(((30.123, 10.456), (50, 20)))]
    made = drawing(raw, notes, [30.123, 50])
    assert made.body.count("<") == 3
    head, sharp = (name for name, shape in sorted(made.glyphs.items(), key=lambda each: -len(each[1])))
    assert 'd="M30.12 10.46l0 0 19.88 9.54 0 0" data-n="0 1"' in made.body
    assert f'<use x="40" y="30.5" href="#{head}"/>' in made.body
    assert f'<use x="24" y="9" href="#{sharp}"/>' in made.body
    assert difference(raw) < 0.01
    assert sprite([made]).count("<marker ") == 1


def test_the_signature_is_one_glyph_with_its_clef() -> None:
    signature = [("sharp", 27, 12), ("sharp", 22, 16), ("clef", 5, 20)]
    raw = file_of_glyphs(("head", 40, 20), *signature, ("head", 50, 12))
    made = drawing(raw)
    assert made.body.count("<") == 2
    assert '<use x="5" y="20" ' in made.body
    assert difference(raw) < 0.01
    # The same signature elsewhere is the same glyph; a note head is never a part of it.
    below = drawing(file_of_glyphs(*((name, x, y + 7.31) for name, x, y in signature)))
    assert set(below.glyphs) < set(made.glyphs)
    assert drawing(file_of_glyphs(*signature), [Note(30, 12, 0, Fraction(0))], [27]).body.count("<use") == 2


def test_a_word_is_one_glyph_and_blanks_are_none() -> None:
    word = [("sharp", 20, 20), ("blank", 24, 20), ("clef", 26, 20), ("sharp", 34, 20)]
    made = drawing(file_of_glyphs(*word))
    assert made.body.count("<") == 1
    assert len(made.glyphs) == 1
    assert difference(file_of_glyphs(*word)) < 0.01


def test_lines_of_one_pen_are_one_path_and_colours_stay() -> None:
    pen = "fill:none;stroke-width:1;stroke-linecap:round;stroke:rgb(0%,0%,0%)"
    red = pen.replace("rgb(0%,", "rgb(90%,")
    raw = HEAD + "".join(
        f'<path d="M 5 {y} L 30 {y + 3}" style="{style}" transform="matrix(1,0,0,-1,{x},{35})"/>'
        for x, y, style in ((0, 5, pen), (3, 12, pen), (0, 20, red), (40, 20, pen), (40, 9, red))
    )
    made = drawing(f"{raw}</svg>")
    assert made.body.count("<path") == 3
    assert made.body.count('stroke="rgb(90%,0%,0%)"') == 1
    assert difference(f"{raw}</svg>") < 0.01


def test_an_edge_and_what_it_encloses_are_one_path() -> None:
    slur = "M 5 5 C 15 15 25 15 35 5 C 25 13 15 13 5 5 Z M 5 5"
    edge = f'<path d="{slur}" style="fill:none;stroke-width:0.4;stroke:rgb(0%,0%,0%)"/>'
    raw = f'{HEAD}{edge}<path d="{slur}"/></svg>'
    assert drawing(raw).body.count("<path") == 1
    assert difference(raw) < 0.02


@given(outline)
def test_lines_in_hundredths_lead_to_the_same_places(parts: list) -> None:
    assume(all(steps for _, steps in parts))
    joined = "".join(shorten_outline(written([part])) for part in parts)
    short = shorten_lines(joined, can_turn=False)
    assert short is not None
    assert "." not in short
    there = [(command, [round(value * 100) for value in numbers]) for command, numbers in places(joined)]
    assert places(short) == there


def test_a_straight_line_may_be_drawn_from_its_other_end() -> None:
    staff = "M3.09 53h263.76M3.09 48.02h263.76M3.09 43.04h263.76"
    assert shorten_lines(staff) == "M309 5300h26376m0-498h-26376m0-498h26376"
    # Dashes begin where a line begins.
    assert shorten_lines(staff, can_turn=False) == "M309 5300h26376m-26376-498h26376m-26376-498h26376"


def test_arcs_and_what_is_no_path_stay() -> None:
    assert shorten_lines("M1 2a1 1 0 0 0 2 2") is None
    assert shorten_lines("h4") is None
    pen = 'stroke="currentColor" stroke-linecap="round" stroke-linejoin="round"'
    body = f'<g {pen}><path d="M1 2a1 1 0 0 0 2 2"/></g>'
    assert shorten_body(body) == body


def test_pens_and_dashes_are_scaled_with_their_lines() -> None:
    pen = "fill:none;stroke-linecap:round;stroke-linejoin:round;stroke:rgb(0%,0%,0%)"
    raw = HEAD + "".join(
        f'<path d="M 5 {y} L 60 {y + 1}" style="{pen};{width}" transform="matrix(1,0,0,-1,0,40)"/>'
        for y, width in (
            (5, "stroke-width:0.5"),
            (15, "stroke-width:2"),
            (25, "stroke-width:1;stroke-dasharray:3,4.5"),
        )
    )
    raw += '<path d="M 66 5 L 68 5 L 68 30 L 66 30 Z"/></svg>'
    short = shorten_body(drawing(raw).body)
    assert 'stroke-width="50"' in short
    assert 'stroke-dasharray="300,450"' in short
    assert short.count("<g") == 1
    assert difference(raw) < 0.01


def letter(*turns: int) -> str:
    """An outline with many corners, as letters have."""
    corners = [(turn % 7 + place / 7, -place / 4) for place, turn in enumerate(turns * 12)]
    return f"M 0 0 {' '.join(f'L {x:.2f} {y:.2f}' for x, y in corners)} Z M 0 0"


SHAPES |= {"t": letter(1, 4, 2, 6), "u": letter(3, 5, 1, 4, 2)}


def word_at(y: float, letters: str) -> list[tuple[str, float, float]]:
    return [(letter, 10 + 8 * place, y) for place, letter in enumerate(letters)]


def test_a_letter_that_words_share_is_defined_once() -> None:
    raw = file_of_glyphs(*word_at(10, "ttut"), *word_at(24, "utt"), *word_at(38, "tut"))
    made = drawing(raw)
    assert made.body.count("<use") == 3
    glyphs = glyphs_of(made)
    # Two letters, each used as often as it stands in a word.
    assert glyphs.count("<path") == 2
    assert glyphs.count("<use") == 10
    assert difference(raw) < 0.01


def test_what_a_page_has_once_is_defined_in_its_place() -> None:
    made = drawing(file_of_glyphs(*word_at(10, "tu")))
    assert glyphs_of(made).count("<path") == 1
    assert "<use" not in glyphs_of(made)
