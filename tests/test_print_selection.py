"""Selections and hand-outs on paper, read back by another library."""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import TWO_KEYS, write_book
from pypdf import PdfReader

from stavewright.cli import main

BELL = """\
title: Bell
rights: private
attend:
  - shoulders loose
home: D5 in D major
tempo: quarter = 60
travel: twelve keys, semitones down
variations: slurred
music:
  h D5 mf q E5 D5 | w D5 p ,
"""
LAMP = BELL.replace("Bell", "Lamp").replace("twelve keys, semitones down", "semitones down from D6 to D4")
WHOLE = """\
title: Week of the flats
for: Robin "the \\ bell" #(exit)
words: Softly, and no longer
  than it is easy.

  Sing it first.
keys: e-flat, Ab
exercises: bell
variations: as written, slurred
"""


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_book(tmp_path_factory.mktemp("selection"), {"bell": BELL, "lamp": LAMP})


def printed(book: Path, text: str, *words: str) -> tuple[int, Path]:
    file, out = book / "week.set", book / "week.pdf"
    out.unlink(missing_ok=True)
    file.write_text(text, encoding="utf-8")
    return main(["print", "--book", str(book), "--handout", str(file), "-o", str(out), *words]), out


def words_of(out: Path) -> str:
    pages = PdfReader(out).pages
    assert len(pages) == 1
    return " ".join(pages[0].extract_text().split())


def test_a_page_with_keys_words_and_room_for_notes(book: Path) -> None:
    status, out = printed(book, WHOLE)
    assert status == 0
    said = words_of(out)
    assert "Week of the flats" in said
    assert 'for Robin "the \\ bell" #(exit)' in said
    assert "Softly, and no longer than it is easy." in said
    assert said.index("Softly") < said.index("Sing it first.") < said.index("Bell, E flat major")
    assert said.index("Bell, E flat major") < said.index("Bell, A flat major") < said.index("Notes")
    assert said.count("slurred") == 2
    assert "Lamp" not in said
    assert "Focus: shoulders loose." in said
    assert PdfReader(out).metadata["/Title"].startswith("Week of the flats")
    before = out.read_bytes()
    assert printed(book, WHOLE)[0] == 0
    assert out.read_bytes() == before


def test_what_is_left_out_has_its_usual(book: Path) -> None:
    status, out = printed(book, "title: Short week\nkeys: d\n")
    assert status == 0
    said = words_of(out)
    assert "Name:" in said
    assert "Bell, D major" in said
    # Of three settings of the other in D, the one in the register that sets begin with.
    assert said.count("From D5") == 2
    assert "From D5, middle register" in said
    assert "From D4" not in said
    assert "From D6" not in said
    assert "slurred" not in said


def test_registers_may_be_named(book: Path) -> None:
    status, out = printed(book, "title: Low week\nkeys: d\nexercises: lamp\nregisters: low, high\n")
    assert status == 0
    said = words_of(out)
    assert said.index("From D4") < said.index("From D6")
    assert "From D5" not in said


def text_of(out: Path) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(out).pages]


def test_a_hand_out_takes_the_pages_it_needs(book: Path) -> None:
    """A page after the first has its number and names what it goes on with."""
    status, out = printed(book, "title: All week\nfor: Robin\nkeys: c, d, e, f, g\n")
    assert status == 0
    first, second = text_of(out)
    assert first.startswith("All week for Robin Bell, C major")
    assert second.startswith("All week, Robin 2 Bell, F major")
    assert "Lamp, G major" in second
    assert second.count("Notes") == 1 and "Notes" not in first


def test_a_page_that_begins_within_a_piece_names_it(tmp_path: Path) -> None:
    long = TWO_KEYS.replace("w D5", " | ".join(["e D5 E5 D5 E5 D5 E5 D5 E5"] * 60))
    book = write_book(tmp_path, {"long": long.format(title="Long")})
    assert printed(book, "title: T\nfor: Robin\nplay: long in D\n")[0] == 0
    second = text_of(book / "week.pdf")[1]
    assert second.startswith("T, Robin: Long, D major 2 ")
    # A long name has a line below the title, and leaves room for the piece in the running head.
    name = "Maximiliane Alexandra, second flute of the youth orchestra"
    assert printed(book, f"title: T\nfor: {name}\nplay: long in D\n")[0] == 0
    first, second = text_of(book / "week.pdf")[:2]
    assert first.startswith(f"T for {name} Long, D major")
    assert "…: Long, D major 2 " in second


def test_each_student_has_pages_and_an_order_of_their_own(book: Path) -> None:
    status, out = printed(
        book,
        """\
title: Low week
for: Robin
words: First low.
play:
  - Lamp in D, E flat: slurred, as written; low register
words: Rest.

  Then this.
play: bell in A flat
title: Short week
for: Kim #(exit)
play: bell in D
""",
    )
    assert status == 0
    robin, blank, kim = text_of(out)
    order = (
        "Low week",
        "for Robin",
        "First low.",
        "Lamp, D major",
        "From D4, low register, slurred",
        "as written",
        "Lamp, E flat major",
        "Rest.",
        "Then this.",
        "Bell, A flat major",
        "Focus",
        "Notes",
    )
    places = [robin.index(each) for each in order[:9]] + [robin.rindex(each) for each in order[9:]]
    assert places == sorted(places)
    # Printed on both sides, the second student begins on a new leaf.
    assert blank == ""
    assert kim.startswith("Short week for Kim #(exit) Bell, D major")
    outline = [entry for entry in PdfReader(out).outline if not isinstance(entry, list)]
    assert [str(entry.title) for entry in outline] == ["Low week, Robin", "Short week, Kim #(exit)"]
    assert (
        printed(book, "title: A\nplay: bell in D\nfor: B\nfor: C\nplay: bell in D\n", "--single-sided")[0]
        == 0
    )
    assert len(text_of(out)) == 2


def test_the_page_says_how_a_part_is_written_and_where_music_is_from(tmp_path: Path) -> None:
    tune = TWO_KEYS.format(title="Tune").replace("rights:", "source: the oral tradition\nrights:")
    book = write_book(tmp_path, {"tune": tune})
    settings = book / "mkdocs.yml"
    text = settings.read_text(encoding="utf-8").replace("[flute]", "[flute, clarinet-b-flat]")
    settings.write_text(f"{text}      concert: true\n", encoding="utf-8")
    status, out = printed(book, "title: T\ninstrument: clarinet-b-flat\nplay: tune in D\n")
    assert status == 0
    (said,) = text_of(out)
    assert "Tune, D major" in said
    assert "Written in E major for the clarinet in B flat, so that it sounds in D major." in said
    assert said.endswith("Tune: the oral tradition. written for this test, public domain.")


def test_what_a_key_leaves_out_is_told(tmp_path: Path) -> None:
    triplet = BELL.replace("h D5 mf q E5 D5", "h D5 mf triplet( q E5 D5 E5 )").replace("slurred", "doubled")
    book = write_book(tmp_path, {"bell": triplet})
    status, out = printed(book, "title: T\nplay: bell in D: every variation\n")
    assert status == 0
    (said,) = text_of(out)
    assert "twice as long Left out here: " in said


def test_more_than_a_print_holds_is_refused_at_once(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    row = "  - lamp: every variation; every register\n"
    status, out = printed(book, f"title: All\nplay:\n{row * 400}")
    assert status == 2
    assert not out.exists()
    assert "more than 1,000 pieces of music: divide it into several files" in capsys.readouterr().err


def test_all_faults_come_at_once(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Also what is in the book, but not there: a key, a register, a variation of another exercise."""
    text = "title: T\nplay:\n  - bell in h\n  - bel in D\n  - lamp in D; low, top register\n"
    status, out = printed(book, text + "title: U\nplay: lamp in every key: slured; high\n")
    assert status == 1
    assert not out.exists()
    said = capsys.readouterr()
    at = f"{book / 'week.set'}:"
    assert f"{at}3:13: unknown key 'h'; the keys are" in said.out
    assert f"{at}4:5: unknown exercise 'bel'; did you mean 'bell'?" in said.out
    assert f"{at}5:21: unknown register 'top'; there are: low, middle, high" in said.out
    assert f"{at}7:26: unknown variation 'slured'; did you mean 'slurred'?" in said.out
    assert "4 faults." in said.err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--handout", "nowhere.set"), "nowhere.set: cannot be read: No such file or directory"),
        (("--selection", "nowhere.set", "--all"), "say what to print"),
        (("--selection", "nowhere.set", "--instrument", "flute"), "leave out --instrument and --variations"),
    ],
)
def test_wrong_use(
    book: Path, tmp_path: Path, words: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["print", "--book", str(book), "-o", str(tmp_path / "x.pdf"), *words]) == 2
    assert said in capsys.readouterr().err


def test_a_booklet_is_for_one_student(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    one = "title: T\nplay: bell in D\n"
    assert printed(book, f"{one}{one}", "--booklet")[0] == 2
    assert "a booklet is for one student" in capsys.readouterr().err
    assert printed(book, one, "--booklet")[0] == 0
