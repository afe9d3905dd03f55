"""Page-making over heights: what must hold on every page, whatever is on it."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stavewright.paper.imposition import MOST_SHEETS, folded, gatherings
from stavewright.paper.page_breaks import FORBIDDEN, BreakableBlock, PageFill, paginate

DEPTH = 250.0


def part(systems: int, height: float = 20.0) -> list[BreakableBlock]:
    """A heading that holds its first system, and systems that may be parted."""
    heading = BreakableBlock(5, space=5, stretch=1)
    first = BreakableBlock(height, space=1, stretch=0.3, cost=FORBIDDEN, system=True)
    later = BreakableBlock(height, space=3.5, stretch=1, cost=60, turn=300, system=True)
    return [heading, first, *[later] * (systems - 1)]


parts = st.lists(st.builds(part, st.integers(1, 6), st.floats(8, 40)), min_size=1, max_size=30).map(
    lambda found: [box for each in found for box in each]
)
books = st.lists(parts, min_size=1, max_size=4).map(
    lambda sections: [
        box
        for number, section in enumerate(sections)
        for box in [BreakableBlock(7, opens=number % 2 == 1, opens_right=number % 2 == 0), *section]
    ]
)


def inside(pages: list[PageFill]) -> list[int]:
    return [place for page in pages for place in range(page.first, page.end)]


@given(books, st.booleans())
def test_every_line_stands_once_in_order_and_within_its_page(
    boxes: list[BreakableBlock], single: bool
) -> None:
    pages = paginate(boxes, DEPTH, single_sided=single)
    assert inside(pages) == list(range(len(boxes)))
    for page in pages:
        edges = [
            (top, top + boxes[place].height)
            for place, top in zip(range(page.first, page.end), page.tops, strict=True)
        ]
        assert all(above[1] <= below[0] + 1e-6 for above, below in pairwise(edges))
        assert not edges or edges[0][0] == 0
        assert not edges or edges[-1][1] <= DEPTH + 1e-6


@given(books)
def test_no_system_is_parted_from_its_heading(boxes: list[BreakableBlock]) -> None:
    for page in paginate(boxes, DEPTH):
        assert page.first == page.end or boxes[page.first].cost < FORBIDDEN


@given(books)
def test_no_system_is_alone_where_another_could_join_it(boxes: list[BreakableBlock]) -> None:
    pages = paginate(boxes, DEPTH)
    for number, page in enumerate(pages):
        systems = sum(boxes[place].system for place in range(page.first, page.end))
        if systems != 1 or boxes[page.first].must_open:
            continue
        before = pages[number - 1]
        # It is alone only where the one before it could not follow without leaving another one alone.
        left = [place for place in range(before.first, before.end) if boxes[place].system]
        assert len(left) <= 2 or any(boxes[place].cost >= FORBIDDEN for place in left[-1:])


@given(books)
def test_sections_open_pages_and_parts_right_hand_ones(boxes: list[BreakableBlock]) -> None:
    pages = paginate(boxes, DEPTH)
    firsts = {page.first: number for number, page in enumerate(pages, start=1) if page.end > page.first}
    for place, box in enumerate(boxes):
        if box.must_open:
            assert place in firsts
        if box.opens_right:
            assert firsts[place] % 2 == 1
    for page in pages:
        # A blank page stands only before a right-hand opening, for none may spare a turn here.
        assert page.end > page.first or boxes[page.first].opens_right


@pytest.mark.parametrize(
    ("turn", "blank", "spared"), [(5_000, 400, True), (300, 400, False), (5_000, 0, False)]
)
def test_a_blank_page_spares_a_turn(turn: float, blank: float, spared: bool) -> None:
    page = BreakableBlock(DEPTH)
    # Two pages that belong together: after one page they face each other, after two they share a leaf.
    section = [BreakableBlock(DEPTH, opens=True, blank=blank), BreakableBlock(DEPTH, turn=turn)]
    after_one = paginate([page, *section], DEPTH)
    assert all(each.tops for each in after_one)
    after_two = paginate([page, replace(page, opens=True), *section], DEPTH)
    filled = [number for number, each in enumerate(after_two, 1) if each.tops]
    assert filled == ([1, 2, 4, 5] if spared else [1, 2, 3, 4])
    assert len(paginate([page, page, *section], DEPTH, single_sided=True)) == 4


@given(books)
def test_no_page_is_blank_on_single_sides(boxes: list[BreakableBlock]) -> None:
    assert all(page.end > page.first for page in paginate(boxes, DEPTH, single_sided=True))


@given(books)
def test_the_same_lines_make_the_same_pages(boxes: list[BreakableBlock]) -> None:
    assert paginate(boxes, DEPTH) == paginate(list(boxes), DEPTH)


def test_pages_are_evenly_full() -> None:
    # 44 parts of one system, about nine to a page: all pages but the last reach the bottom, spread alike.
    boxes = [box for _ in range(44) for box in part(1, 18)]
    pages = paginate(boxes, DEPTH)
    bottoms = [page.tops[-1] + boxes[page.end - 1].height for page in pages[:-1]]
    assert bottoms == pytest.approx([DEPTH] * len(bottoms))
    counts = [page.end - page.first for page in pages]
    assert max(counts[:-1]) - min(counts[:-1]) <= 2


def test_the_last_page_is_no_looser_than_the_one_before() -> None:
    boxes = [box for _ in range(11) for box in part(2, 20)]
    pages = paginate(boxes, DEPTH)
    gaps = [page.tops[3] - page.tops[2] - boxes[page.first + 2].height for page in pages]
    assert gaps[-1] <= gaps[-2] + 1e-6


def test_a_leaf_is_turned_between_parts() -> None:
    # The first page could hold the first part and half the second; a right-hand page does not end there.
    boxes = [*part(6, 30), *part(6, 30)]
    pages = paginate(boxes, 6 * 30 + 6 * 5 + 60)
    assert [page.first for page in pages] == [0, 7]


def test_a_leaf_is_turned_at_a_rest_where_it_must_be_turned_within_a_part() -> None:
    def line(turn: float) -> BreakableBlock:
        return BreakableBlock(30, space=4, stretch=1, cost=60, turn=turn, system=True)

    # Twelve systems and room for seven: of the breaks that fill both pages alike, the one with a rest.
    turns = [300.0] * 12
    turns[5] = 20.0
    pages = paginate([line(turn) for turn in turns], 7 * 34)
    assert [page.first for page in pages] == [0, 5]


def test_what_is_taller_than_a_page_has_one_to_itself() -> None:
    boxes = [BreakableBlock(20), BreakableBlock(400), BreakableBlock(20)]
    assert [(page.first, page.end) for page in paginate(boxes, DEPTH)] == [(0, 1), (1, 2), (2, 3)]


def test_a_booklet_of_eight_pages() -> None:
    # From memory, as any folded sheet shows: the outermost side carries the last page and the first.
    assert folded(8) == [(8, 1), (2, 7), (6, 3), (4, 5)]


@given(st.integers(1, 200))
def test_a_folded_booklet_reads_in_order(count: int) -> None:
    sides = folded(count)
    whole = 2 * len(sides)
    assert whole % 4 == 0
    assert 0 <= whole - count < 4
    # A sheet is two sides back to back: behind its left half lies the right half of its other side. Folded
    # and nested, the right halves are read on the way in, their backs after each, the left halves on the way
    # out.
    read: list[int] = []
    sheets = list(zip(sides[::2], sides[1::2], strict=True))
    for size in gatherings(count):
        way_in: list[int] = []
        way_out: list[int] = []
        for outer, inner in sheets[:size]:
            way_in += [outer[1], inner[0]]
            way_out = [inner[1], outer[0], *way_out]
        read += way_in + way_out
        del sheets[:size]
    assert not sheets
    assert read == list(range(1, whole + 1))


@given(st.integers(1, 2000))
def test_no_gathering_is_too_thick_to_fold(count: int) -> None:
    sizes = gatherings(count)
    assert max(sizes) <= MOST_SHEETS
    assert max(sizes) - min(sizes) <= 1
    # The rule asks for 4 sheets at least where there are more than one gathering of 8.
    assert len(sizes) == 1 or min(sizes) >= 4
