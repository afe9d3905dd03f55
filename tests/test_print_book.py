"""The demo book written out on paper, read back with a reader that the project does not use for writing.

The whole book is printed in four keys of each exercise; one exercise is printed in all of its own.

Staves are counted by their clefs: the engraver's fonts say of each of their signs which it is, in codes of
the Private Use Area that LilyPond's manual lists for Emmentaler; treble clefs are found out below from one
piece and not by a number from memory.
"""

from __future__ import annotations

import re
import shutil
from collections import Counter
from collections.abc import Iterator
from functools import cached_property
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
from pypdf import PdfReader
from pypdf.generic import Destination

from stavewright.book.contents import Section
from stavewright.book.pieces import instrument_book_of
from stavewright.book.read import Book, open_book
from stavewright.cli import main
from stavewright.daily.cautions import GENERAL
from stavewright.engrave.engraved_book import engrave_book
from stavewright.engrave.piece import Engraved, Piece
from stavewright.engrave.processes.scheduler import engrave_list
from stavewright.music.keys import KEY_SLUGS
from stavewright.paper.page_format import PAPERS, PageFormat
from stavewright.prints.choice import PrintChoice
from stavewright.prints.documents import print_choice
from stavewright.variations.printed_names import label_words

BOOK = Path(__file__).parent.parent
POINTS = 72 / 25.4


def shown(pdf: bytes) -> list[str]:
    """The text of each page, by PDFium."""
    document = pypdfium2.PdfDocument(pdf)
    return [page.get_textpage().get_text_range() for page in document]


class Read:
    """A print: what was said of it, and the file as the independent reader sees it."""

    def __init__(self, data: bytes, pages: int) -> None:
        self.data, self.pages = data, pages
        self.reader = PdfReader(BytesIO(data))

    @cached_property
    def signs(self) -> list[str]:
        """What each page shows, line by line."""
        return shown(self.data)

    @cached_property
    def texts(self) -> list[str]:
        """What each page shows, in one line."""
        return [" ".join(said.split()) for said in self.signs]


@pytest.fixture(scope="module")
def book() -> Book:
    return open_book(BOOK)


FOUR_KEYS = {
    "far-shore": "semitones up from D4 to F4",
    "late-light": "semitones up from A4 to C5",
    "new-britain": "semitones down from G4 to E4",
    "slow-tide": "semitones down from D6 to B5, then up",
    "widening-gate": "semitones up from D4 to F4",
}


CONTENTS = """        - preface.md
        - One sound: [slow-tide, new-britain]
        - A phrase: [late-light]
        - Wide intervals: [widening-gate, far-shore]
"""


@pytest.fixture(scope="module")
def short_book(tmp_path_factory: pytest.TempPathFactory) -> Book:
    """Five exercises of the demo book, each in four keys."""
    folder = tmp_path_factory.mktemp("short")
    (folder / "exercises").mkdir()
    shutil.copytree(BOOK / "site_src/pages", folder / "site_src/pages")
    config, name, _ = (BOOK / "mkdocs.yml").read_text(encoding="utf-8").partition("      contents:\n")
    (folder / "mkdocs.yml").write_text(config + name + CONTENTS, encoding="utf-8")
    for path in (BOOK / "exercises" / f"{slug}.warmup" for slug in FOUR_KEYS):
        text = path.read_text(encoding="utf-8")
        text, count = re.subn("(?m)^travel: .*$", f"travel: {FOUR_KEYS[path.stem]}", text)
        assert count == 1
        (folder / "exercises" / path.name).write_text(text, encoding="utf-8")
    return open_book(folder)


def printed_whole(book: Book, paper: str) -> tuple[Read, PageFormat]:
    form = PageFormat(PAPERS[paper])
    printed = print_choice(book, "Warm-ups.", PrintChoice("flute", written_out=True), form)
    assert not printed.problems
    return Read(printed.data, printed.pages), form


@pytest.fixture(scope="module")
def on_a4(short_book: Book) -> tuple[Read, PageFormat]:
    return printed_whole(short_book, "a4")


@pytest.fixture(scope="module")
def whole(on_a4: tuple[Read, PageFormat]) -> Read:
    return on_a4[0]


@pytest.fixture(scope="module")
def on_letter(short_book: Book) -> tuple[Read, PageFormat]:
    return printed_whole(short_book, "letter")


@pytest.fixture(params=["on_a4", pytest.param("on_letter", marks=pytest.mark.exhaustive)])
def on_paper(request: pytest.FixtureRequest) -> tuple[Read, PageFormat]:
    """The whole book on each paper."""
    found: tuple[Read, PageFormat] = request.getfixturevalue(request.param)
    return found


@pytest.fixture(scope="module")
def one_key(book: Book) -> Read:
    printed = print_choice(book, "", PrintChoice("flute", keys=("e-flat",)), PageFormat())
    return Read(printed.data, printed.pages)


@pytest.fixture(scope="module")
def clefs() -> frozenset[str]:
    """The codes of treble clefs, usual and small: what two empty staves with and without them differ by."""
    notation = "\\score { << \\new Staff { %s c''1 } \\new SmallStaff { %s c''1 } >> }"
    with_clef, without = (
        notation % (clef, clef) for clef in ("\\clef treble", "\\omit Staff.Clef \\omit SmallStaff.Clef")
    )
    said = []
    for text in (with_clef, without):
        [made] = engrave_list([Piece("clefs", text)])
        assert isinstance(made, Engraved)
        said.append(Counter("".join(shown(made.pdf)[0].split())))
    found = frozenset((said[0] - said[1]).keys())
    assert found
    assert all("\ue000" <= sign <= "\uf8ff" for sign in found)
    return found


def staves(said: str, clefs: frozenset[str]) -> int:
    return sum(sign in clefs for sign in said)


def outline(entries: list[Any], reader: PdfReader, depth: int = 0) -> Iterator[tuple[int, str, int]]:
    """Depth, words and page from 1 of every entry."""
    for entry in entries:
        if isinstance(entry, list):
            yield from outline(entry, reader, depth + 1)
        else:
            assert isinstance(entry, Destination)
            number = reader.get_destination_page_number(entry)
            assert number is not None
            yield depth, str(entry.title), number + 1


def links(reader: PdfReader, number: int) -> list[tuple[float, int]]:
    """Every link of a page: its height from the page's bottom, and the page from 1 that it leads to."""
    found = []
    for note in reader.pages[number - 1].get("/Annots", []):
        target = note.get_object()["/Dest"][0]
        page = reader.get_page_number(target.get_object()) if hasattr(target, "get_object") else None
        assert page is not None
        found.append((float(note.get_object()["/Rect"][1]), page + 1))
    return found


def test_the_book_is_whole(on_paper: tuple[Read, PageFormat], short_book: Book) -> None:
    found, form = on_paper
    assert len(found.reader.pages) == found.pages >= 20
    for page in found.reader.pages:
        assert float(page.mediabox.width) / POINTS == pytest.approx(form.paper.width, abs=0.05)
        assert float(page.mediabox.height) / POINTS == pytest.approx(form.paper.height, abs=0.05)
    info = found.reader.metadata
    assert info is not None
    assert info.title == info.author == short_book.name
    assert found.reader.trailer["/Root"]["/Lang"] == "en"
    for name in ("/CreationDate", "/ModDate"):
        assert name not in info


def test_every_font_is_embedded_once(on_paper: tuple[Read, PageFormat]) -> None:
    found, _ = on_paper
    fonts = {}
    for page in found.reader.pages:
        for font in page["/Resources"]["/Font"].values():
            inner = font["/DescendantFonts"][0]
            assert inner["/FontDescriptor"]["/FontFile3"]["/Subtype"] == "/CIDFontType0C"
            assert "/ToUnicode" in font
            fonts[font["/BaseFont"]] = len(inner["/FontDescriptor"]["/FontFile3"].get_data())
    # A face each for text and a size each for music; no two parts of the same font.
    faces = [str(name).split("+")[1] for name in fonts]
    assert len(faces) == len(set(faces)) <= 10
    # The engraver's signs, and the letters that the site has too; no machine's own fonts.
    assert {face.partition("-")[0] for face in faces} == {"Emmentaler", "StavewrightSerif"}
    assert sum(fonts.values()) < 200_000


def test_what_the_exercises_say_is_there(whole: Read, short_book: Book) -> None:
    found = whole
    said = " ".join(found.texts)
    for exercise in short_book.exercises:
        for words in (exercise.title, exercise.purpose, exercise.about, *exercise.attend, exercise.rights):
            assert " ".join(words.split()) in said
        number = next(page for _, title, page in _outline(found) if title == exercise.title)
        text = found.texts[number - 1]
        tempo = exercise.tempo
        for words in (exercise.title, exercise.purpose, *exercise.attend, f"= {tempo.low} to {tempo.high}"):
            assert " ".join(words.split()) in text
    read = " ".join(found.texts[2].split())
    assert all(caution in read for caution in GENERAL)
    assert "Take care" in found.texts[2]


def _outline(found: Read) -> list[tuple[int, str, int]]:
    return list(outline(found.reader.outline, found.reader))


def test_the_outline_and_the_contents_lead_where_they_say(whole: Read, short_book: Book) -> None:
    found = whole
    entries = _outline(found)
    titles = [title for _, title, _ in entries]
    before = ("From the Millrace Studio", "Take care")
    for words in (
        *before,
        "Contents",
        "Index by key",
        *(each.title for each in short_book.exercises),
    ):
        assert words in titles
    exercise = ""
    for depth, title, page in entries:
        exercise = title if title in [each.title for each in short_book.exercises] else exercise
        text = found.texts[page - 1]
        words = re.sub(r"^Part \d+\. ", "", title)
        assert words in text, (title, page)
        if depth == 2:
            # A key's entry leads to a page of its exercise: its name is in the running head or on its page.
            assert exercise in text or page % 2 == 0
    number = next(page for _, title, page in entries if title == "Contents")
    rows = re.findall(r"^(.+?)[\s.]+(\d+)\s*$", found.signs[number - 1], re.MULTILINE)
    by_title = {title: page for _, title, page in entries}
    listed = {title: int(page) for title, page in rows if title in by_title}
    assert {title: by_title[title] for title in listed} == listed
    assert set(listed) >= {each.title for each in short_book.exercises}
    # The links stand in the order of the lines.
    targets = [page for _, page in sorted(links(found.reader, number), reverse=True)]
    assert targets == [
        *(by_title[title] for title in before),
        *(by_title[exercise.title] for exercise in short_book.exercises),
        by_title["Index by key"],
    ]


def test_the_index_finds_every_exercise_in_every_key(whole: Read, short_book: Book) -> None:
    found = whole
    entries = _outline(found)
    start = next(page for _, title, page in entries if title == "Index by key")
    keys: dict[str, list[int]] = {}
    exercise = ""
    for depth, title, page in entries:
        if depth == 1:
            exercise = title
        elif depth == 2:
            keys.setdefault(exercise, []).append(page)
    assert all(len(pages) == 4 for pages in keys.values()) and len(keys) == len(short_book.exercises)
    assert all(title in found.texts[start - 1] for title in keys)
    numbers = Counter(map(int, re.findall(r"\b\d+\b", found.texts[start - 1])))
    assert numbers == Counter([start, *(page for pages in keys.values() for page in pages)])
    targets = sorted(page for _, page in links(found.reader, start))
    assert targets == sorted(page for pages in keys.values() for page in pages)


def test_all_music_is_there_once(whole: Read, short_book: Book, clefs: frozenset[str]) -> None:
    """Clefs in the book against clefs in the pieces as the engraver wrote them, one by one."""
    found = whole
    engraved_book = engrave_book(short_book)
    wanted = 0
    for ink in engraved_book.engravings.values():
        assert isinstance(ink, Engraved)
        wanted += staves(shown(ink.pdf)[0], clefs)
    vignette = next(iter(engraved_book.engravings.values()))
    assert isinstance(vignette, Engraved)
    on_pages = [staves(said, clefs) for said in found.signs]
    assert on_pages[0] == 1
    assert sum(on_pages[1:]) == wanted > 300
    assert max(on_pages) <= 24


def test_no_page_but_a_section_s_last_holds_a_single_staff(whole: Read, clefs: frozenset[str]) -> None:
    found = whole
    starts = {page for depth, _, page in _outline(found) if depth <= 1}
    for number, said in enumerate(found.signs[2:], start=3):
        if staves(said, clefs) == 1:
            assert number + 1 in starts or not found.texts[number], number


def test_the_book_is_in_its_author_s_order(whole: Read, short_book: Book) -> None:
    """As mkdocs.yml has it: her own page, chapters, exercises."""
    assert [(depth, title) for depth, title, _ in _outline(whole) if depth < 2] == [
        (0, "From the Millrace Studio"),
        (0, "Take care"),
        (0, "Contents"),
        (0, "One sound"),
        (1, "Slow tide"),
        (1, "New Britain"),
        (0, "A phrase"),
        (1, "Late light"),
        (0, "Wide intervals"),
        (1, "Widening gate"),
        (1, "Far shore"),
        (0, "Index by key"),
    ]
    said = " ".join(whole.texts)
    assert "Begin with Still water and Slow tide, and stay with them for some weeks." in said
    assert "A word to the player" not in said


def test_exercises_begin_pages_and_pages_are_numbered(whole: Read, short_book: Book) -> None:
    found = whole
    titles = [each.title for each in short_book.exercises]
    chapters = [each.title for each in short_book.contents if isinstance(each, Section)]
    assert len(chapters) == 3
    for _, title, page in _outline(found):
        if title in titles:
            # Above it stand the page's number and the chapter's name at most.
            before = found.texts[page - 1].partition(title)[0].strip()
            before = before.removeprefix(f"{page} {short_book.name}").strip()
            assert before in ("", *chapters), before
    for number, text in enumerate(found.texts, start=1):
        if number > 2 and text:
            assert re.search(rf"\b{number}\b", text), number


def test_margins_are_free_and_the_ink_is_black(on_paper: tuple[Read, PageFormat]) -> None:
    found, form = on_paper
    document = pypdfium2.PdfDocument(found.data)
    dots = 40 / 25.4
    for number in range(found.pages):
        picture = document[number].render(scale=40 / 72).to_numpy()[:, :, :3].astype(int)
        # Red, green and blue are alike everywhere.
        assert np.ptp(picture, axis=2).max() <= 3
        rows, columns = np.nonzero(picture.min(axis=2) < 200)
        if not len(rows):
            continue
        # Music may stand out by a bar line's width, and words by an overhanging letter.
        assert columns.min() >= (form.left_of(1) - 1.5) * dots
        assert columns.max() <= (form.paper.width - form.left_of(1) + 2.5) * dots
        assert rows.min() >= 8 * dots
        assert rows.max() <= (form.paper.height - form.foot + 2) * dots


@pytest.mark.exhaustive
def test_one_key_is_every_exercise_in_it(one_key: Read, book: Book) -> None:
    assert len(one_key.reader.pages) == one_key.pages
    assert one_key.texts[0].startswith("Every exercise in E flat")
    said = " ".join(one_key.texts)
    found = instrument_book_of(book.exercises, book.instruments[0])
    pages = found.in_key("e-flat")
    assert len(pages) == len(book.exercises)
    for page in pages:
        assert f"{page.exercise.title}, {page.name}" in said
        for placed in page.placed:
            for part in placed.parts:
                assert label_words(part.label) in said
                assert part.means in said or part.left_out
    titles = [title for _, title, _ in _outline(one_key)]
    assert titles == [f"{page.exercise.title}, {page.name}" for page in pages]


@pytest.mark.exhaustive
def test_an_exercise_goes_through_its_keys_in_order(book: Book) -> None:
    exercise = next(each for each in book.exercises if each.slug == "far-shore")
    choice = PrintChoice("flute", exercises=(exercise.slug,), written_out=True)
    printed = print_choice(book, "", choice, PageFormat())
    found = Read(printed.data, printed.pages)
    [(_, pages)] = instrument_book_of((exercise,), book.instruments[0]).exercises
    assert [title for _, title, _ in _outline(found)] == [page.name for page in pages]
    assert {page.key for page in pages} == set(KEY_SLUGS)
    numbers = [number for _, _, number in _outline(found)]
    assert numbers == sorted(numbers)


def test_only_the_variations_asked_for(book: Book) -> None:
    exercise = next(each for each in book.exercises if each.slug == "slow-tide")
    choice = PrintChoice("flute", ("d",), (exercise.slug,), ("swell up",))
    printed = print_choice(book, "", choice, PageFormat())
    said = " ".join(Read(printed.data, printed.pages).texts)
    settings_in_d = said.count("From D")
    assert settings_in_d == said.count("growing") > 1
    assert not any(label in said for label in ("as written", "fading", "eight dynamic levels"))


@pytest.mark.exhaustive
def test_a_larger_staff_is_larger(book: Book) -> None:
    choice = PrintChoice("flute", ("d",), ("far-shore",), ("as written",))
    heights = []
    for staff in (None, 9.0):
        printed = print_choice(book, "", choice, PageFormat(staff=staff))
        document = pypdfium2.PdfDocument(printed.data)
        ink = document[0].render(scale=300 / 72, grayscale=True).to_numpy()
        ink = ink.reshape(ink.shape[:2])
        # Staff lines cross the middle of the page; a staff's five lie at equal distances.
        column = ink[:, ink.shape[1] // 2 - 30 : ink.shape[1] // 2 + 30].max(axis=1) < 128
        starts = np.flatnonzero(column[1:] & ~column[:-1])
        gaps = np.diff(starts)
        heights.append(4 * np.median(gaps[gaps < 60]) / 300 * 25.4)
    assert heights == pytest.approx([7.03, 9.0], abs=0.15)
    assert heights[0] >= 7.0 - 0.09


@pytest.mark.exhaustive
def test_a_booklet_has_two_pages_a_side_and_every_link_still_leads_to_its_page(book: Book) -> None:
    choice = PrintChoice("flute", ("d",), ("slow-tide",))
    plain = print_choice(book, "", choice, PageFormat())
    folded = print_choice(book, "", choice, PageFormat(booklet=True))
    assert folded.pages == plain.pages
    found = Read(folded.data, folded.pages)
    sides = -(-plain.pages // 4) * 2
    assert len(found.reader.pages) == sides
    assert float(found.reader.pages[0].mediabox.width) / POINTS == pytest.approx(420, abs=0.1)
    pages = Read(plain.data, plain.pages).texts
    # The first side has the first page on its right, behind whatever the last is.
    assert found.texts[0].endswith(pages[0])
    assert found.texts[1].startswith(pages[1])


def test_the_same_book_makes_the_same_bytes(
    new_engravers: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    made = []
    for name in ("first", "second"):
        monkeypatch.setenv("STAVEWRIGHT_CACHE", str(tmp_path / name))
        out = tmp_path / f"{name}.pdf"
        arguments = ["print", "--book", str(BOOK), "--exercise", "far-shore", "--key", "Eb"]
        assert main([*arguments, "--variations", "as written,detached", "-o", str(out)]) == 0
        made.append(out.read_bytes())
    assert made[0] == made[1]
    assert "1 page: " in capsys.readouterr().out
