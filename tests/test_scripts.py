"""What scripts and shells read: JSON, commands that are quiet, completion, and the hook for commits."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml

from stavewright.cache.store import CacheStore
from stavewright.cli import main
from stavewright.music.keys import KEY_SLUGS

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[1]
WriteBook = Callable[[dict[str, str | bytes]], Path]
Tiny = Callable[[str], str]


def run(*arguments: str | Path) -> int:
    """Run a command in this process; its exit status."""
    return main([str(argument) for argument in arguments])


@pytest.fixture
def checked(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, dict[str, Any]]]:
    """Checks a book for scripts: the exit status and the JSON object."""

    def check(book: Path, *options: str) -> tuple[int, dict[str, Any]]:
        status = run("check", "--json", "--book", book, *options)
        told = json.loads(capsys.readouterr().out)
        assert {"good", "problem", "exercises", "faults", "remarks", "counts"} <= set(told)
        assert told["counts"] == {"faults": len(told["faults"]), "remarks": len(told["remarks"])}
        assert told["good"] is (status == 0)
        return status, told

    return check


# -- JSON -----------------------------------------------------------------------------------------------


def test_check_writes_faults_with_their_places(
    checked: Callable[..., tuple[int, dict[str, Any]]], book: WriteBook, tiny: Tiny
) -> None:
    place = book({"one": tiny("One").replace("w D5", "w D5 x"), "two": tiny("Two").replace("home", "hom")})
    status, told = checked(place)
    assert status == 1
    assert told["exercises"] is None
    places = [(each["file"], each["line"], each["column"]) for each in told["faults"]]
    assert ("exercises/one.warmup", 5, 8) in places
    assert ("exercises/two.warmup", 3, 1) in places
    for fault in told["faults"]:
        assert set(fault) == {"file", "line", "column", "what", "mend", "source"}
        assert fault["what"] and fault["mend"]
    first = next(each for each in told["faults"] if each["file"] == "exercises/one.warmup")
    assert first["source"] == "  w D5 x"


def test_check_writes_the_faults_of_the_settings_too(
    checked: Callable[..., tuple[int, dict[str, Any]]], book: WriteBook, tiny: Tiny
) -> None:
    place = book({"one": tiny("One")})
    with (place / "mkdocs.yml").open("a") as file:
        file.write("      paper: a5\n")
    status, told = checked(place)
    assert status == 1
    [fault] = told["faults"]
    assert (fault["file"], fault["line"]) == ("mkdocs.yml", 8)


def test_check_writes_remarks_with_their_exercise(
    checked: Callable[..., tuple[int, dict[str, Any]]], book: WriteBook, tiny: Tiny
) -> None:
    private = tiny("Own").replace("rights: written for this test, public domain", "rights: private")
    status, told = checked(
        book({"own": private, "wide": tiny("Wide").replace("w D5", "h C4 C7").replace("D5 in D", "C4 in C")})
    )
    assert (status, told["exercises"], told["faults"]) == (0, 2, [])
    said = {(each["exercise"], each["file"]): each["says"] for each in reversed(told["remarks"])}
    assert said["own", "exercises/own.warmup"].startswith("left out of the site, because its rights say priv")
    wide = [each for each in told["remarks"] if each["says"].startswith("Cannot be played here")]
    assert "E flat major" in [each["setting"] for each in wide]


def test_check_without_a_book_says_the_problem(
    checked: Callable[..., tuple[int, dict[str, Any]]], tmp_path: Path
) -> None:
    status, told = checked(tmp_path)
    assert status == 1
    assert "there is no book here" in told["problem"]
    assert told["faults"] == []


def test_check_writes_what_the_book_practises(
    checked: Callable[..., tuple[int, dict[str, Any]]], book: WriteBook, tiny: Tiny
) -> None:
    status, told = checked(book({"one": tiny("One")}), "--coverage")
    assert status == 0
    flute = told["coverage"]["flute"]
    played = {row["midi"]: row["times"] for row in flute["notes"] if row["times"]}
    # One whole note in each of twelve keys.
    assert flute["pieces"] == 12 and sum(played.values()) == 12 and set(played.values()) == {1}
    assert sum(row["seconds"] for row in flute["notes"]) == pytest.approx(flute["seconds"], abs=0.01)
    assert {"name", "up", "down"} == set(flute["intervals"][0])
    assert set(flute["dynamics"][0]) == {"register", "seconds", "unwritten"}
    assert any(hole.startswith("Never played: ") for hole in flute["holes"])


def test_json_has_no_character_that_a_terminal_obeys(
    checked: Callable[..., tuple[int, dict[str, Any]]],
    book: WriteBook,
    tiny: Tiny,
    capsys: pytest.CaptureFixture[str],
) -> None:
    place = book({"one": tiny("One").replace("w D5", "w D5 é\x1b\x7f")})
    assert run("check", "--json", "--book", place) == 1
    said = capsys.readouterr().out
    assert all(" " <= character <= "~" or character == "\n" for character in said)
    assert any("\x1b\x7f" in each["source"] for each in json.loads(said)["faults"])


def test_the_cache_writes_its_size_and_what_it_forgot(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(tmp_path / "cache"))
    monkeypatch.setenv("STAVEWRIGHT_CACHE_MB", "5")
    assert CacheStore().put("0" * 64, b"ink")
    assert run("cache", "--json") == 0
    told = json.loads(capsys.readouterr().out)
    size = CacheStore().size()[1]
    assert told == {"folder": str(tmp_path / "cache"), "pieces": 1, "bytes": size, "most_bytes": 5_000_000}
    assert run("cache", "--clear", "--json") == 0
    assert json.loads(capsys.readouterr().out) == {"folder": str(tmp_path / "cache"), "forgotten": 1}


# -- quiet ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "command",
    [
        ["build", "-q"],
        ["print", "--all", "--quiet", "-o", "OUT/book.pdf"],
        ["print", "--all", "--booklet", "--quiet", "-o", "OUT/book.pdf"],
        ["export", "--midi", "--quiet", "-o", "OUT/midi"],
    ],
)
def test_a_quiet_command_says_nothing_where_all_is_well(
    command: list[str],
    book: WriteBook,
    two_keys: Tiny,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    own = two_keys("Own").replace("rights: written for this test, public domain", "rights: private")
    place = book({"one": two_keys("One"), "own": own})
    words = [word.replace("OUT", str(tmp_path)) for word in command]
    # A second time nothing has changed, which `build` has other words for.
    for _ in range(2):
        assert run(*words, "--book", place) == 0
        assert capsys.readouterr() == ("", "")
    loud = [word for word in words if word not in ("-q", "--quiet")]
    assert run(*loud, "--book", place) == 0
    assert capsys.readouterr().out


def test_a_quiet_command_tells_of_faults(
    book: WriteBook, tiny: Tiny, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = book({"one": tiny("One").replace("w D5", "w D5 x")})
    for command in (["build"], ["print", "--all", "-o", tmp_path / "book.pdf"]):
        assert run(*command, "--quiet", "--book", place) == 1
        assert "exercises/one.warmup:5:8" in capsys.readouterr().out


# -- completion -----------------------------------------------------------------------------------------


def completed(line: str, tmp_path: Path) -> set[str]:
    """What a shell offers after a line."""
    pytest.importorskip("argcomplete")
    out = tmp_path / "offered"
    asked = {
        "_ARGCOMPLETE": "1",
        "_ARGCOMPLETE_IFS": "\n",
        "_ARGCOMPLETE_STDOUT_FILENAME": str(out),
        "_ARGCOMPLETE_SUPPRESS_SPACE": "1",
        "COMP_LINE": line,
        "COMP_POINT": str(len(line)),
    }
    # A completer that takes longer than this is of no use at the Tab key.
    subprocess.run(
        [sys.executable, "-m", "stavewright"], env=os.environ | asked, cwd=tmp_path, timeout=30, check=False
    )
    return set(filter(None, out.read_text().split("\n")))


def test_a_shell_is_offered_commands_and_options(tmp_path: Path) -> None:
    assert {"init", "build", "check", "print", "doctor"} <= completed("stavewright ", tmp_path)
    assert completed("stavewright check --j", tmp_path) == {"--json"}


def test_a_shell_is_offered_the_names_of_a_book(book: WriteBook, tiny: Tiny, tmp_path: Path) -> None:
    place = book({"one": tiny("One"), "other": tiny("Other"), "two": tiny("Two")})
    line = f"stavewright print --book {place} "
    assert completed(f"{line}--exercise o", tmp_path) == {"one", "other"}
    assert completed(f"{line}--exercise two,o", tmp_path) == {"two,one", "two,other"}
    assert completed(f"{line}--key ", tmp_path) == set(KEY_SLUGS)
    assert completed(f"{line}--paper ", tmp_path) == {"a4", "letter"}
    # Without a book it offers none, and no traceback either.
    assert completed("stavewright print --exercise o", tmp_path) == set()


# -- the hook -------------------------------------------------------------------------------------------


def test_the_hook_runs_check_where_a_book_changes() -> None:
    [hook] = yaml.safe_load((ROOT / ".pre-commit-hooks.yaml").read_text(encoding="utf-8"))
    # The keys of https://pre-commit.com/#creating-new-hooks.
    assert {"id", "name", "entry", "language", "pass_filenames", "files"} <= set(hook)
    assert hook["entry"].split() == ["stavewright", "check"]
    assert hook["language"] == "python"
    # `check` looks at the whole book; names after it would be wrong use.
    assert hook["pass_filenames"] is False
    for name in ("exercises/slow-tide.warmup", "mkdocs.yml", "instruments.toml", "pages/preface.md"):
        assert re.search(hook["files"], name), name
    for name in ("README.txt", "site/index.html", "exercises/slow-tide.warmup.bak"):
        assert not re.search(hook["files"], name), name
