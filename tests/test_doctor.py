"""`stavewright doctor`: it finds what is missing, names the command that mends it, and says so to scripts."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from importlib import metadata
from pathlib import Path
from typing import Any

import pytest
from packaging.requirements import Requirement

from stavewright.cli import doctor as module
from stavewright.cli import main
from stavewright.engrave import faces
from stavewright.engrave.processes.finding import find_engraver

# Engravers are asked for their version.
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="a script is no program there"),
]

REAL = find_engraver().path

WriteEngraver = Callable[[str], Path]
Doctor = Callable[..., tuple[int, dict[str, dict[str, Any]]]]


@pytest.fixture(autouse=True)
def own_notes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Nothing is remembered from elsewhere, nor kept for others."""
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(tmp_path / "cache"))
    find_engraver.cache_clear()
    yield
    find_engraver.cache_clear()


@pytest.fixture
def engraver(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> WriteEngraver:
    """Writes a program of a few lines of shell and names it as the engraver."""

    def write(lines: str) -> Path:
        path = tmp_path / "engraver"
        path.write_text(f"#!/bin/sh\n{lines}\n")
        path.chmod(0o755)
        monkeypatch.setenv("STAVEWRIGHT_LILYPOND", str(path))
        return path

    return write


@pytest.fixture
def doctor(capsys: pytest.CaptureFixture[str]) -> Doctor:
    """Runs the command for scripts: its exit status, and its checks by name."""

    def run(*options: str | Path) -> tuple[int, dict[str, dict[str, Any]]]:
        status = main(["doctor", "--json", *map(str, options)])
        told = json.loads(capsys.readouterr().out)
        assert told["good"] is (status == 0)
        assert told["stavewright"] == metadata.version("stavewright")
        for check in told["checks"]:
            assert set(check) == {"name", "status", "says", "mend", "facts"}
            assert check["status"] in ("good", "optional", "missing")
            assert check["status"] != "missing" or check["mend"], check
        return status, {check["name"]: check for check in told["checks"]}

    return run


def test_all_is_well_with_a_book(
    doctor: Doctor, book: Callable[[dict[str, str]], Path], tiny: Callable[[str], str]
) -> None:
    place = book({"one": tiny("One"), "two": tiny("Two")})
    status, checks = doctor("--book", place)
    assert status == 0
    needed = {name: each["status"] for name, each in checks.items() if name not in module.EXTRAS}
    names = ("program", "python", "packages", "engraver", "cache", "temporary", "book", "exercises")
    assert needed == dict.fromkeys(names, "good")
    assert checks["engraver"]["facts"]["path"] == REAL
    assert checks["engraver"]["facts"]["version"] in checks["engraver"]["says"]
    assert checks["exercises"]["facts"] == {
        "folder": str(place / "exercises"),
        "count": 2,
        "pages": str(place / "pages"),
    }
    assert checks["cache"]["facts"]["pieces"] == 0


def test_it_engraves_only_when_asked(doctor: Doctor, engraver: WriteEngraver, tmp_path: Path) -> None:
    engraver(f'echo "$@" >> {tmp_path}/calls; exec {REAL} "$@"')
    _, checks = doctor()
    assert (tmp_path / "calls").read_text() == "--version\n"
    assert checks["engraver"]["status"] == "good"
    assert checks["engraver"]["facts"]["cairo"] is None
    assert not (tmp_path / "cache" / "engraver.json").exists()
    _, checks = doctor("--try")
    assert "server.ly" in (tmp_path / "calls").read_text()
    assert checks["engraver"]["facts"]["cairo"] is find_engraver().cairo
    assert "it has engraved a small piece" in checks["engraver"]["says"]


def test_an_engraver_that_is_not_there(
    doctor: Doctor, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("STAVEWRIGHT_LILYPOND", str(tmp_path / "nothing"))
    status, checks = doctor()
    assert status == 1
    assert checks["engraver"]["status"] == "missing"
    assert f"{tmp_path}/nothing: No such file" in checks["engraver"]["says"]
    assert checks["engraver"]["mend"] == "unset STAVEWRIGHT_LILYPOND"


def test_no_engraver_at_all(doctor: Doctor, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("STAVEWRIGHT_LILYPOND", raising=False)
    monkeypatch.setitem(sys.modules, "lilypond", None)
    monkeypatch.setenv("PATH", "/nowhere")
    monkeypatch.setattr(module.platform, "machine", lambda: "x86_64")
    status, checks = doctor()
    assert status == 1
    assert checks["engraver"]["says"] == "no LilyPond was found"
    assert checks["engraver"]["mend"].startswith(sys.executable)
    assert checks["engraver"]["mend"].endswith("-m pip install 'lilypond>=2.24,<2.25'")
    # Where pip has no engraver, the system's own installer is named.
    monkeypatch.setattr(module.platform, "machine", lambda: "aarch64")
    _, checks = doctor()
    assert "pip" not in checks["engraver"]["mend"]


def test_an_engraver_that_is_too_old(doctor: Doctor, engraver: WriteEngraver) -> None:
    path = engraver('echo "GNU LilyPond 2.22.1 (running Guile 2.2)"')
    status, checks = doctor()
    assert status == 1
    assert checks["engraver"]["says"] == f"{path}: it is LilyPond 2.22.1, which is too old"


def test_an_engraver_without_cairo_is_slow_but_no_fault(
    doctor: Doctor,
    engraver: WriteEngraver,
    book: Callable[[dict[str, str]], Path],
    tiny: Callable[[str], str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(faces, "find_on_path", lambda name: None)
    faces.find_face_file.cache_clear()
    engraver(f'case "$*" in *cairo*) exit 1;; esac; exec {REAL} "$@"')
    status, checks = doctor("--try", "--book", book({"one": tiny("One")}))
    assert status == 0
    assert checks["engraver"]["status"] == "optional"
    assert checks["engraver"]["facts"]["cairo"] is False
    assert "ten times as long" in checks["engraver"]["says"]
    # This engraver is a script somewhere, and no face lies beside it.
    assert "C059 was not found" in checks["engraver"]["says"]


def test_an_engraver_that_cannot_engrave_is_found_by_trying(doctor: Doctor, engraver: WriteEngraver) -> None:
    engraver('[ "$1" = --version ] && echo "GNU LilyPond 2.24.3 (running Guile 2.2)"')
    assert doctor()[1]["engraver"]["status"] == "good"
    status, checks = doctor("--try")
    assert status == 1
    assert "fails on a small piece" in checks["engraver"]["says"]


def test_a_folder_without_a_book(tmp_path: Path, doctor: Doctor, capsys: pytest.CaptureFixture[str]) -> None:
    status, checks = doctor("--book", tmp_path)
    assert status == 1
    assert checks["book"]["status"] == "missing"
    assert checks["book"]["mend"] == "stavewright init"
    assert "exercises" not in checks
    assert main(["doctor", "--book", str(tmp_path)]) == 1
    said = capsys.readouterr().out
    assert f"{tmp_path}/mkdocs.yml: there is no book here" in said
    assert said.endswith("\n1 thing to mend.\n")


def test_a_book_whose_exercises_are_not_there(doctor: Doctor, book: Callable[[dict[str, str]], Path]) -> None:
    status, checks = doctor("--book", book({}))
    assert status == 1
    assert checks["book"]["status"] == "good"
    assert checks["exercises"]["mend"] == "stavewright new evening-bell"


def test_settings_that_cannot_be_read(tmp_path: Path, doctor: Doctor) -> None:
    (tmp_path / "mkdocs.yml").write_text("site_name: [\n")
    status, checks = doctor("--book", tmp_path)
    assert status == 1
    assert "mkdocs.yml:2:1" in checks["book"]["says"]
    assert checks["book"]["mend"] == "stavewright check"


def test_a_cache_that_cannot_be_written(
    doctor: Doctor, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("no folder")
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(tmp_path / "file" / "cache"))
    status, checks = doctor()
    assert status == 1
    assert checks["cache"]["says"].startswith(f"{tmp_path}/file/cache cannot be written (")
    assert checks["cache"]["mend"] == 'export STAVEWRIGHT_CACHE="$HOME/stavewright-cache"'


def test_a_cache_that_others_can_write(doctor: Doctor, tmp_path: Path) -> None:
    (tmp_path / "cache").mkdir()
    (tmp_path / "cache" / "theirs").touch()
    (tmp_path / "cache").chmod(0o777)
    status, checks = doctor()
    assert status == 1
    assert "others can write in the cache" in checks["cache"]["says"]


def test_a_bound_of_the_cache_that_is_no_number(doctor: Doctor, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("STAVEWRIGHT_CACHE_MB", "much")
    status, checks = doctor()
    assert status == 1
    assert checks["cache"]["mend"] == "unset STAVEWRIGHT_CACHE_MB"


def test_packages_that_are_missing_or_too_old(doctor: Doctor, monkeypatch: pytest.MonkeyPatch) -> None:
    there = metadata.version

    def version(name: str) -> str:
        if name == "abjad":
            return "3.4"
        if name in ("mido", "ortools"):
            raise metadata.PackageNotFoundError(name)
        return there(name)

    monkeypatch.setattr(module, "version", version)
    status, checks = doctor()
    assert status == 1
    said = checks["packages"]["says"]
    assert "abjad 3.4, not " in said and "mido is not installed" in said and "pikepdf" not in said
    assert " -m pip install 'abjad" in checks["packages"]["mend"]
    assert checks["daily"]["status"] == "optional"
    assert checks["daily"]["mend"].endswith(" -m pip install 'stavewright[daily]'")


def test_it_works_where_a_package_cannot_be_loaded(doctor: Doctor, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "stavewright.book.read", None)
    status, checks = doctor()
    assert status == 1
    assert checks["book"]["status"] == "missing"
    assert checks["cache"]["status"] == "good"


def test_every_extra_has_a_purpose() -> None:
    extras = {
        extra for extra in metadata.metadata("stavewright").get_all("Provides-Extra") or () if extra != "test"
    }
    assert extras <= set(module.EXTRAS)
    wheel = next(each for each in metadata.requires("stavewright") or () if each.startswith("lilypond"))
    assert Requirement(module.ENGRAVER).specifier == Requirement(wheel).specifier
