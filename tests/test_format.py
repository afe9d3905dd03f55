"""The formatter: one style, the same music, every remark kept; and remarks at the end of a line."""

from __future__ import annotations

import random
import re
from pathlib import Path

import pytest
from conftest import examples
from hypothesis import given
from hypothesis import strategies as st
from test_language_write import bars, exercise

from stavewright.cli.main import main
from stavewright.language.format import WIDTH, formatted
from stavewright.language.read import read
from stavewright.language.write import write
from stavewright.views.language_page import example_text

BOOK = sorted((Path(__file__).parent.parent / "exercises").glob("*.warmup"))

UNTIDY = """\

# Evening bell, for the second term.


travel:   twelve keys,   semitones down
# the beat is slow
tempo: quarter = 54   to 66  # a walk
title:Evening   bell # 3
attend:
  -   the start # of each note
      clean
    - the pitch steady
# the hard part
variations: slurred,swell up+slurred , a name=slurred

home: D5 in D major # concert

music: h D5 mf q C#5 D5|w E5 p fermata,   # down
    # then up
      | slur(h D5 q E5 D5) |: triplet(q D5 E5
      F#5) h D5 above "no # 3" :|
  | w C#5,|w D5

#   the end
"""

TIDY = """\
# Evening bell, for the second term.

title: Evening bell # 3
attend:
  - the start # of each note
    clean
  - the pitch steady

home: D5 in D major  # concert
# the beat is slow
tempo: quarter = 54 to 66  # a walk
travel: twelve keys, semitones down
# the hard part
variations: slurred, swell up + slurred, a name = slurred

music:
  h D5 mf q C#5 D5     | w E5 p fermata ,                              |  # down
  # then up
  slur( h D5 q E5 D5 )   |: triplet( q D5 E5 F#5 ) h D5 above "no # 3" :| |
  w C#5 ,              | w D5

#   the end
"""


def form(text: str) -> str:
    """The formatted text, which is never a row of faults here."""
    made = formatted("example.warmup", text.encode())
    assert isinstance(made, str), made
    return made


def test_the_style() -> None:
    made = form(UNTIDY)
    assert made == TIDY
    assert form(made) == made
    assert exercise(made) == exercise(UNTIDY)


def test_bars_stand_below_each_other() -> None:
    text = "title: A\nhome: D5 in D major\nmusic:\n  w D5 mf | h D5 E5 |\n  h D5 E5 | w D5\n"
    assert form(text).endswith("music:\n  w D5 mf | h D5 E5 |\n  h D5 E5 | w D5\n")


def test_wide_lines_break_at_bar_lines() -> None:
    music = " | ".join(["q D5 E5 F#5 G5", "slur( h A5 G5 )"] * 8)
    made = form(f"title: A\nhome: D5 in D major\nmusic: {music}\n")
    rows = made.split("music:\n")[1].split("\n")[:-1]
    assert len(rows) == 4
    assert all(len(row) <= WIDTH for row in rows)
    assert all(row.endswith("|") for row in rows[:-1])


@pytest.mark.parametrize("path", BOOK, ids=lambda path: path.stem)
def test_the_demo_book_stays_the_same_music(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    made = form(text)
    assert exercise(made) == exercise(text)
    assert form(made) == made
    assert made.count("#") == text.count("#")


def spoiled(text: str, seed: int) -> tuple[str, list[str]]:
    """The text with fields in another order, spaces, line breaks and remarks by chance; and the remarks."""
    chance = random.Random(seed)
    fields = re.split(r"\n(?=\S)", text.rstrip("\n"))
    chance.shuffle(fields)
    remarks: list[str] = []

    def remark() -> str:
        remarks.append(f"# remark {len(remarks)}" + chance.choice(("", ' "', " |", " slur( ,")))
        return remarks[-1]

    rows: list[str] = []
    for each in fields:
        if chance.random() < 0.3:
            rows.append("")
        if chance.random() < 0.3:
            rows.append(remark())
        if chance.random() < 0.1:
            rows.append("")
        name, _, said = each.partition(":")
        if not name.startswith("music"):
            rows.append(f"{name}:{' ' * chance.randrange(4)}{said}")
            continue
        rows.append(f"{name}:")
        # Quotes, and a value's dots and names, are words of their own here.
        row = "  "
        for word in re.findall(r'\w+ "[^"]*"|\S+', said):
            row += word + " " * chance.randrange(1, 3)
            if chance.random() < 0.2:
                rows.append(row + (f" {remark()}" if chance.random() < 0.3 else ""))
                row = " " * chance.randrange(1, 5)
                if chance.random() < 0.2:
                    rows.append(chance.choice((remark(), f"   {remark()}", "")) or "")
        rows.append(row or "  ")
    if chance.random() < 0.3:
        rows += ["", remark()]
    return "\n".join(rows) + "\n", remarks


@examples(100)
@given(st.lists(bars(), min_size=1, max_size=8), st.integers(min_value=0))
def test_any_text_keeps_its_music_and_its_remarks(music: list[str], seed: int) -> None:
    """Formatted twice it is as formatted once."""
    first = exercise(example_text(" | ".join(["w D5", *music])))
    text, remarks = spoiled(write(first), seed)
    assert exercise(text) == first
    made = form(text)
    assert exercise(made) == first
    assert form(made) == made
    for said in remarks:
        if said in text:
            assert made.count(said + "\n") == text.count(said + "\n"), said


# -- remarks at the end of a line -------------------------------------------------------------------------

TEXT = "title: A\nhome: D5 in D major\nmusic:\n  {}\n"


@pytest.mark.parametrize(
    "music",
    ["w D5 # down", "w D5\t#\tdown", "w D5 #", 'w D5 above "no # 3" # say "x', "h D5 E5 | # slur(\n  w D5"],
)
def test_a_remark_may_end_a_line(music: str) -> None:
    assert not read("a.warmup", TEXT.format(music).encode()).faults


def test_a_number_sign_in_words_stays() -> None:
    made = exercise(TEXT.replace("A\n", "Study # 3 # 4\n").format('w D5 above "no # 3" # low'))
    assert made.title == "Study # 3 # 4"
    assert made.forms[0].bars[0].events[0].above == "no # 3"


@pytest.mark.parametrize(
    ("music", "what", "mend"),
    [
        ("h C #5 E5", "'#5' is not a pitch", "a sharp follows its letter, as in `C#5`"),
        ("w D5 #low", "'#low' is not a pitch", "a remark begins with `# `"),
        ("h D5 # E5", "bar 1 has 2 beats, and 4/4 needs 4 beats", "add 2 beats"),
    ],
)
def test_a_sharp_is_not_taken_for_a_remark(music: str, what: str, mend: str) -> None:
    faults = read("a.warmup", TEXT.format(music).encode()).faults
    assert any(what in fault.what and mend in fault.mend for fault in faults), faults


def test_faults_after_the_last_word_stand_before_the_remark() -> None:
    (fault,) = read("a.warmup", TEXT.format("slur( w D5 # low").encode()).faults
    assert (fault.line, fault.column) == (4, 13)


# -- the command ------------------------------------------------------------------------------------------


@pytest.fixture
def book(tmp_path: Path) -> Path:
    (tmp_path / "exercises").mkdir()
    (tmp_path / "mkdocs.yml").write_text("site_name: B\ntheme: {name: stavewright}\nplugins: [stavewright]\n")
    (tmp_path / "exercises/untidy.warmup").write_text(UNTIDY)
    (tmp_path / "exercises/tidy.warmup").write_text(form(UNTIDY).replace("Evening bell #", "Morning bell #"))
    return tmp_path


def test_format_writes_only_what_changes(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    tidy, untidy = book / "exercises/tidy.warmup", book / "exercises/untidy.warmup"
    before = tidy.stat()
    assert main(["format", "--check", "--book", str(book)]) == 1
    assert untidy.read_text() == UNTIDY
    out = capsys.readouterr().out
    assert f"{untidy}: would change\n" in out
    assert "1 exercise would change, 1 left as it is.\n" in out
    assert main(["format", "--book", str(book)]) == 0
    assert untidy.read_text() == form(UNTIDY)
    after = tidy.stat()
    assert (after.st_ino, after.st_mtime_ns) == (before.st_ino, before.st_mtime_ns)
    assert main(["format", "--check", "--book", str(book)]) == 0
    assert sorted(path.name for path in untidy.parent.iterdir()) == ["tidy.warmup", "untidy.warmup"]


def test_a_file_with_faults_is_left_and_told(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    wrong = book / "exercises/wrong.warmup"
    wrong.write_text("title:  A\nhome: D5 in D major\nmusic: h D5\n")
    assert main(["format", str(wrong), str(book / "exercises/untidy.warmup")]) == 1
    assert "bar 1 has 2 beats, and 4/4 needs 4 beats" in capsys.readouterr().out
    assert wrong.read_text().startswith("title:  A\n")
    assert (book / "exercises/untidy.warmup").read_text() == form(UNTIDY)
    assert main(["format", str(book / "none.warmup")]) == 2
