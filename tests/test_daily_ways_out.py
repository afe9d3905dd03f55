"""The command, the calendar file read by another library, and what is said where it cannot be done."""

from __future__ import annotations

import json
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
    assert "  1. Bell " in said
    assert "register (" in said
    assert "[ ] as written, then [ ] slurred" in said
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


STUDENTS = """\
student: Ada
minutes: 4
days: 2
level: beginner
opening: Bell one

student: Ben
minutes: 6
each day: slurred
leave out: bell-b
"""


def test_the_plan_as_json(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    wish = ("--minutes", "6", "--days", "2", "--from", "2026-02-28", "--json")
    assert daily(book, *wish) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["book"] == "Bells"
    assert found["instrument"] == "flute"
    assert [day["date"] for day in found["days"]] == ["2026-02-28", "2026-03-01"]
    for day in found["days"]:
        assert 0 < day["seconds"] <= 360
        for block in day["blocks"]:
            assert {"exercise", "variation", "keys", "seconds"} <= block.keys()
            assert block["exercise"] in ("bell-o", "bell-b")
    assert daily(book, *wish) == 0
    assert json.loads(capsys.readouterr().out) == found


def test_what_a_teacher_fixes_for_several_students(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    students = tmp_path / "students.txt"
    students.write_text(STUDENTS, encoding="utf-8")
    assert daily(book, "--student", str(students), "--days", "3", "--json") == 0
    ada, ben = json.loads(capsys.readouterr().out)
    assert (ada["student"], ada["minutes"], len(ada["days"]), ada["level"]) == ("Ada", 4, 2, "beginning")
    assert all(day["blocks"][0]["exercise"] == "bell-o" for day in ada["days"])
    # What the file does not say comes from the command line.
    assert (ben["student"], ben["minutes"], len(ben["days"]), ben["level"]) == ("Ben", 6, 3, "")
    for day in ben["days"]:
        assert {block["exercise"] for block in day["blocks"]} == {"bell-o"}
        assert "slurred" in {block["variation"] for block in day["blocks"]}
    assert daily(book, "--student", str(students), "--days", "3") == 0
    said = capsys.readouterr().out
    assert said.index("Ada:\nDay 1") < said.index("Ben:\nDay 1")
    calendar = tmp_path / "both.ics"
    wish = ("--days", "3", "--from", "2026-02-27", "--calendar", str(calendar))
    assert daily(book, "--student", str(students), *wish) == 0
    names = [event.summary.value for event in entries(calendar)]
    assert names[0] == "Ada: daily set 1 of 2: 4 min"
    assert names[-1] == "Ben: daily set 3 of 3: 6 min"


def test_a_students_file_with_faults(book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    students = tmp_path / "students.txt"
    students.write_text("student: Ada\nminutes: 10\nopening: Bell won\n", encoding="utf-8")
    assert daily(book, "--student", str(students)) == 1
    said = capsys.readouterr().out
    assert "students.txt:3:10: unknown exercise 'Bell won'; did you mean 'bell one'?" in said
    assert daily(book, "--student", str(tmp_path / "none.txt")) == 2
    assert "none.txt: cannot be read: No such file" in capsys.readouterr().err
    students.write_text("student: Ada\n", encoding="utf-8")
    assert daily(book, "--student", str(students)) == 2
    assert "give --minutes N, or `minutes: N`" in capsys.readouterr().err


def test_a_students_promise_that_cannot_be_kept(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    students = tmp_path / "students.txt"
    students.write_text("student: Ada\nstudent: Ben\n", encoding="utf-8")
    assert daily(book, "--student", str(students), "--minutes", "2", "--days", "1", "--every-key") == 2
    said = capsys.readouterr().err
    assert said.startswith("Ada: No plan was found in which 2 minutes a day for 1 day hold all")
    assert "2 minutes a day for " in said


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--minutes", "0"), "--minutes 0 is out of bounds: ask for 1 to 240"),
        (("--minutes", "9", "--days", "0"), "--days 0 is out of bounds: ask for 1 to 120"),
        (("--minutes", "nine"), "invalid int value"),
        (("--days", "3"), "how long is a day? give --minutes N"),
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
        (("--minutes", "9", "--student", "none.txt"), "none.txt: cannot be read: No such file"),
        (
            ("--minutes", "1", "--days", "2", "--every-key"),
            "1 minute a day for 2 days hold all that is asked",
        ),
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
