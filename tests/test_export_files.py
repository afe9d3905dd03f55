"""The export command and the files on the site: names, kinds, wrong use."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import music21
import pytest
from lxml import etree
from mido import MidiFile

from stavewright.book.pieces import instrument_books_of
from stavewright.book.read import open_book
from stavewright.cli import main
from stavewright.engrave.engraved_book import engrave_book
from stavewright.export.downloads import addresses, downloads, stem
from stavewright.export.mxl import pack_musicxml

Write = Callable[[dict[str, str | bytes]], Path]

TWO = """\
title: Two tones
rights: private
home: D5 in D major
variations: slurred, swell up + slurred
music:
  h D5 E5
"""


@pytest.fixture
def small(book: Write) -> Path:
    return book(
        {"two-tones": TWO, "one": TWO.replace("Two tones", 'One "<&>"').replace("private", "CC BY 4.0")}
    )


def export(small: Path, out: Path, *words: str) -> int:
    return main(["export", "--book", str(small), "-o", str(out), *words])


def test_one_exercise_in_one_key(small: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As written and in both variations; private or not, for these are files for the user."""
    out = tmp_path / "new" / "files"
    assert export(small, out, "--midi", "--musicxml", "--exercise", "two-tones", "--key", "Eb") == 0
    assert sorted(path.name for path in out.iterdir()) == [
        "two-tones-flute-e-flat-4-slurred.mid",
        "two-tones-flute-e-flat-4-slurred.musicxml",
        "two-tones-flute-e-flat-4-swell-up-slurred.mid",
        "two-tones-flute-e-flat-4-swell-up-slurred.musicxml",
        "two-tones-flute-e-flat-4.mid",
        "two-tones-flute-e-flat-4.musicxml",
    ]
    assert f"6 files: {out}" in capsys.readouterr().out
    assert MidiFile(out / "two-tones-flute-e-flat-4.mid").tracks[0].name == "Two tones in E flat major"
    found = etree.parse(out / "two-tones-flute-e-flat-4-slurred.musicxml")
    assert found.findtext("work/work-title") == "Two tones in E flat major, slurred"
    assert found.findtext("identification/rights") == "private"


def test_the_whole_book_has_a_file_a_piece(small: Path, tmp_path: Path) -> None:
    assert export(small, tmp_path / "out", "--midi") == 0
    names = {path.name for path in (tmp_path / "out").iterdir()}
    assert len(names) == 2 * 12 * 3
    assert all(name.endswith(".mid") for name in names)


def test_variations_that_read_alike_keep_a_file_each(book: Write, tmp_path: Path) -> None:
    alike = TWO.replace("slurred, swell up + slurred", "swell up + slurred, slurred + swell up, slurred")
    alike = alike.replace("swell up + slurred, slurred + swell up", "slurred + swell up, slurred + swell up")
    folder = book({"two-tones": alike})
    assert export(folder, tmp_path / "out", "--midi", "--key", "d") == 0
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == [
        "two-tones-flute-d-5-slurred-swell-up-2.mid",
        "two-tones-flute-d-5-slurred-swell-up.mid",
        "two-tones-flute-d-5-slurred.mid",
        "two-tones-flute-d-5.mid",
    ]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "say what to write: --midi, --musicxml, or both"),
        (("--midi", "--key", "h"), "unknown key 'h'; there are: c, d-flat,"),
        (
            ("--midi", "--exercise", "two-tone"),
            "unknown exercise 'two-tone'; did you mean 'two-tones'? there are:",
        ),
        (
            ("--midi", "--instrument", "lute"),
            "unknown instrument 'lute'; did you mean 'flute'? there are: flute",
        ),
    ],
)
def test_wrong_use(
    small: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], said: str
) -> None:
    assert export(small, tmp_path / "out", *words) == 2
    assert said in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_a_file_where_the_folder_should_be(
    small: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "out").write_text("mine")
    assert export(small, tmp_path / "out", "--midi") == 2
    assert "is a file; name a folder" in capsys.readouterr().err
    assert (tmp_path / "out").read_text() == "mine"


def test_the_site_offers_what_may_be_published(small: Path) -> None:
    """Each setting as written, twice; the private exercise stays out."""
    engraved_book = engrave_book(open_book(small))
    found = {
        file.address: file.data
        for file in downloads(engraved_book.instrument_books, engraved_book.engravings)
    }
    assert len(found) == 12 * 2
    assert "exercises/one/e-flat/one-flute-e-flat-4.mid" in found
    assert MidiFile(file=BytesIO(found["exercises/one/c/one-flute-c-5.mid"])).tracks
    packed = found["exercises/one/c/one-flute-c-5.mxl"]
    with zipfile.ZipFile(BytesIO(packed)) as files:
        kind, container, score = (files.read(name) for name in files.namelist())
        assert files.infolist()[0].compress_type == zipfile.ZIP_STORED
    assert kind == b"application/vnd.recordare.musicxml"
    assert etree.fromstring(container).find(".//rootfile").get("full-path") == files.namelist()[2]
    assert etree.fromstring(score).findtext("work/work-title") == 'One "<&>" in C major'
    assert pack_musicxml(score) == packed, "no date is in it"


def test_a_notation_program_opens_a_packed_file(small: Path, tmp_path: Path) -> None:
    engraved_book = engrave_book(open_book(small))
    files = downloads(engraved_book.instrument_books, engraved_book.engravings)
    packed = next(file for file in files if file.address == "exercises/one/c/one-flute-c-5.mxl")
    (tmp_path / "one.mxl").write_bytes(packed.data)
    read = music21.converter.parse(tmp_path / "one.mxl")
    assert [each.nameWithOctave for each in read.recurse().notes]
    assert read.metadata.title == 'One "<&>" in C major'


def test_pages_link_to_the_files_that_are_written(small: Path) -> None:
    plan = instrument_books_of(open_book(small))
    links = [
        address
        for _, pages in plan[0].exercises
        for page in pages
        for placed in page.placed
        for _, address in addresses(f"exercises/{page.exercise.slug}/{page.key}/", placed)
    ]
    assert sorted(links) == sorted(
        file.address for file in downloads(plan, engrave_book(open_book(small)).engravings)
    )


def test_no_two_files_of_a_book_share_a_name() -> None:
    """The demo book, every setting and variation."""
    names = [
        stem(placed, part)
        for instrument_book in instrument_books_of(open_book(Path(__file__).parent.parent))
        for _, pages in instrument_book.exercises
        for page in pages
        for placed in page.placed
        for part in placed.parts
        if part.score
    ]
    assert len(set(names)) == len(names) > 100


def test_a_file_that_another_program_wrote_is_not_written_over(
    small: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    wish = ("--midi", "--musicxml", "--exercise", "two-tones", "--key", "Eb")
    assert export(small, out, *wish) == 0
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    # What the program has written itself it writes again, and leaves other files alone.
    (out / "notes.txt").write_text("mine")
    assert export(small, out, *wish) == 0
    edited = out / "two-tones-flute-e-flat-4.musicxml"
    edited.write_bytes(before[edited.name].replace(b"<software>Stavewright", b"<software>An editor"))
    (out / "two-tones-flute-e-flat-4.mid").write_bytes(b"")
    capsys.readouterr()
    assert export(small, out, *wish) == 2
    assert (
        f"{edited}: is not overwritten: it is not a MusicXML file of this program" in capsys.readouterr().err
    )
    assert b"An editor" in edited.read_bytes()
    assert (out / "two-tones-flute-e-flat-4.mid").read_bytes() == b"", "told before anything is written"
    edited.unlink()
    edited.symlink_to(tmp_path / "mine.doc")
    (tmp_path / "mine.doc").write_text("mine")
    assert export(small, out, *wish) == 2
    assert (tmp_path / "mine.doc").read_text() == "mine"
    edited.unlink()
    assert export(small, out, *wish) == 0
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before | {"notes.txt": b"mine"}
