"""The author's own pages: what of a Markdown page is printed, and its pictures."""

from __future__ import annotations

import io
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from stavewright.book.own_pages import Heading, Paragraph, Picture, TableRow, blocks_of, own_page
from stavewright.paper.pictures import UnusablePicture, picture_piece
from stavewright.prints.own_pages import AuthorsOrder
from stavewright.site.headings import split_heading

PAGE = """\
# Before you *begin*

A **strong** word and a [link](other.md)
on two lines.  
A new line.

- one
- two
    1. inner

> quoted

![a hand](hand.png)

| fingers | note |
|---|---|
| 1 2 | A |

```
x  y
```

<script>alert(1)</script>

## Sounds &amp; rests
"""

BLOCKS = (
    Paragraph("A strong word and a link on two lines."),
    Paragraph("A new line.", close=True),
    Paragraph("one", 1, "•", items=((0, 0),)),
    Paragraph("two", 1, "•", items=((0, 1),)),
    Paragraph("inner", 2, "1.", items=((0, 1), (1, 0))),
    Paragraph("quoted", 1),
    Picture("hand.png", "a hand"),
    TableRow(("fingers", "note"), heading=True),
    TableRow(("1 2", "A")),
    Paragraph("x y"),
    Heading("Sounds & rests", 2),
)


def test_a_page_is_read_block_by_block() -> None:
    found = own_page("preface.md", PAGE)
    assert found.title == "Before you begin"
    assert found.blocks == BLOCKS


@pytest.mark.parametrize(
    ("name", "text", "title"),
    [
        ("a.md", "---\ntitle: Given\n---\n# Written\n\nx\n", "Given"),
        ("a.md", "# Written\n\nx\n", "Written"),
        ("a.md", "---\ntitle: [a, b]\n---\nx\n", "A"),
        ("care-of_the-reed.md", "x\n", "Care of the reed"),
        ("pages/Reeds.md", "x\n\n# Later\n", "Reeds"),
        ("reeds/index.md", "x\n", "Reeds"),
    ],
)
def test_a_page_has_one_title(name: str, text: str, title: str) -> None:
    found = own_page(name, text)
    assert found.title == title
    assert found.blocks[0] == Paragraph("x")


@given(st.text(alphabet='<>/="& \n-*1.|hpliutdr[]()!', max_size=80))
def test_any_page_is_read(text: str) -> None:
    for block in own_page("a.md", text).blocks + blocks_of(text):
        said = block.cells if isinstance(block, TableRow) else (block.words,)
        assert not any("\n" in words for words in said)


def test_the_first_heading_of_a_page_is_taken_from_it() -> None:
    assert split_heading('<h1 id="x">A <em>b</em> &amp; c</h1>\n<p>d</p>') == ("A b & c", "<p>d</p>")
    assert split_heading("<p>d</p><h1>e</h1>") == ("", "<p>d</p><h1>e</h1>")
    assert split_heading("<h2>d</h2>") == ("", "<h2>d</h2>")


def picture(mode: str, kind: str, size: tuple[int, int] = (300, 150), **more: object) -> bytes:
    """A file of one colour."""
    out = io.BytesIO()
    Image.new(mode, size).save(out, kind, **more)
    return out.getvalue()


SVG = '<svg xmlns="http://www.w3.org/2000/svg" {}><rect width="9" height="9"/></svg>'


@pytest.mark.parametrize(
    ("name", "data", "pixels", "size"),
    [
        ("a.png", picture("RGB", "PNG"), (300, 150), (50.8, 25.4)),
        ("a.png", picture("LA", "PNG"), (300, 150), (50.8, 25.4)),
        ("a.JPG", picture("RGB", "JPEG"), (300, 150), (50.8, 25.4)),
        ("a.jpeg", picture("CMYK", "JPEG"), (300, 150), (50.8, 25.4)),
        ("a.png", picture("L", "PNG", (3000, 1500)), (3000, 1500), (100, 50)),
        ("a.svg", SVG.format('width="2in" height="1in"').encode(), (600, 300), (50.8, 25.4)),
        ("a.svg", SVG.format('viewBox="0 0 96 48"').encode(), (300, 150), (25.4, 12.7)),
    ],
)
def test_a_picture_has_its_size_and_fits_the_page(
    name: str, data: bytes, pixels: tuple[int, int], size: tuple[float, float]
) -> None:
    found = picture_piece(name, data, 100)
    assert found.picture is not None
    assert (found.picture.width, found.picture.height) == pixels
    assert (found.lines[0].right, found.lines[0].height) == pytest.approx(size, abs=0.1)
    assert found.picture.jpeg is (found.picture.data == data)


def test_a_turned_photograph_stands_upright() -> None:
    turned = Image.Exif()
    turned[0x0112] = 6
    found = picture_piece("a.jpg", picture("RGB", "JPEG", exif=turned), 100)
    assert found.picture is not None
    assert (found.picture.width, found.picture.height, found.picture.jpeg) == (150, 300, False)


def test_what_is_clear_in_a_picture_is_white_on_paper() -> None:
    found = picture_piece("a.png", picture("RGBA", "PNG"), 100)
    assert found.picture is not None
    assert set(zlib.decompress(found.picture.data)) == {255}


REFUSED = {
    "text.png": (b"no picture", "its file cannot be read as a picture"),
    "cut.png": (picture("RGB", "PNG")[:60], "its file cannot be read as a picture"),
    "film.gif": (picture("L", "GIF"), "it is none of PNG, JPEG and SVG"),
    "gif.png": (picture("L", "GIF"), "its file cannot be read as a picture"),
    "text.svg": (b"no drawing", "its file cannot be read as a drawing"),
    "sizeless.svg": (SVG.format("").encode(), "it does not say a size that fits a page"),
    "tall.svg": (SVG.format('viewBox="0 0 1 90000"').encode(), "it does not say a size that fits a page"),
    "other.svg": (
        b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><image href="/etc/a.png"/></svg>',
        "it draws on another file",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_picture_that_cannot_be_printed_is_told(name: str) -> None:
    data, said = REFUSED[name]
    with pytest.raises(UnusablePicture, match=said):
        picture_piece(name, data, 100)


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("gone.png", "No such file or directory"),
        ("../../secret.png", "it does not lie among the book's own pages"),
        ("/etc/secret.png", "it does not lie among the book's own pages"),
        ("https://example.org/a.png", "it does not lie among the book's own pages"),
        ("", "it does not lie among the book's own pages"),
    ],
)
def test_a_picture_is_one_of_the_book_s_own(address: str, said: str, tmp_path: Path) -> None:
    order = AuthorsOrder((own_page("in/a.md", f"![x]({address})"),), tmp_path)
    assert list(order.problems(140)) == [f"in/a.md: the picture '{address}' is not printed: {said}"]


def test_a_changed_picture_is_another_print(tmp_path: Path) -> None:
    order = AuthorsOrder((own_page("a.md", "![x](my%20hand.png)"),), tmp_path)
    found = []
    write: Callable[[bytes], int] = (tmp_path / "my hand.png").write_bytes
    for data in (picture("L", "PNG"), picture("RGB", "PNG")):
        write(data)
        assert list(order.problems(140)) == []
        found.append(list(order.decided_by()))
    assert found[0] != found[1]
