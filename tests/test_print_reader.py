"""Pieces taken apart and put together again look as the engraver drew them."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from numpy.typing import NDArray
from pikepdf import Dictionary, Name, Pdf
from pypdf import PdfReader

from stavewright.book.pieces import renditions_of
from stavewright.book.read import open_book
from stavewright.cache.store import CacheStore
from stavewright.engrave.piece import Engraved, Piece, System
from stavewright.engrave.processes.scheduler import engrave_list
from stavewright.jobs import pool as helpers
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.winds.instruments import FLUTE
from stavewright.paper import prefetch as ahead
from stavewright.paper.compose import describe_none
from stavewright.paper.extracted_piece import ExtractedPiece
from stavewright.paper.page import DocumentInfo, Page, PlacedSystem, SheetSide
from stavewright.paper.pdf.fonts import Unreadable
from stavewright.paper.pdf.path_joining import join_paths
from stavewright.paper.pdf.reader import extract_piece
from stavewright.paper.pdf.writer import write_pdf
from stavewright.paper.prefetch import extract_ahead
from stavewright.paper.text import BODY, TITLE, tempo, text
from stavewright.units import POINTS_PER_MM

BOOK = Path(__file__).parent.parent
ABOUT = DocumentInfo("A test", "A test's book")


@pytest.fixture(scope="module")
def pieces() -> list[Engraved]:
    """Words of every kind, and a key of every exercise with every variation."""
    exercises = open_book(BOOK).exercises
    scores = [
        part.score
        for exercise in exercises
        for part in renditions_of(settings_of(exercise, FLUTE)[5])
        if part.score is not None
    ]
    texts = [
        text(
            BODY,
            "Words “in quotes”, office, ﬁnd; Άσκηση ἀσκήσεως, Долгий звук, ř, 日本語, ½ and more of them",
            90,
        ),
        text(TITLE, "A title", 90),
        *(tempo(BODY, exercise.tempo) for exercise in exercises),
    ]
    wanted = [
        *(Piece("words", found.notation) for found in texts),
        *(Piece("music", score) for score in scores),
    ]
    made = [found for found in engrave_list(wanted) if isinstance(found, Engraved)]
    assert len(made) == len(wanted)
    return made


def seen(pdf: bytes, page: int = 0, dots: float = 144) -> NDArray[np.int16]:
    """A page as gray levels, by PDFium."""
    document = pypdfium2.PdfDocument(pdf)
    picture = document[page].render(scale=dots / 72, grayscale=True).to_numpy()
    return picture.reshape(picture.shape[:2]).astype(np.int16)


def together(strip: ExtractedPiece, piece: Engraved) -> bytes:
    """A strip's lines set where the engraver had them, on paper of the same size."""
    box = PdfReader(BytesIO(piece.pdf)).pages[0].mediabox
    width, height = float(box.width) / POINTS_PER_MM, float(box.height) / POINTS_PER_MM
    stamps = tuple(PlacedSystem(strip, number, 1.0, line.top) for number, line in enumerate(strip.lines))
    return write_pdf(
        [SheetSide(width, height, ((Page(stamps), 0.0),))], ABOUT, (), {}.__getitem__, describe_none
    )


def near(ink: NDArray[np.int16]) -> NDArray[np.int16]:
    """The darkest level within a dot of each place."""
    padded = np.pad(ink, 1)
    height, width = ink.shape
    shifted = [padded[y : y + height, x : x + width] for y in range(3) for x in range(3)]
    return np.max(shifted, axis=0)


def test_nothing_is_lost_and_nothing_moves(pieces: Sequence[Engraved]) -> None:
    for piece in pieces:
        before, after = 255 - seen(piece.pdf), 255 - seen(together(extract_piece(piece), piece))
        height, width = (min(sizes) for sizes in zip(before.shape, after.shape, strict=True))
        before, after = before[:height, :width], after[:height, :width]
        assert before.sum() > 255 * 50
        # A thin line may fall on the next row of dots: what is dark here is dark within a dot there.
        assert (before - near(after)).max() < 100
        assert (after - near(before)).max() < 100
        assert abs(int(before.sum()) - int(after.sum())) < 0.02 * before.sum()


@pytest.mark.exhaustive
def test_every_line_is_whole_by_itself(pieces: Sequence[Engraved]) -> None:
    """A line alone on a page has the ink that the whole piece has between its edges, and no other."""
    for piece in pieces:
        strip = extract_piece(piece)
        whole = 255 - seen(together(strip, piece), dots=72)
        for line, system in zip(strip.lines, piece.systems, strict=True):
            alone = ExtractedPiece((line,), strip.glyphs)
            ink = 255 - seen(together(alone, piece), dots=72)
            rows = np.flatnonzero(ink.sum(axis=1))
            assert rows[0] / POINTS_PER_MM >= system.top - 0.8
            assert rows[-1] / POINTS_PER_MM <= system.bottom + 0.8
            assert (ink <= whole).all()
    assert any(len(piece.systems) > 1 for piece in pieces)


def said(pdf: bytes) -> str:
    """The text of a page in one line, by PDFium; joined letters apart."""
    text = pypdfium2.PdfDocument(pdf)[0].get_textpage().get_text_range()
    return " ".join(text.replace("ﬁ", "fi").replace("ﬃ", "ffi").split())


def letters(pdf: bytes) -> list[str]:
    """Letters alone: signs of music have codes of no meaning, and not the same from every engraver."""
    return sorted(sign for sign in said(pdf) if sign.isprintable() and not sign.isspace())


def test_letters_stay_letters(pieces: Sequence[Engraved]) -> None:
    for piece in pieces:
        assert letters(piece.pdf) == letters(together(extract_piece(piece), piece))
    words = said(together(extract_piece(pieces[0]), pieces[0]))
    assert "office, find; Άσκηση ἀσκήσεως, Долгий" in words


def test_a_strip_survives_the_cache(pieces: Sequence[Engraved]) -> None:
    for piece in pieces[::5]:
        strip = extract_piece(piece)
        assert ExtractedPiece.from_bytes(strip.to_bytes()) == strip


def test_helpers_take_pieces_apart_ahead(
    pieces: Sequence[Engraved], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ahead, "_WORTH", 1)
    monkeypatch.setattr(ahead, "_MANY", 1)
    monkeypatch.setattr(helpers, "cores", lambda: 2)
    kept = CacheStore(tmp_path)
    for number, piece in enumerate(pieces[:5]):
        kept.put(f"ab{number}", piece.to_bytes())
    kept.put("ab9", b"no piece at all")
    extract_ahead([(f"ab{number}", f"cd{number}") for number in (0, 1, 2, 9, 3, 4, 7)], kept)
    for number, piece in enumerate(pieces[:5]):
        data = kept.get(f"cd{number}")
        assert data is not None
        assert ExtractedPiece.from_bytes(data) == extract_piece(piece)
    assert not kept.has("cd9")
    assert not kept.has("cd7")


def drawn(content: bytes) -> Engraved:
    """A piece with this content, 100 points square."""
    with Pdf.new() as book:
        page = book.add_blank_page(page_size=(100, 100))
        page.obj.Contents = book.make_stream(content)
        page.obj.Resources = Dictionary(ExtGState=Dictionary(a0=Dictionary(ca=1)))
        assert page.obj.Type == Name.Page
        out = BytesIO()
        book.save(out)
    return Engraved(None, out.getvalue(), (System(0, 100 / POINTS_PER_MM, 30),))


def test_what_is_neither_line_nor_letter_is_refused() -> None:
    with pytest.raises(Unreadable, match="'Do'"):
        extract_piece(drawn(b"/a0 gs q 10 0 0 10 0 0 cm /Im0 Do Q"))


@pytest.mark.parametrize(
    "content", [b"1 2 m 3 l S", b"/F1 m S", b"Q Q", b"/Missing 12 Tf", b"(a) Tj", b"BT ] Tj"]
)
def test_a_broken_piece_is_refused(content: bytes) -> None:
    with pytest.raises(Unreadable, match="the piece's PDF"):
        extract_piece(drawn(content))


def test_numbers_strings_and_comments_are_read_as_pdf_says() -> None:
    plain = drawn(b"q 2 w [3 1] 0.5 d 10 10 m 30 .5 l S Q 1 0 0 rg 5 5 4 4 re f")
    odd = drawn(
        b"q +2. w[3 1].50 d%(a comment) Do\n10 10 m\r30 0.50 l S\nQ 1 0 0 rg 5 5 4 4 re\tf "
        b"/P<</A(\\)\n(b))>>BDC EMC"
    )
    assert extract_piece(odd) == extract_piece(plain)


def test_colours_become_black_and_white() -> None:
    piece = drawn(b"1 0 0 rg 10 10 30 30 re f 1 1 1 rg 15 15 10 10 re f 0 0 1 RG 2 w 50 50 m 90 90 l S")
    written = together(extract_piece(piece), piece)
    picture = seen(written, dots=72)
    assert picture[100 - 12, 12] == 0
    assert picture[100 - 20, 20] == 255
    assert picture[100 - 70, 70] < 60
    content = PdfReader(BytesIO(written)).pages[0].get_contents()
    assert content is not None
    assert b"rg" not in content.get_data().lower()


def stem(left: int, low: int, width: int = 65, height: int = 1614, radius: int = 20) -> str:
    """A box with round corners as the engraver fills it, in hundredths of a point."""
    right, high, near = left + width, low + height, 9
    return "\n".join(
        (
            f"{right - radius} {low} m",
            f"{right - near} {low} {right} {low + near} {right} {low + radius} c",
            f"{right} {high - radius} l",
            f"{right} {high - near} {right - near} {high} {right - radius} {high} c",
            f"{left + radius} {high} l",
            f"{left + near} {high} {left} {high - near} {left} {high - radius} c",
            f"{left} {low + radius} l",
            f"{left} {low + near} {left + near} {low} {left + radius} {low} c",
            "h",
            f"{right - radius} {low} m",
            "f",
        )
    )


def test_stems_of_one_size_have_the_same_words() -> None:
    found = join_paths([("", stem(500, 100)), ("", stem(900, 149)), ("", stem(800, 149, height=1600))])
    assert found[0] == "q" and found[-1] == "Q"
    assert found[1::2] == ["1 0 0 1 500 100 cm", "1 0 0 1 400 49 cm", "1 0 0 1 -100 0 cm", "Q"]
    assert found[2] == found[4] != found[6]
    assert found[2].startswith("20 0 m 45 0 l 56 0 65 9 65 20 c 65 1594 l")


def test_a_line_with_round_ends_is_a_box() -> None:
    ledger = (
        "965 -50 m\n987 -50 1015 -27 1015 0 c\n1015 28 987 50 965 50 c\n50 50 l\n"
        "23 50 0 28 0 0 c\n0 -27 23 -50 50 -50 c\nh\n965 -50 m\nf"
    )
    found = join_paths([("", ledger)])
    assert found[1] == "1 0 0 1 0 -50 cm"
    assert found[2].startswith("50 0 m 965 0 l 993 0 1015 22 1015 50 c 1015 50 l")


def test_what_is_no_box_is_filled_as_it_is() -> None:
    beam = "10 10 m\n90 40 l\n90 60 l\n10 30 l\nh\nf"
    assert join_paths([("", beam), ("", beam)]) == [beam.removesuffix("\nf"), "f"] * 2
    assert join_paths([("", "10 10 m\n90 11 l\n90 60 l\n10 60 l\nh\nf")]) == ["10 10 80 50 re", "f"]


def test_an_edge_and_its_filling_are_drawn_at_once_and_lines_of_a_pen_together() -> None:
    slur = "0 0 m\n5 9 15 9 20 0 c\n15 8 5 8 0 0 c\nh\n0 0 m\n"
    pens = "39.9 w 1 J 1 j [] 0 d", "49.8 w 1 J 0 j [] 0 d"
    line = "0 5 m\n90 5 l\n"
    painted = [(pens[1], f"{line}S"), (pens[0], f"{slur}S"), ("", f"{slur}f"), (pens[1], f"{line}S")]
    drawn = slur.removesuffix("\n0 0 m\n")
    assert join_paths(painted) == [pens[1], line.strip(), line.strip(), "S", pens[0], drawn, "B"]
