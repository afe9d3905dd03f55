"""`stavewright print` as a user gives it, and the site's files for the stand."""

from __future__ import annotations

import os
import stat
import sys
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import pytest
from ink_reader import read_ink
from made_site import site as made_site
from pypdf import PdfReader

from stavewright.cli import main
from stavewright.paper.page_format import PAPERS
from stavewright.prints import documents as make

WriteBook = Callable[[dict[str, str | bytes]], Path]
POINTS = 72 / 25.4
CELL = """\
title: Quiet stair
kind: stepwise cell
purpose: To climb.
rights: private
home: D5 in D major
tempo: quarter = 54
travel: semitones down from D5 to B4
variations: slurred, swell up
music:
  h D5 mf E5 | w D5 ,
"""
OPEN = CELL.replace("Quiet stair", "Open stair").replace("private", "public domain")


@pytest.fixture
def small(book: WriteBook) -> Path:
    return book({"quiet-stair": CELL, "open-stair": OPEN})


def run(*arguments: str | Path) -> int:
    try:
        return main(["print", *map(str, arguments)])
    except SystemExit as left:
        assert isinstance(left.code, int)
        return left.code


def pages(path: Path) -> PdfReader:
    return PdfReader(BytesIO(path.read_bytes()))


def said(path: Path) -> str:
    return " ".join(" ".join(page.extract_text() for page in pages(path).pages).split())


def test_a_private_exercise_can_be_printed(
    small: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "cell.pdf"
    assert run("--book", small, "--exercise", "quiet-stair", "-o", out) == 0
    count = len(pages(out).pages)
    assert f"{count} page{'s' if count > 1 else ''}: {out}" in capsys.readouterr().out
    assert "Quiet stair" in said(out)
    assert "Through the keys" in said(out)


def test_the_whole_book_holds_private_exercises_too(small: Path, tmp_path: Path) -> None:
    out = tmp_path / "all.pdf"
    assert run("--book", small, "--all", "-o", out) == 0
    assert "Quiet stair" in said(out)
    assert "Open stair" in said(out)


@pytest.mark.parametrize("key", ["d-flat", "Db", "c sharp", "C#", "D♭"])
def test_a_key_may_be_named_as_players_name_it(small: Path, tmp_path: Path, key: str) -> None:
    out = tmp_path / "key.pdf"
    assert run("--book", small, "--key", key, "-o", out) == 0
    assert "Every exercise in D flat" in said(out)


def test_paper_sides_and_staff(small: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "all.pdf"
    assert run("--book", small, "--all", "--paper", "letter", "--single-sided", "-o", out) == 0
    box = pages(out).pages[0].mediabox
    assert float(box.width) == pytest.approx(612, abs=0.1)
    assert float(box.height) == pytest.approx(792, abs=0.1)
    single = len(pages(out).pages)
    assert run("--book", small, "--all", "--paper", "letter", "--booklet", "-o", out) == 0
    assert float(pages(out).pages[0].mediabox.width) == pytest.approx(1224, abs=0.1)
    assert "11 by 17 inches" in capsys.readouterr().out
    large = ("--all", "--paper", "letter", "--single-sided", "--staff-size", "12")
    assert run("--book", small, *large, "-o", out) == 0
    assert len(pages(out).pages) > single


def test_only_some_variations(small: Path, tmp_path: Path) -> None:
    out = tmp_path / "some.pdf"
    wish = ("--book", small, "--exercise", "open-stair", "--key", "d")
    assert run(*wish, "--variations", " swell up , as  written", "-o", out) == 0
    assert "growing" in said(out)
    assert run(*wish, "--variations", "growing, as written", "-o", out) == 0
    assert "growing" in said(out)
    assert "as written" in said(out)
    assert "slurred" not in said(out)


def test_several_keys_and_exercises_in_the_order_given(
    small: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "some.pdf"
    wish = ("--book", small, "--variations", "as written", "-o", out)
    assert run(*wish, "--exercise", "quiet-stair , open-stair", "--key", "b", "--key", "Db,d,g") == 0
    text = said(out)
    order = [text.index(name) for name in ("Quiet stair", "B major", "D flat major", "D major")]
    assert order == sorted(order)
    assert text.index("D major") < text.rindex("B major") < text.rindex("D major")
    told = capsys.readouterr().err
    assert "quiet-stair: not in g; its keys are d, d-flat, c, b" in told
    outline = [entry for entry in pages(out).outline if not isinstance(entry, list)]
    assert [str(entry.title) for entry in outline] == ["Quiet stair", "Open stair"]

    assert run(*wish, "--key", "d-flat,d,g") == 0
    assert "no exercise is in g" in capsys.readouterr().err
    text = said(out)
    assert text.index("Every exercise in D flat") < text.index("Open stair, D flat major")
    assert text.index("Quiet stair, D flat major") < text.index("Every exercise in D Open stair, D major")

    assert run(*wish, "--exercise", "quiet-stair", "--exercise", "open-stair", "--key", "c") == 0
    assert len(pages(out).pages) == 1
    assert said(out).index("Quiet stair, C major") < said(out).index("Open stair, C major")


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        (["--key", "H"], ["unknown key 'H'", "b-flat"]),
        (["--key", "d,H"], ["unknown key 'H'", "b-flat"]),
        (["--exercise", "quiet-stair", "--exercise", "open-star"], ["'open-star'", "mean 'open-stair'?"]),
        (["--exercise", "quiet-stare"], ["'quiet-stare'", "did you mean 'quiet-stair'?", "open-stair"]),
        (["--all", "--paper", "leter"], ["'leter'", "did you mean 'letter'?", "a4"]),
        (["--all", "--instrument", "flutes"], ["'flutes'", "did you mean 'flute'?"]),
        (["--all", "--variations", "slured"], ["'slured'", "did you mean 'slurred'?", "as written"]),
        (["--all", "--staff-size", "4"], ["4 mm", "6 mm", "14 mm"]),
        (["--all", "--staff-size", "nan"], ["nan", "6 mm"]),
        (["--all", "--key", "d"], ["--all"]),
        ([], ["--key", "--exercise", "--all"]),
        (["--exercise", "open-stair", "--key", "g"], ["nothing to print"]),
    ],
)
def test_what_is_not_there_is_told_with_what_is(
    small: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], wish: list[str], words: list[str]
) -> None:
    out = tmp_path / "none.pdf"
    assert run("--book", small, *wish, "-o", out) == 2
    told = capsys.readouterr().err
    for word in words:
        assert word in told
    assert not out.exists()


def test_a_file_that_cannot_be_written_is_told_before_engraving(
    small: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def engraving(*_: object) -> None:
        raise AssertionError("engraving began")

    monkeypatch.setattr(make, "engrave_scores", engraving)
    for out in (tmp_path, tmp_path / "none" / "x.pdf"):
        assert run("--book", small, "--all", "-o", out) == 2
        assert f"{out}: cannot be written" in capsys.readouterr().err


def test_an_earlier_file_stays_until_the_new_one_is_whole(
    small: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "all.pdf"
    out.write_bytes(b"%PDF-the earlier print")

    class Broken(Exception):
        pass

    def breaks(*_: object) -> None:
        assert out.read_bytes() == b"%PDF-the earlier print"
        raise Broken

    monkeypatch.setattr(make, "compose_prints", breaks)
    with pytest.raises(Broken):
        run("--book", small, "--all", "-o", out)
    assert out.read_bytes() == b"%PDF-the earlier print"
    assert list(tmp_path.glob(".*")) == []
    monkeypatch.undo()
    assert run("--book", small, "--all", "-o", out) == 0
    assert out.read_bytes().startswith(b"%PDF")
    if sys.platform != "win32":
        assert stat.S_IMODE(out.stat().st_mode) & 0o400


def test_only_a_pdf_is_written_over(
    small: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def engraving(*_: object) -> None:
        raise AssertionError("engraving began")

    monkeypatch.setattr(make, "engrave_scores", engraving)
    exercise = small / "exercises" / "quiet-stair.warmup"
    before = exercise.read_bytes()
    link = tmp_path / "link.pdf"
    link.symlink_to(exercise)
    for out in (exercise, link):
        assert run("--book", small, "--all", "-o", out) == 2
        assert f"{out}: is not overwritten: it is not a PDF; " in capsys.readouterr().err
    assert exercise.read_bytes() == before
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for out in (pipe, Path("/dev/null")):
        assert run("--book", small, "--all", "-o", out) == 2
        assert f"{out}: cannot be written: it is a device or the like" in capsys.readouterr().err
    assert stat.S_ISFIFO(pipe.lstat().st_mode)
    assert stat.S_ISCHR(Path("/dev/null").lstat().st_mode)


def test_a_link_to_a_print_stays_one(small: Path, tmp_path: Path) -> None:
    real, link = tmp_path / "real.pdf", tmp_path / "link.pdf"
    real.write_bytes(b"")
    link.symlink_to(real)
    assert run("--book", small, "--exercise", "quiet-stair", "--key", "d", "-o", link) == 0
    assert link.is_symlink()
    assert real.read_bytes().startswith(b"%PDF-")


def test_a_sign_that_no_font_has_is_told(
    book: WriteBook, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = book({"odd": OPEN.replace("To climb.", "To climb \U00050000.")})
    out = tmp_path / "odd.pdf"
    assert run("--book", folder, "--exercise", "odd", "--key", "d", "-o", out) == 1
    assert "no font here shows" in capsys.readouterr().err
    assert "To climb" in said(out)


def test_words_of_an_exercise_stay_words(book: WriteBook, tmp_path: Path) -> None:
    hostile = '#(system "touch HERE") \\include "x" } { % $x <b>&amp; "q'
    folder = book({"odd": OPEN.replace("title: Open stair", f"title: {hostile}")})
    out = tmp_path / "odd.pdf"
    assert run("--book", folder, "--all", "-o", out) == 0
    assert hostile in said(out)
    assert hostile in [str(entry.title) for entry in pages(out).outline if not isinstance(entry, list)]


@pytest.mark.exhaustive
def test_the_site_offers_every_print_on_every_paper() -> None:
    site = made_site()
    listed = (site / "print" / "index.html").read_text(encoding="utf-8")
    files = sorted((site / "print").glob("*.pdf"))
    assert len(files) > 2
    for file in files:
        count = len(pages(file).pages)
        name = f'href="{file.name}"'
        assert name in listed
        row = listed[listed.index(name) :].split("</li>")[0]
        assert f"{count} page" in row
        size = len(file.read_bytes()) / 1000
        assert (f"{size:.0f} KB" if size < 1000 else f"{size / 1000:.1f} MB") in row
    widths = {round(float(pages(file).pages[0].mediabox.width) / POINTS, 1) for file in files}
    assert widths == {paper.width for paper in PAPERS.values()}


def test_what_is_private_is_not_in_the_site_s_prints(small: Path, tmp_path: Path) -> None:
    assert main(["build", "--book", str(small), "--out", str(tmp_path / "site")]) == 0
    files = list((tmp_path / "site" / "print").glob("*.pdf"))
    assert files
    for file in files:
        assert "Quiet" not in said(file)
        assert "quiet" not in file.name


def test_each_instrument_has_its_own_prints() -> None:
    site = made_site("flute, clarinet-b-flat")
    listed = (site / "print" / "index.html").read_text(encoding="utf-8")
    for instrument in ("flute", "clarinet-b-flat"):
        own = site / instrument / "print"
        assert (own / "book.pdf").read_bytes().startswith(b"%PDF")
        assert f'href="../{instrument}/print/book.pdf"' in listed
        page = (own / "index.html").read_text(encoding="utf-8")
        assert 'href="book.pdf"' in page
    assert "for flute" in said(site / "flute" / "print" / "book.pdf")


DUET = OPEN.replace("Open stair", "Two stairs") + "music second:\n  q D4 mf E4 F#4 G4 | w F#4 ,\n"


@pytest.mark.parametrize("part", ["first", "second"])
def test_one_part_of_a_duet_is_printed_by_itself(book: WriteBook, tmp_path: Path, part: str) -> None:
    root, out = book({"two-stairs": DUET, "open-stair": OPEN}), tmp_path / "part.pdf"
    assert run("--book", root, "--exercise", "two-stairs", "--key", "d", "--part", part, "-o", out) == 0
    assert f"Two stairs, {part} part" in said(out)
    # A part has one staff where the duet has two.
    both = tmp_path / "both.pdf"
    assert run("--book", root, "--exercise", "two-stairs", "--key", "d", "-o", both) == 0
    counts = [len(read_ink(path.read_bytes()).staves) for path in (both, out)]
    assert counts == [6, 3]


def test_exercises_without_a_second_part_stay_out_of_its_print(
    book: WriteBook, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    root, out = book({"two-stairs": DUET, "open-stair": OPEN}), tmp_path / "part.pdf"
    assert run("--book", root, "--key", "d", "--part", "second", "-o", out) == 0
    assert "Two stairs, second part" in said(out)
    assert "Open stair" not in said(out)
    assert run("--book", root, "--key", "d", "--part", "first", "-o", out) == 0
    assert "Open stair" in said(out)
    assert run("--book", root, "--exercise", "open-stair", "--part", "second", "-o", out) == 2
    assert "no exercise of the book has all that, with a second part" in capsys.readouterr().err
    assert run("--book", root, "--exercise", "two-stairs,open-stair", "--part", "second", "-o", out) == 0
    assert "open-stair: has no second part" in capsys.readouterr().err
    assert run("--book", root, "--all", "--part", "third", "-o", out) == 2
    assert "unknown part 'third'; there are: first, second" in capsys.readouterr().err


def test_the_site_offers_each_part_of_a_duet(book: WriteBook) -> None:
    root = book({"two-stairs": DUET, "open-stair": OPEN})
    assert main(["build", "--book", str(root), "--quiet"]) == 0
    # Their pages let a player hear one part.
    heard = [
        " data-others>"
        in (root / "site" / "exercises" / name / "d" / "index.html").read_text(encoding="utf-8")
        for name in ("two-stairs", "open-stair")
    ]
    assert heard == [True, False]
    files = {path.name for path in (root / "site" / "print").glob("exercise-*")}
    for part in ("first", "second"):
        assert {
            f"exercise-two-stairs-{part}-part.pdf",
            f"exercise-two-stairs-{part}-part-letter.pdf",
        } <= files
        assert f"Two stairs, {part} part" in said(
            root / "site" / "print" / f"exercise-two-stairs-{part}-part.pdf"
        )
    assert not any("open-stair-" in name for name in files - {"exercise-open-stair-letter.pdf"})
