"""Time and breath in a book: the option, what `check` says, and the words on the pages."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import pytest

from stavewright.book.durations import BookTimes, about_words, seconds_words, span_words
from stavewright.book.pieces import InstrumentBook, instrument_books_of
from stavewright.book.read import open_book
from stavewright.cache.store import CacheStore
from stavewright.cli import main
from stavewright.language.faults import BookFaults
from stavewright.music.sounding.timing import Length, total

Write = Callable[[dict[str, str | bytes]], Path]

LONG = """\
title: Long line
rights: public domain
home: D5 in D major
tempo: quarter = 50 to 60
variations: slurred
music:
  w D5 | w E5 | w D5 , | w E5
"""


def with_option(folder: Path, row: str) -> Path:
    config = folder / "mkdocs.yml"
    config.write_text(config.read_text() + f"      {row}\n")
    return folder


def test_check_says_which_breaths_are_long_and_stays_content(
    book: Write, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = with_option(book({"long-line": LONG}), "breath_seconds: 13")
    assert main(["check", "--book", str(folder)]) == 0
    said = capsys.readouterr().out
    assert (
        "long-line (as written, slurred): from bar 1 on there are 14 seconds without a breath "
        "at quarter = 50; from quarter = 56 on they stay within 13.\n"
    ) in said
    assert said.endswith("1 exercise, no faults.\n")


def test_a_breath_that_no_tempo_of_the_range_shortens(
    book: Write, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = with_option(book({"long-line": LONG}), "breath_seconds: 8.5")
    assert main(["check", "--book", str(folder)]) == 0
    assert (
        "and more than 8.5 at every tempo of its range; take a breath on the way." in capsys.readouterr().out
    )


def test_within_the_limit_nothing_is_said(book: Write, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--book", str(book({"long-line": LONG}))]) == 0
    assert "breath" not in capsys.readouterr().out


@pytest.mark.parametrize("given", ["0", "-3", "soon", "121", ".nan", "true", "[12]"])
def test_a_limit_that_is_no_length_of_a_breath(book: Write, given: str) -> None:
    folder = with_option(book({"long-line": LONG}), f"breath_seconds: {given}")
    with pytest.raises(BookFaults, match="give seconds from 1 to 120, such as 16"):
        open_book(folder)


def only_shelf(folder: Path) -> InstrumentBook:
    (found,) = instrument_books_of(open_book(folder))
    return found


def test_a_page_has_the_total_of_its_pieces(book: Write) -> None:
    """Twice (as written, slurred) 16 quarters: at 60 a minute 32 seconds, at 50 38.4."""
    instrument_book = only_shelf(book({"long-line": LONG}))
    (_, pages), *_ = instrument_book.exercises
    times = BookTimes(16)
    assert times.total(pages[:1]) == "32 to 38 seconds"
    assert times.total(pages[:1], as_written=True) == "16 to 19 seconds"
    assert times.total([]) == ""
    scores = [part.score for placed in pages[0].placed for part in placed.parts if part.score]
    assert total(scores) == Length(Fraction(32), Fraction(192, 5))


@pytest.mark.exhaustive
def test_a_time_is_the_same_in_every_key_of_the_demo_book() -> None:
    """What `BookTimes` takes for granted: a key changes no length and no breath."""
    for instrument_book in instrument_books_of(open_book(Path(__file__).parent.parent)):
        times = BookTimes(16)
        for _, pages in instrument_book.exercises:
            for page in pages:
                for placed in page.placed:
                    for part in placed.parts:
                        assert times.of(placed, part) == BookTimes(16).of(placed, part)


def test_a_time_that_is_kept_is_not_reckoned_again(
    book: Write, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    instrument_book = only_shelf(book({"long-line": LONG}))
    ((_, (page, *_)), *_) = instrument_book.exercises
    placed = page.placed[0]
    kept = CacheStore(tmp_path / "kept")
    plain = [BookTimes(12).of(placed, part) for part in placed.parts]
    assert [BookTimes(12, kept).of(placed, part) for part in placed.parts] == plain
    shorter = BookTimes(4, kept).cautions(placed)
    monkeypatch.setattr("stavewright.book.durations.timing", None)
    assert [BookTimes(12, kept).of(placed, part) for part in placed.parts] == plain
    assert BookTimes(4, kept).cautions(placed) == shorter != BookTimes(12, kept).cautions(placed)


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0.2, "1 second"),
        (1, "1 second"),
        (59.6, "60 seconds"),
        (119, "119 seconds"),
        (125, "2 minutes 5 seconds"),
    ],
)
def test_seconds_in_words(seconds: float, said: str) -> None:
    assert seconds_words(seconds) == said


@pytest.mark.parametrize(
    ("low", "high", "exactly", "about"),
    [
        (13, 16, "13 to 16 seconds", "13 to 16 seconds"),
        (15.6, 16, "16 seconds", "16 seconds"),
        (1, 3, "1 to 3 seconds", "1 to 3 seconds"),
        (100, 120, "100 seconds to 2 minutes", "1½ to 2 minutes"),
        (240, 330, "4 minutes to 5 minutes 30 seconds", "4 to 5½ minutes"),
        (239, 241, "3 minutes 59 seconds to 4 minutes 1 second", "4 minutes"),
        (40, 130, "40 seconds to 2 minutes 10 seconds", "½ to 2 minutes"),
    ],
)
def test_ranges_in_words(low: float, high: float, exactly: str, about: str) -> None:
    length = Length(Fraction(low), Fraction(high))
    assert span_words(length) == exactly
    assert about_words(length) == about
