"""Every kind of print is tagged to PDF/UA-1 and made as PDF/A-2u asks.

`outloud`, which is not ours, checks PDF/UA-1: 54 rules of ISO 14289-1, and others about the sense of what is
tagged. PDFium reads the structure back. We found no validator of PDF/A that a test could install: the rules
of ISO 19005-2 that are named below are tried here, and no others.
"""

from __future__ import annotations

import io
import itertools
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from xml.etree import ElementTree

import outloud
import pikepdf
import pytest
from conftest import write_book
from fontTools.cffLib import CFFFontSet
from PIL import Image
from pypdf import PdfReader
from structure_reader import Read, ReadPage, read_pages

from stavewright.book.pieces import instrument_book_of
from stavewright.book.read import Book, open_book
from stavewright.cli import main
from stavewright.music.description import describe_score
from stavewright.prints.edition_layouts import editions_of

TUNE = """\
title: {title}
rights: written for this test, public domain
purpose: A calm line & <no more>
attend:
  - shoulders loose
  - slow air
home: D5 in D major
tempo: dotted quarter = 60 to 72
drone: D4
travel: semitones up from D5 to Eb5
variations: swell up, upper octave first
music:
  h D5 mf q E5 D5 | w D5 p ,
"""
PREFACE = """\
# To my students

Breathe **low**.

- one
- two
    1. inner

    goes on

Between two.

1. another list

> not in it

#### Deep

| fingers | note |
|---|---|
| 1 2 | A |

Then:

<table><tr><td>no</td><td>headings</td></tr></table>

And:

<table><tr><th>a row</th><th>lacks</th></tr><tr><td>a cell</td></tr></table>

![a red reed](reed.png)

![](reed.png)

![a grey reed](grey.jpg)
"""
SELECTION = """\
title: Week
for: Robin
words: Softly.
play:
  - bell in D: as written, swell up
  - bell in D

title: Another week
play: bell in E flat
"""
DAILY = ["daily", "--minutes", "5", "--days", "2"]
KINDS = {
    "book": ["print", "--all"],
    "written out": ["print", "--all", "--written-out"],
    "booklet": ["print", "--all", "--booklet", "--paper", "letter"],
    "key": ["print", "--key", "d"],
    "selection": ["print", "--selection", "week.set"],
    "daily": DAILY,
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book of two exercises with a page and pictures of its own."""
    slugs = ("bell", "lamp")
    found = write_book(
        tmp_path_factory.mktemp("ua"), {slug: TUNE.format(title=slug.title()) for slug in slugs}
    )
    with (found / "mkdocs.yml").open("a", encoding="utf-8") as config:
        config.write("      contents:\n        - preface.md\n        - Low tones: [bell]\n        - lamp\n")
    (found / "pages/preface.md").write_text(PREFACE, encoding="utf-8")
    Image.new("RGB", (30, 15), "#a08080").save(found / "pages/reed.png")
    Image.new("L", (30, 15), 90).save(found / "pages/grey.jpg")
    (found / "week.set").write_text(SELECTION, encoding="utf-8")
    return found


@pytest.fixture(scope="module")
def book(folder: Path) -> Book:
    return open_book(folder)


@pytest.fixture(scope="module")
def prints(folder: Path) -> Mapping[str, Path]:
    """Each kind of print."""
    found = {kind: folder / f"{kind}.pdf" for kind in KINDS}
    for kind, out in found.items():
        words = [str(folder / word) if word.endswith(".set") else word for word in KINDS[kind]]
        words += ["--calendar", str(folder / "days.ics")] if words[0] == "daily" else []
        assert main([*words, "--book", str(folder), "-o", str(out)]) == 0
    return found


@pytest.fixture(scope="module")
def pages(prints: Mapping[str, Path]) -> dict[str, list[ReadPage]]:
    """Each print as PDFium reads its structure."""
    return {kind: read_pages(path.read_bytes()) for kind, path in prints.items()}


@pytest.fixture(params=KINDS)
def kind(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def elements(pages: list[ReadPage]) -> Iterator[Read]:
    return itertools.chain.from_iterable(pages)


HARMLESS = {
    # The signs of music have no letters of Unicode that fonts share; a figure's words stand for them.
    "TXT-004",
    # Staves are taken for the lines of a table.
    "TBL-014",
    # Systems at one height of three pages are taken for a running head.
    "PAG-001",
}


def test_an_independent_checker_finds_nothing(prints: Mapping[str, Path], kind: str) -> None:
    result = outloud.check(str(prints[kind]))
    assert result.error is None
    assert not [run for run in result.runs if run.status == "crashed"]
    assert [each for each in result.findings if each.rule not in HARMLESS] == []
    statuses = {row["id"]: row["status"] for row in result.criteria["pdfua1"]}
    # Content, metadata, title, letters, language, headings.
    assert {statuses[number] for number in ("01", "06", "07", "10", "11", "14")} == {"pass"}


def test_the_checker_sees_what_is_wrong(prints: Mapping[str, Path], tmp_path: Path) -> None:
    spoiled = tmp_path / "spoiled.pdf"
    with pikepdf.open(prints["book"]) as document:
        content = document.pages[4].Contents.read_bytes()
        document.pages[4].Contents = document.make_stream(
            re.sub(rb"(?s)/H <</MCID 0>>BDC(.*?)EMC", rb"\1", content)
        )
        for element in structure(document):
            if element.S == "/Figure":
                del element["/Alt"]
        document.save(spoiled)
    found = {each.rule for each in outloud.check(str(spoiled)).findings}
    assert {"TAG-001", "FIG-001"} <= found


def structure(document: pikepdf.Pdf) -> Iterator[pikepdf.Object]:
    """Every element of a file."""
    waiting = [document.Root.StructTreeRoot.K]
    while waiting:
        element = waiting.pop()
        yield element
        kids = element.get("/K", [])
        kids = kids if isinstance(kids, pikepdf.Array) else [kids]
        waiting += [kid for kid in kids if isinstance(kid, pikepdf.Dictionary) and "/S" in kid]


def test_nothing_on_a_page_is_unmarked(pages: dict[str, list[ReadPage]], kind: str) -> None:
    assert [page.unmarked for page in pages[kind]] == [0] * len(pages[kind])


def test_headings_come_in_order(pages: dict[str, list[ReadPage]]) -> None:
    assert [
        (found.role, found.said) for found in elements(pages["book"]) if re.fullmatch(r"H\d", found.role)
    ] == [
        ("H1", "A test's book"),
        ("H2", "Rights and sources"),
        ("H2", "To my students"),
        ("H3", "Deep"),
        ("H3", "Take care"),
        ("H2", "Contents"),
        ("H2", "Low tones"),
        ("H3", "Bell"),
        ("H4", "Ways of playing"),
        ("H5", "1 Growing"),
        ("H5", "2 Upper octave first"),
        ("H4", "Through the keys"),
        ("H5", "D 5"),
        ("H5", "E flat 5"),
        ("H2", "Lamp"),
        ("H3", "Ways of playing"),
        ("H4", "1 Growing"),
        ("H4", "2 Upper octave first"),
        ("H3", "Through the keys"),
        ("H4", "D 5"),
        ("H4", "E flat 5"),
        ("H2", "Index by key"),
    ]
    assert [found.said for found in elements(pages["selection"]) if found.role == "H1"] == [
        "Week",
        "Another week",
    ]


def test_each_piece_is_one_figure_with_the_words_of_the_site(
    book: Book, pages: dict[str, list[ReadPage]], prints: Mapping[str, Path]
) -> None:
    found = instrument_book_of(book.exercises, book.instruments[0])
    expected = {
        "book": [part.score for edition in editions_of(found) for part in edition.renditions],
        "written out": [
            part.score
            for _, key_pages in found.exercises
            for page in key_pages
            for placed in page.placed
            for part in placed.parts
        ],
    }
    for kind, scores in expected.items():
        told = [describe_score(score) for score in scores if score is not None]
        pieces = [
            each.alt for each in elements(pages[kind]) if each.role == "Figure" and "reed" not in each.alt
        ]
        assert pieces == told
        with pikepdf.open(prints[kind]) as document:
            written = [str(each.Alt) for each in structure(document) if each.S == "/Figure"]
        assert sorted(written) == sorted([*told, "a red reed", "a grey reed"])
    # The same figure is another one where the piece comes again.
    alts = [each.alt for each in elements(pages["selection"]) if each.role == "Figure"]
    assert (len(alts), len(set(alts))) == (4, 3)


def test_lists_tables_and_signs(pages: dict[str, list[ReadPage]]) -> None:
    preface = next(page for page in pages["book"] if any(each.said == "To my students" for each in page))
    trees = [each.tree for each in preface.elements]
    start = trees.index("L(LI(Lbl LBody) LI(Lbl LBody(L(LI(Lbl LBody)) P)))")
    assert trees[start + 1 : start + 6] == ["P", "L(LI(Lbl LBody))", "P", "H3", "Table(TR(TH TH) TR(TD TD))"]
    # A table without headings is words.
    assert trees[start + 6 : start + 11] == ["P", "P", "P", "P", "Table(TR(TH TH) TR(TD TD))"]
    assert [each.alt for each in preface if each.role == "Figure"] == ["a red reed", "a grey reed"]
    said = [(each.role, each.said) for each in elements(pages["book"])]
    assert ("P", "dotted quarter = 60 to 72") in said
    assert ("LBody", "Shoulders loose") in said
    assert ("Lbl", "–") in said
    (index,) = (each for each in elements(pages["book"]) if each.role == "Table" and "Bell" in each.said)
    assert [[cell.said for cell in row.children] for row in index.children] == [
        ["", "D", "E flat"],
        ["Bell", "5", "5"],
        ["Lamp", "6", "6"],
    ]
    assert next(each.tree for each in elements(pages["daily"]) if each.role == "L").startswith("L(LI(LBody")


def test_links_say_where_they_lead(pages: dict[str, list[ReadPage]], prints: Mapping[str, Path]) -> None:
    links = [each.said for each in elements(pages["book"]) if each.role == "Link"]
    assert links == [
        "To my students 3",
        "Take care 3",
        "Bell 5",
        "Lamp 6",
        "Index by key 7",
        "5",
        "5",
        "6",
        "6",
    ]
    reader = PdfReader(prints["book"])
    notes = [note.get_object() for page in reader.pages for note in page.get("/Annots", ())]
    assert [note["/Contents"] for note in notes] == [
        *[
            "To my students, page 3",
            "Take care, page 3",
            "Bell, page 5",
            "Lamp, page 6",
            "Index by key, page 7",
        ],
        *["Page 5", "Page 5", "Page 6", "Page 6"],
    ]
    numbers = reader.root_object["/StructTreeRoot"]["/ParentTree"]["/Nums"]
    parents = dict(zip(numbers[::2], numbers[1::2], strict=True))
    assert {parents[note["/StructParent"]].get_object()["/S"] for note in notes} == {"/Link"}


def test_a_booklet_is_read_page_by_page(prints: Mapping[str, Path]) -> None:
    reader = PdfReader(prints["booklet"])
    # The eighth page is blank.
    assert reader.page_labels == ["1", "2, 7", "6, 3", "4, 5"]
    with pikepdf.open(prints["booklet"]) as booklet, pikepdf.open(prints["book"]) as book:
        one, other = (
            [(str(each.S), str(each.get("/Alt", ""))) for each in structure(document)]
            for document in (booklet, book)
        )
    assert one == other


def test_pages_have_their_printed_numbers(prints: Mapping[str, Path]) -> None:
    labels = {kind: PdfReader(path).page_labels for kind, path in prints.items()}
    assert labels["book"] == [f"{number}" for number in range(1, len(labels["book"]) + 1)]
    assert labels["selection"] == ["1", "", "1"]


NAMESPACES = {
    "dc": "http://purl.org/dc/elements/1.1/",
    "pdf": "http://ns.adobe.com/pdf/1.3/",
    "pdfaid": "http://www.aiim.org/pdfa/ns/id/",
    "pdfuaid": "http://www.aiim.org/pdfua/ns/id/",
    "pdfaProperty": "http://www.aiim.org/pdfa/ns/property#",
    "pdfaSchema": "http://www.aiim.org/pdfa/ns/schema#",
}


def test_metadata_say_the_same_twice_and_have_no_date(prints: Mapping[str, Path], kind: str) -> None:
    """ISO 19005-2, 6.6.2.1, 6.6.2.3 and 6.6.4; ISO 14289-1, 5."""
    with pikepdf.open(prints[kind]) as document:
        stream = document.Root.Metadata
        assert (stream.Type, stream.Subtype, "/Filter" in stream) == ("/Metadata", "/XML", False)
        data = stream.read_bytes()
        info = {str(key): str(value) for key, value in document.docinfo.items()}
        assert str(document.Root.Lang) == "en"
    xmp = ElementTree.fromstring(data)

    def said(path: str) -> str:
        return "".join(xmp.find(f".//{path}", NAMESPACES).itertext()).strip()

    assert info == {
        "/Title": said("dc:title"),
        "/Author": said("dc:creator"),
        "/Producer": said("pdf:Producer"),
    }
    assert said("dc:language") == "en"
    assert (said("pdfaid:part"), said("pdfaid:conformance"), said("pdfuaid:part")) == ("2", "U", "1")
    # The one schema that PDF/A does not know is described.
    assert said("pdfaSchema:namespaceURI") == NAMESPACES["pdfuaid"]
    assert said("pdfaProperty:name") == "part"
    assert b"Date" not in data


def test_rules_of_pdf_a(prints: Mapping[str, Path], kind: str) -> None:
    """ISO 19005-2, those rules that are named, from memory of the standard."""
    data = prints[kind].read_bytes()
    # 6.1.2 the header, and four bytes above 127 after it
    assert re.match(rb"%PDF-1\.[0-7]\n%[\x80-\xff]{4}", data)
    with pikepdf.open(io.BytesIO(data)) as document:
        root = document.Root
        # 6.1.3 an identifier and no encryption; 6.5 no actions; 6.8 no files; 6.9 no layers; 6.10
        assert len(document.trailer.ID) == 2
        assert not document.is_encrypted
        assert not {"/OpenAction", "/AA", "/AcroForm", "/OCProperties", "/AF", "/Requirements"} & set(
            root.keys()
        )
        assert not {"/EmbeddedFiles", "/AlternatePresentations", "/JavaScript"} & set(
            root.get("/Names", {}).keys()
        )
        # 6.2.3 what colours mean, so that 6.2.4.3 allows grey, and red, green and blue
        (intent,) = root.OutputIntents
        assert (intent.S, int(intent.DestOutputProfile.N)) == ("/GTS_PDFA1", 3)
        assert intent.DestOutputProfile.read_bytes()[36:40] == b"acsp"
        for page in document.pages:
            # 6.2.2 its own resources; 6.2.10 nothing transparent; 6.5 no actions
            assert set(page.Resources.keys()) <= {"/Font", "/XObject"}
            assert not {"/Group", "/AA"} & set(page.keys())
            for picture in page.Resources.get("/XObject", {}).values():
                # 6.2.4.3, 6.2.8, 6.2.10
                assert picture.ColorSpace in ("/DeviceRGB", "/DeviceGray")
                assert not {"/SMask", "/Interpolate", "/Alternates", "/OPI"} & set(picture.keys())
            for note in page.get("/Annots", []):
                # 6.3.1, 6.3.2: printed, and neither hidden nor invisible; 6.5: leads there without an action
                assert (note.Subtype, int(note.F)) == ("/Link", 4)
                assert "/Dest" in note and "/A" not in note
        shown = codes_shown(document)
        fonts = {font.objgen: font for page in document.pages for font in page.Resources.Font.values()}
        assert set(shown) <= set(fonts)
        for place, font in fonts.items():
            check_font(font, shown[place])


def codes_shown(document: pikepdf.Pdf) -> dict[tuple[int, int], set[int]]:
    """The codes that are shown, by their font; colours that the output intent has not fail."""
    found: dict[tuple[int, int], set[int]] = {}
    for page in document.pages:
        codes: set[int] = set()
        depth = 0
        for operands, operator in pikepdf.parse_content_stream(page):
            depth += {"q": 1, "Q": -1}.get(str(operator), 0)
            # 6.1.13; 6.2.4.3: no inks; 6.2.9: no nameless pictures here
            assert depth <= 28 and str(operator) not in ("k", "K", "cs", "CS", "gs", "sh", "BI")
            if str(operator) == "Tf":
                codes = found.setdefault(page.Resources.Font[operands[0]].objgen, set())
            elif str(operator) in ("Tj", "TJ"):
                parts = operands[0] if str(operator) == "TJ" else operands
                for part in parts:
                    if isinstance(part, pikepdf.String):
                        text = bytes(part)
                        codes.update(
                            int.from_bytes(text[at : at + 2], "big") for at in range(0, len(text), 2)
                        )
    return found


def check_font(font: pikepdf.Object, shown: set[int]) -> None:
    """One composite font and the codes that are shown from it."""
    inner = font.DescendantFonts[0]
    # 6.2.11.3.1
    assert (font.Subtype, font.Encoding, inner.Subtype) == ("/Type0", "/Identity-H", "/CIDFontType0")
    # 6.2.11.4.1 embedded, and there is a glyph for each code
    program = CFFFontSet()
    program.decompile(io.BytesIO(inner.FontDescriptor.FontFile3.read_bytes()), None)
    glyphs = program[0].CharStrings
    order = program[0].charset
    assert max(shown) < len(order)
    # 6.2.11.8 none of them is that of what is missing
    assert 0 not in shown
    # 6.2.11.5 as wide as it says
    (first, widths) = inner.W
    for code in shown:
        glyph = glyphs[order[code]]
        glyph.decompile()
        glyph.draw(NoPen())
        assert abs(glyph.width - float(widths[code - int(first)])) <= 1
    # 6.2.11.7.2 each stands for letters, and not for U+0000, U+FEFF or U+FFFE
    rows = re.findall(rb"<(\w{4})> <(\w+)>", font.ToUnicode.read_bytes())
    texts = {int(code, 16): bytes.fromhex(text.decode()).decode("utf-16-be") for code, text in rows}
    assert shown <= set(texts)
    assert not {"\0", "\ufeff", "\ufffe"} & set("".join(texts.values()))


class NoPen:
    """Draws nothing: a glyph says how wide it is when it is drawn."""

    def __getattr__(self, name: str) -> object:
        return lambda *points: None
