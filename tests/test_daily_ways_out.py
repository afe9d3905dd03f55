"""The command, the calendar file read by another library, and what is said where it cannot be done."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import vobject
from conftest import write_book

from stavewright.cli import main

EXERCISE = """\
title: Bell {title}
rights: written for a test, CC0
home: D5 in D major
tempo: quarter = 60
travel: semitones down from {first} to {last}
variations: slurred
music:
  h D5 mf q E5 D5 | w D5 p ,
"""


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("book")
    (folder / "exercises").mkdir()
    (folder / "mkdocs.yml").write_text(
        "site_name: Bells\nsite_url: https://bells.example/book/\n"
        "plugins:\n  - stavewright:\n      instruments: [flute]\n",
        encoding="utf-8",
    )
    for title, first, last in (("one", "D6", "E4"), ("b;c,d\\", "C6", "D4")):
        name = f"bell-{title[0]}.warmup"
        text = EXERCISE.format(title=title, first=first, last=last)
        (folder / "exercises" / name).write_text(text, encoding="utf-8")
    return folder


def daily(book: Path, *words: str) -> int:
    try:
        return main(["daily", "--book", str(book), *words])
    except SystemExit as left:
        return int(left.code or 0)


def entries(path: Path) -> Iterator[Any]:
    text = path.read_bytes().decode()
    # RFC 5545, 3.1: lines end with CR and LF, and hold 75 octets at the most.
    assert text.endswith("\r\n")
    assert all(len(row.encode()) <= 75 for row in text.split("\r\n"))
    assert "\n" not in text.replace("\r\n", "")
    (calendar,) = vobject.readComponents(text)
    assert calendar.version.value == "2.0"
    yield from calendar.vevent_list


def test_the_plan_as_text(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert daily(book, "--minutes", "6", "--days", "3", "--from", "2026-02-27") == 0
    said = capsys.readouterr().out
    assert [row for row in said.splitlines() if row.startswith("Day ")][2].startswith(
        "Day 3, Sunday 1 March: "
    )
    assert said.index("middle register") < said.index("low register")
    assert "[ ] Bell one, " in said
    assert "clinician" in said
    assert daily(book, "--minutes", "6", "--days", "3", "--from", "2026-02-27") == 0
    assert capsys.readouterr().out == said


def test_the_calendar_file_is_read_by_another_library(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "sets.ics"
    wish = ("--minutes", "6", "--days", "5", "--from", "2026-02-27", "--calendar", str(out))
    assert daily(book, *wish) == 0
    days = list(entries(out))
    first = date(2026, 2, 27)
    assert [event.dtstart.value for event in days] == [first + timedelta(days=n) for n in range(5)]
    assert len({event.uid.value for event in days}) == 5
    for number, event in enumerate(days, start=1):
        assert event.summary.value == f"Daily set {number} of 5: 6 min"
        assert event.url.value == "https://bells.example/book/daily/"
        assert event.dtstamp.value.replace(tzinfo=None) == datetime(2026, 2, 27)
    # Text with every sign that the format escapes comes back as it was.
    assert any("Bell b;c,d\\, " in event.description.value for event in days)
    before = out.read_bytes()
    assert daily(book, *wish) == 0
    assert out.read_bytes() == before
    assert "5 entries" in capsys.readouterr().out


def test_a_time_of_day(book: Path, tmp_path: Path) -> None:
    out = tmp_path / "sets.ics"
    wish = ("--minutes", "6", "--days", "2", "--from", "2026-02-27", "--at", "7:30")
    assert daily(book, *wish, "--calendar", str(out)) == 0
    first, second = entries(out)
    assert first.dtstart.value == datetime(2026, 2, 27, 7, 30)
    assert second.dtstart.value == datetime(2026, 2, 28, 7, 30)
    assert first.duration.value == timedelta(minutes=6)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--minutes", "0"), "--minutes 0 is out of bounds: ask for 1 to 240"),
        (("--minutes", "9", "--days", "0"), "--days 0 is out of bounds: ask for 1 to 120"),
        (("--minutes", "nine"), "invalid int value"),
        (("--days", "3"), "required: --minutes"),
        (("--minutes", "9", "--instrument", "flut"), "unknown instrument 'flut'; did you mean 'flute'?"),
        (("--minutes", "9", "--level", "begining"), "unknown ability 'begining'; did you mean 'beginning'?"),
        (("--minutes", "9", "--variations", "slured"), "unknown variation 'slured'; did you mean 'slurred'?"),
        (("--minutes", "9", "--from", "yesterday"), "'yesterday' is not a date such as 2026-02-01"),
        (("--minutes", "9", "--at", "noon"), "'noon' is not a time such as 7:30"),
        (("--minutes", "9", "--calendar", "."), "cannot be written: it is a folder"),
        (
            ("--minutes", "9", "--calendar", __file__),
            "is not overwritten: it is not a calendar; name another",
        ),
        (("--minutes", "9", "-o", __file__), "is not overwritten: it is not a PDF; name another"),
        (("--minutes", "9", "-o", "x", "--calendar", "x"), "x: is named for the pages and for the calendar"),
        (("--minutes", "1", "--days", "2"), "2 minutes a day for 2 days is enough."),
    ],
)
def test_what_cannot_be_done_is_said_plainly(
    book: Path, words: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert daily(book, *words) == 2
    assert said in capsys.readouterr().err


def test_a_book_with_nothing_for_the_player(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    high = book.parent / "high"
    (high / "exercises").mkdir(parents=True, exist_ok=True)
    (high / "mkdocs.yml").write_text((book / "mkdocs.yml").read_text(encoding="utf-8"), encoding="utf-8")
    text = EXERCISE.format(title="high", first="D6", last="D6").replace("D5", "D6").replace("E5", "E6")
    (high / "exercises" / "bell-high.warmup").write_text(text, encoding="utf-8")
    assert daily(high, "--minutes", "9", "--level", "beginner") == 2
    said = capsys.readouterr().err
    assert "no exercise that a player of this ability can play on this instrument" in said
    assert "For an intermediate player there are 2 pieces." in said


def test_coverage_on_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bell = EXERCISE.format(title="one", first="D6", last="D4")
    book = write_book(tmp_path, {"bell": bell, "lamp": bell.replace("Bell one", "Lamp")})
    assert main(["check", "--book", str(book), "--coverage"]) == 0
    said = capsys.readouterr().out
    assert "2 exercises, no faults." in said
    assert "Flute: what the book practises" in said
    # Up a whole tone and back: nothing else lies between neighbours, and nothing is louder than mf.
    assert "Between neighbouring notes never: minor second, minor third, " in said
    assert "In the low register never ppp, pp, mp, f, ff, fff." in said
    assert "No note begins like this: marcato, accented, portato, detached, " in said
