"""The structure of a PDF from made-up pages: levels of headings, what goes on over pages, and its order.

The words are drawings without letters, so nothing is engraved; PDFium reads the structure.
"""

from __future__ import annotations

import io

import pikepdf
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageCms
from structure_reader import read_pages

from stavewright.paper.compose import describe_none
from stavewright.paper.extracted_piece import ExtractedPiece, ExtractedSystem
from stavewright.paper.flow import Cell, Music, Row, measure_row
from stavewright.paper.page import DocumentInfo, Page, PlacedSystem, SheetSide
from stavewright.paper.pdf.archive import colour_profile
from stavewright.paper.pdf.structure import page_labels
from stavewright.paper.pdf.writer import write_pdf
from stavewright.paper.tags import ARTIFACT, Element, Tag, heading, list_item
from stavewright.paper.text import Style, Text

LINE = ExtractedSystem(0.0, 5.0, 20.0, None, ("0 0 100 100 re f",))
INK = ExtractedPiece((LINE, LINE), {})
ABOUT = DocumentInfo("A print", "A book")


def written(*pages: list[Tag], numbers: tuple[tuple[int, ...], ...] = (), apiece: int = 1) -> bytes:
    """Pages that have something at the end of each of these tags, `apiece` on a side."""
    made = [
        Page(tuple(PlacedSystem(INK, 0, 10.0, 10.0 + 5 * place, tag=tag) for place, tag in enumerate(tags)))
        for tags in pages
    ]
    sides = [
        SheetSide(
            100.0 * apiece, 100.0, tuple((page, 100.0 * at) for at, page in enumerate(made[n : n + apiece]))
        )
        for n in range(0, len(made), apiece)
    ]
    if numbers:
        sides = [
            SheetSide(100.0 * apiece, 100.0, side.leaves, own)
            for side, own in zip(sides, numbers, strict=True)
        ]
    return write_pdf(sides, ABOUT, (), {}.__getitem__, lambda name: f"the piece {name}")


@given(st.lists(st.integers(1, 9), max_size=12))
def test_no_level_of_headings_is_left_out(ranks: list[int]) -> None:
    tags: list[Tag] = [(heading(rank, f"{place}"),) for place, rank in enumerate(ranks)]
    (page,) = read_pages(written(tags))
    levels = [int(found.role.removeprefix("H")) for found in page]
    assert len(levels) == len(ranks)
    assert levels[:1] in ([], [1])
    assert max(levels, default=1) <= 6
    for before, level, rank_before, rank in zip(levels, levels[1:], ranks, ranks[1:], strict=False):
        assert level <= before + 1
        if rank <= rank_before:
            assert level <= before
        elif before < 6:
            assert level == before + 1


def test_a_piece_over_two_pages_is_one_figure() -> None:
    figure = Element("Figure", "once", piece="tide")
    data = written([(Element("P", "1"),), (figure,)], [(figure,), (Element("P", "2"),)])
    first, second = read_pages(data)
    assert [found.tree for found in first.elements] == ["P", "Figure"]
    assert [found.alt for found in first if found.role == "Figure"] == ["the piece tide"]
    with pikepdf.open(io.BytesIO(data)) as book:
        elements = book.Root.StructTreeRoot.K.K
        assert [str(element.S) for element in elements] == ["/P", "/Figure", "/P"]
        here, there = elements[1].K
        assert here == 1
        assert (there.Type, there.MCID, there.Pg.objgen) == ("/MCR", 0, book.pages[1].obj.objgen)
        # On two pages there is no one box.
        assert "/A" not in elements[1]
        parents = book.Root.StructTreeRoot.ParentTree.Nums
        assert [parents[0], parents[2]] == [page.StructParents for page in book.pages]
        assert [element.objgen for element in parents[3]] == [elements[1].objgen, elements[2].objgen]
    assert [found.role for found in second] == ["Figure", "P"]


def test_what_is_no_content_is_an_artifact() -> None:
    (page,) = read_pages(written([(), ARTIFACT, (Element("P", "1"),)]))
    assert [found.role for found in page] == ["P"]
    assert page.unmarked == 0
    assert page.marks == {"Artifact", "P"}


def test_pages_side_by_side_are_read_in_their_own_order() -> None:
    tags: list[list[Tag]] = [[(Element("P", f"{n}", said=f"page {n}"),)] for n in (1, 4, 2, 3)]
    with pikepdf.open(io.BytesIO(written(*tags, numbers=((1, 4), (2, 3)), apiece=2))) as book:
        elements = book.Root.StructTreeRoot.K.K
        assert [str(element.ActualText) for element in elements] == [f"page {n}" for n in (1, 2, 3, 4)]


def test_labels_of_pages() -> None:
    found = page_labels(["1", "2", "3", "", "1", "2", "8, 1"])
    told = [
        (found.Nums[n], {str(key): str(value) for key, value in found.Nums[n + 1].items()})
        for n in range(0, 8, 2)
    ]
    assert told == [
        (0, {"/S": "/D", "/St": "1"}),
        (3, {}),
        (4, {"/S": "/D", "/St": "1"}),
        (6, {"/P": "8, 1"}),
    ]


PLAIN, TITLE = Style(10, 5), Style(20, 9, rank=2)


def placed(*rows: Row) -> list[list[str]]:
    """For each line of some rows, the roles and names that its things are held by."""
    texts = {cell.what: INK for row in rows for cell in row.cells if isinstance(cell.what, Text)}
    lines = measure_row(rows, texts, lambda name: INK, 100.0)
    return [
        [
            " ".join(f"{each.role}{each.rank or ''}:{each.name}" for each in placed.tag)
            for placed in line.placed
        ]
        for line in lines
    ]


def test_words_are_headings_or_paragraphs_by_their_style() -> None:
    said = Text(PLAIN, "two lines", "x")
    rows = Row((Cell(Text(TITLE, "Title", "x")), Cell(said))), Row((Cell(said), Cell(Text(PLAIN, "", "x"))))
    assert placed(*rows) == [["H2:0.0", "P:0.1"]] * 2 + [["P:1.0", ""]] * 2


def test_systems_belong_to_the_figure_that_begins_with_the_first() -> None:
    rows = [Row((Cell(Music("tide", number)),)) for number in (0, 1, 0, 1)]
    assert placed(*rows) == [["Figure:tide#0"]] * 2 + [["Figure:tide#2"]] * 2


def test_rows_of_one_list_follow_each_other() -> None:
    item = Text(PLAIN, "item", "x")
    row = Row((Cell(item, tag=list_item(0, "LBody")),), tag=(Element("L", "focus"),))
    # Each row has two lines.
    assert placed(row, row, Row((Cell(item),)), row) == [
        *[["L:focus#0 LI:0 LBody:LBody"]] * 4,
        *[["P:2.0"]] * 2,
        *[["L:focus#3 LI:0 LBody:LBody"]] * 2,
    ]


def test_another_library_reads_the_colour_profile() -> None:
    profile = ImageCms.ImageCmsProfile(io.BytesIO(colour_profile()))
    assert (profile.profile.xcolor_space.strip(), profile.profile.device_class) == ("RGB", "mntr")
    picture = Image.new("RGB", (3, 1))
    for place, colour in enumerate([(0, 0, 0), (255, 255, 255), (200, 100, 50)]):
        picture.putpixel((place, 0), colour)
    seen = ImageCms.profileToProfile(picture, profile, ImageCms.createProfile("sRGB"))
    for place in range(3):
        pairs = zip(picture.getpixel((place, 0)), seen.getpixel((place, 0)), strict=True)
        # sRGB's own curve is a little darker in the shadows than a gamma of 2.2.
        assert all(abs(one - other) <= 5 for one, other in pairs)


def test_a_print_without_music_needs_no_description() -> None:
    side = SheetSide(100.0, 100.0, ((Page(), 0.0),))
    with pikepdf.open(io.BytesIO(write_pdf([side], ABOUT, (), {}.__getitem__, describe_none))) as book:
        assert "/StructParents" not in book.pages[0].obj
