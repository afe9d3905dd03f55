"""A book in its author's order, on the site and on paper, with a page and a picture of her own."""

from __future__ import annotations

import io
from pathlib import Path

import html5lib
import pypdfium2
import pytest
from conftest import TWO_KEYS, write_book
from PIL import Image
from pypdf import PdfReader
from test_print_book import outline

from stavewright.book.read import open_book
from stavewright.cli import main
from stavewright.paper.compose import Printed
from stavewright.paper.page_format import PageFormat
from stavewright.prints.documents import PrintChoice, print_choice

CONTENTS = """\
      contents:
        - preface.md
        - without
        - Low tones: [zeal, ubung]
        - care/reeds.md
"""
TITLES = {"air": "Air", "ubung": "Übung", "without": "Without", "zeal": "Zeal"}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book of four exercises and two pages."""
    found = write_book(
        tmp_path_factory.mktemp("order"),
        {slug: TWO_KEYS.format(title=title) for slug, title in TITLES.items()},
    )
    with (found / "mkdocs.yml").open("a", encoding="utf-8") as config:
        config.write(CONTENTS)
    pages = found / "pages"
    (pages / "care").mkdir()
    (pages / "index.md").write_text("# From us\n\nGood morning.\n", encoding="utf-8")
    (pages / "preface.md").write_text("# To *my* students\n\nBreathe **low**.\n", encoding="utf-8")
    (pages / "care/reeds.md").write_text("Keep them dry.\n\n![a reed](reed.png)\n", encoding="utf-8")
    out = io.BytesIO()
    Image.new("RGB", (300, 150), "#808080").save(out, "PNG")
    (pages / "care/reed.png").write_bytes(out.getvalue())
    return found


@pytest.fixture(scope="module")
def site(folder: Path) -> Path:
    assert main(["build", "--jobs", "1", "--book", str(folder), "--out", str(folder / "site")]) == 0
    return folder / "site"


@pytest.fixture(scope="module")
def printed(folder: Path) -> Printed:
    return print_choice(open_book(folder), "", PrintChoice("flute"), PageFormat())


def parsed(path: Path):  # type: ignore[no-untyped-def]
    """A page as an element tree."""
    return html5lib.parse(path.read_text(encoding="utf-8"), namespaceHTMLElements=False)


def words(element) -> str:  # type: ignore[no-untyped-def]
    return " ".join("".join(element.itertext()).split())


def test_the_home_page_lists_the_book_in_order(site: Path) -> None:
    contents = parsed(site / "index.html").find(".//section[@class='contents']")
    listed = [
        (each.tag, words(each))
        for each in contents.iter()
        if each.tag in ("h3", "h4") or each.get("class") == "own-page"
    ]
    assert listed == [
        ("p", "To my students"),
        ("h3", "Without"),
        ("h3", "Low tones"),
        ("h4", "Zeal"),
        ("h4", "Übung"),
        ("p", "Reeds"),
        ("h3", "Further exercises"),
        ("h4", "Air"),
    ]
    assert [each.get("start") for each in contents.iter("ol")] == [None, "2", "4"]
    for link in contents.iter("a"):
        assert (site / link.get("href")).is_file()


def test_every_list_of_exercises_has_that_order(site: Path) -> None:
    order = ["Without", "Zeal", "Übung", "Air"]
    found = parsed(site / "find/index.html").iter("h2")
    assert [words(each) for each in found if each.find("a") is not None] == order
    key = parsed(site / "keys/d/index.html").iter("h2")
    assert [words(each.find("a")) for each in key if each.find("a") is not None] == order
    prints = (words(each) for each in parsed(site / "print/index.html").iter("li"))
    said = [row.partition(" in every key")[0] for row in prints if " in every key" in row]
    assert [title for title in said if title in order] == order


@pytest.mark.parametrize(
    ("slug", "before", "after"),
    [("without", None, "Zeal"), ("zeal", "Without", "Übung"), ("air", "Übung", None)],
)
def test_an_exercise_leads_to_its_neighbours(
    slug: str, before: str | None, after: str | None, site: Path
) -> None:
    page = parsed(site / f"exercises/{slug}/index.html")
    found = {each.get("rel"): each.get("data-words") for each in page.iter("a") if each.get("rel")}
    assert (found.get("prev"), found.get("next")) == (before, after)


@pytest.mark.parametrize(
    ("address", "title"), [("preface", "To my students"), ("care/reeds", "Reeds"), (".", "A test's book")]
)
def test_a_page_has_its_title_once(address: str, title: str, site: Path) -> None:
    page = parsed(site / address / "index.html")
    assert [words(each) for each in page.iter("h1")] == [title]
    if address == ".":
        assert [words(each) for each in page.iter("h2") if each.get("id") == "preface"] == ["From us"]


def test_the_printed_book_is_in_order(printed: Printed) -> None:
    assert printed.problems == ()
    reader = PdfReader(io.BytesIO(printed.data))
    entries = [(depth, title) for depth, title, _ in outline(reader.outline, reader)]
    keys = ("D major", "E flat major")
    assert [entry for entry in entries if entry[1] not in keys] == [
        (0, "To my students"),
        (0, "Take care"),
        (0, "Contents"),
        (0, "Without"),
        (0, "Low tones"),
        (1, "Zeal"),
        (1, "Übung"),
        (0, "Reeds"),
        (0, "Further exercises"),
        (1, "Air"),
        (0, "Index by key"),
    ]
    pages = [page for _, _, page in outline(reader.outline, reader)]
    assert pages == sorted(pages)


def test_an_own_page_is_printed_with_its_picture(printed: Printed) -> None:
    reader = PdfReader(io.BytesIO(printed.data))
    page_of = {title: page for _, title, page in outline(reader.outline, reader)}
    document = pypdfium2.PdfDocument(printed.data)
    said = [" ".join(page.get_textpage().get_text_range().split()) for page in document]
    first = said[page_of["To my students"] - 1]
    assert "To my students Breathe low. Take care Stop when something hurts" in first
    assert not any("A word to the player" in page for page in said)
    reeds = document[page_of["Reeds"] - 1]
    assert "Reeds Keep them dry." in said[page_of["Reeds"] - 1]
    grey = reeds.render(scale=1).to_numpy()[:, :, 0]
    # A gray field of 50.8 by 25.4 mm.
    assert ((grey > 120) & (grey < 136)).sum() == pytest.approx(144 * 72, rel=0.05)


def test_a_changed_page_is_another_print(folder: Path, printed: Printed) -> None:
    book = open_book(folder)
    again = print_choice(book, "", PrintChoice("flute"), PageFormat())
    assert again.data == printed.data
    page = folder / "pages/preface.md"
    before = page.read_text(encoding="utf-8")
    page.write_text(before.replace("low", "deep"), encoding="utf-8")
    try:
        other = print_choice(open_book(folder), "", PrintChoice("flute"), PageFormat())
    finally:
        page.write_text(before, encoding="utf-8")
    assert other.data != printed.data


def test_a_picture_that_is_not_there_is_told(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = folder / "pages/preface.md"
    before = page.read_text(encoding="utf-8")
    page.write_text(f"{before}\n![fingers](gone.png)\n", encoding="utf-8")
    try:
        assert main(["print", "--all", "--book", str(folder), "-o", str(tmp_path / "x.pdf")]) == 1
    finally:
        page.write_text(before, encoding="utf-8")
    said = "preface.md: the picture 'gone.png' is not printed: No such file or directory\n"
    assert said in capsys.readouterr().err
    text = pypdfium2.PdfDocument(tmp_path / "x.pdf")[2].get_textpage().get_text_range()
    assert "[fingers]" in text
