"""A student's hand-out: one page, read back by another library; and every fault of its file in its place."""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import write_book
from pypdf import PdfReader

from stavewright.cli import main
from stavewright.language.handout import Known, read_handout

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
KNOWN = Known(("bell", "lamp"), ("as written", "slurred"), {"flute": ("low", "middle", "high")})
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
    return write_book(tmp_path_factory.mktemp("handout"), {"bell": BELL, "lamp": LAMP})


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
    assert "From D4" not in said
    assert "From D6" not in said
    assert "slurred" not in said


def test_registers_may_be_named(book: Path) -> None:
    status, out = printed(book, "title: Low week\nkeys: d\nexercises: lamp\nregisters: low, high\n")
    assert status == 0
    said = words_of(out)
    assert said.index("From D4") < said.index("From D6")
    assert "From D5" not in said


def test_more_than_a_page_says_what_fits(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out = printed(book, "title: All week\nkeys: c, d, e, f, g, a, b\n")
    assert status == 2
    assert not out.exists()
    said = capsys.readouterr().err
    assert "this does not fit on one page: " in said
    assert " of 14 lines of music fit (Bell, C major" in said


FAULTS = [
    ("", (1, 1, "the file is empty", "begin with `title: Week of the flats`")),
    ("title: T\n", (1, 1, "the field 'keys' is missing", "write a line such as `keys: e-flat, a flat`")),
    ("keys: d\n", (1, 1, "the field 'title' is missing", "write a line such as `title: Week of the flats`")),
    (
        "title: T\nkeys:\n",
        (2, 6, "the field 'keys' is missing", "write a line such as `keys: e-flat, a flat`"),
    ),
    ("title: T\nkeys: d, e flt\n", (2, 10, "unknown key 'e flt'", "did you mean 'e-flat'?")),
    ("title: T\nkeys: d\nexercises: bel\n", (3, 12, "unknown exercise 'bel'", "did you mean 'bell'?")),
    (
        "title: T\nkeys: d\nvariations: as written,\n  slured\n",
        (4, 3, "unknown variation 'slured'", "did you mean 'slurred'?"),
    ),
    (
        "title: T\nkeys: d\nregisters: top\n",
        (3, 12, "unknown register 'top'", "there are: low, middle, high"),
    ),
    (
        "title: T\nkeys: d\ninstrument: flutes\n",
        (3, 13, "unknown instrument 'flutes'", "did you mean 'flute'?"),
    ),
    ("title: T\nkeys: d\nkey: d\n", (3, 1, "unknown field 'key'", "did you mean 'keys'?")),
    (
        "title: T\nkeys: d\nkeys: e\n",
        (3, 1, "the field 'keys' appears a second time", "keep one; the first is on line 2"),
    ),
]


@pytest.mark.parametrize(("text", "fault"), FAULTS)
def test_each_fault_has_its_place(text: str, fault: tuple[int, int, str, str]) -> None:
    handout, faults = read_handout("week.set", text.encode(), KNOWN)
    assert handout is None
    assert [(each.line, each.column, each.what, each.mend) for each in faults] == [fault]


def test_all_faults_come_at_once(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out = printed(book, "title: T\nkeys: h\nexercises: bel\n")
    assert status == 1
    assert not out.exists()
    said = capsys.readouterr()
    assert f"{book / 'week.set'}:2:7: unknown key 'h'" in said.out
    assert f"{book / 'week.set'}:3:12: unknown exercise 'bel'" in said.out
    assert "2 faults." in said.err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--handout", "nowhere.set"), "nowhere.set: cannot be read: No such file or directory"),
        (("--handout", "nowhere.set", "--all"), "say what to print"),
        (("--handout", "nowhere.set", "--booklet"), "leave out --instrument, --variations and --booklet"),
    ],
)
def test_wrong_use(
    book: Path, tmp_path: Path, words: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["print", "--book", str(book), "-o", str(tmp_path / "x.pdf"), *words]) == 2
    assert said in capsys.readouterr().err


def test_coverage_on_the_command_line(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--book", str(book), "--coverage"]) == 0
    said = capsys.readouterr().out
    assert "2 exercises, no faults." in said
    assert "Flute: what the book practises" in said
    # Up a whole tone and back: nothing else lies between neighbours, and nothing is louder than mf.
    assert "Between neighbouring notes never: minor second, minor third, " in said
    assert "In the low register never ppp, pp, mp, f, ff, fff." in said
    assert "No note begins like this: marcato, accented, portato, detached, " in said
