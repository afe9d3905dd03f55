"""What other systems do in another way, simulated here: their processes, pipes, names and line ends.

Sources: Python's own library knows of EINVAL on a closed pipe (`subprocess.Popen._stdin_write`); the names
that Windows reserves are those of "Naming Files, Paths, and Namespaces" (from memory).
"""

from __future__ import annotations

import errno
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from stavewright.book.read import open_book
from stavewright.cli import doctor
from stavewright.cli.door import through_door
from stavewright.cli.saying import OutputLost
from stavewright.engrave.processes import finding
from stavewright.jobs import systems
from stavewright.language.read import SUFFIX, read, slug_of
from stavewright.site.files.service_worker import write_listing

WriteBook = Callable[[dict[str, str | bytes]], Path]
Tiny = Callable[[str], str]
ROOT = Path(__file__).parents[1]


@pytest.fixture
def windows(monkeypatch: pytest.MonkeyPatch) -> None:
    """Python says that this is Windows, and `subprocess` has the name that it has there."""
    monkeypatch.setattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0x200, raising=False)
    monkeypatch.setattr(sys, "platform", "win32")


def test_a_key_meant_for_the_builder_reaches_no_process_of_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    assert systems.own_session() == {"start_new_session": True}
    monkeypatch.setattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0x200, raising=False)
    monkeypatch.setattr(sys, "platform", "win32")
    assert systems.own_session() == {"creationflags": 0x200}


class Process:
    """A process that notes what ends it."""

    pid = -1

    def __init__(self) -> None:
        self.killed = 0

    def kill(self) -> None:
        self.killed += 1


def test_a_process_is_ended_where_there_are_no_groups(windows: None) -> None:
    process = Process()
    systems.kill_session(process)  # type: ignore[arg-type]
    assert process.killed == 1


def test_a_closed_pipe_is_known_by_either_word(monkeypatch: pytest.MonkeyPatch) -> None:
    other = OSError(errno.EINVAL, "Invalid argument")
    assert systems.is_closed_pipe(BrokenPipeError())
    assert not systems.is_closed_pipe(other)
    monkeypatch.setattr(sys, "platform", "win32")
    assert systems.is_closed_pipe(other)
    assert not systems.is_closed_pipe(OSError(errno.ENOSPC, "No space left on device"))


def test_who_reads_no_further_hears_no_more_there_either(
    windows: None, capsys: pytest.CaptureFixture[str]
) -> None:
    def lose() -> int:
        raise OutputLost from OSError(errno.EINVAL, "Invalid argument")

    assert through_door(lose) == 1
    assert capsys.readouterr() == ("", "")


@pytest.mark.parametrize("refusals", [1, 3, 9])
def test_a_file_that_is_open_for_a_moment_is_renamed_all_the_same(
    windows: None, refusals: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real, waited = Path.replace, list[float]()

    def busy(source: Path, to: Path) -> Path:
        if len(waited) < refusals:
            raise PermissionError(errno.EACCES, "The process cannot access the file", str(source))
        return real(source, to)

    monkeypatch.setattr(Path, "replace", busy)
    monkeypatch.setattr(systems.time, "sleep", waited.append)
    (tmp_path / "fresh").write_text("new")
    (tmp_path / "there").write_text("old")
    if refusals == 9:
        with pytest.raises(PermissionError):
            systems.rename(tmp_path / "fresh", tmp_path / "there")
        assert sum(waited) < 2
    else:
        systems.rename(tmp_path / "fresh", tmp_path / "there")
        assert len(waited) == refusals
        assert (tmp_path / "there").read_text() == "new" and not (tmp_path / "fresh").exists()


def test_elsewhere_what_is_refused_is_refused_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(source: Path, to: Path) -> Path:
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(Path, "replace", refuse)
    monkeypatch.setattr(systems.time, "sleep", lambda seconds: pytest.fail("it waited"))
    with pytest.raises(PermissionError):
        systems.rename(tmp_path / "one", tmp_path / "two")


def test_a_program_may_be_named_without_its_suffix(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, windows: None
) -> None:
    monkeypatch.setenv("STAVEWRIGHT_LILYPOND", str(tmp_path / "bin" / "lilypond"))
    assert finding._candidates() == [str(tmp_path / "bin" / "lilypond.exe")]
    monkeypatch.setenv("STAVEWRIGHT_LILYPOND", str(tmp_path / "bin" / "lilypond.exe"))
    assert finding._candidates() == [str(tmp_path / "bin" / "lilypond.exe")]


# -- how to get the engraver ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("system", "machine", "mend"),
    [
        ("linux", "x86_64", "/bin/python -m pip install 'lilypond>=2.24,<2.25'"),
        ("darwin", "x86_64", "/bin/python -m pip install 'lilypond>=2.24,<2.25'"),
        ("darwin", "arm64", "brew install lilypond"),
        ("win32", "AMD64", '/bin/python -m pip install "lilypond>=2.24,<2.25"'),
        (
            "win32",
            "ARM64",
            "download LilyPond from https://lilypond.org, and put its folder `bin` on the path",
        ),
    ],
)
def test_each_system_is_told_its_own_way_to_the_engraver(
    system: str, machine: str, mend: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("STAVEWRIGHT_LILYPOND", raising=False)
    monkeypatch.setattr(sys, "platform", system)
    monkeypatch.setattr(sys, "executable", "/bin/python")
    monkeypatch.setattr(doctor.platform, "machine", lambda: machine)
    assert doctor._engraver_mend().startswith(mend)


@pytest.mark.parametrize(
    ("there", "mend"),
    [
        ("apt-get", "sudo apt-get install lilypond"),
        ("dnf", "sudo dnf install lilypond"),
        ("pacman", "sudo pacman -S lilypond"),
        ("", "install LilyPond 2.24 or later"),
    ],
)
def test_linux_is_told_by_its_own_installer(there: str, mend: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("STAVEWRIGHT_LILYPOND", raising=False)
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr(doctor.platform, "machine", lambda: "aarch64")
    monkeypatch.setattr(shutil, "which", lambda name: f"/usr/bin/{name}" if name == there else None)
    assert doctor._engraver_mend() == mend


def test_powershell_runs_a_program_in_a_folder_with_a_space(
    windows: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "executable", r"C:\Users\Anna Berg\book\Scripts\python.exe")
    said = doctor._pip("stavewright[daily]")
    assert said == r'& "C:\Users\Anna Berg\book\Scripts\python.exe" -m pip install "stavewright[daily]"'
    assert doctor._unset("STAVEWRIGHT_CACHE_MB") == "Remove-Item Env:STAVEWRIGHT_CACHE_MB"


# -- files -----------------------------------------------------------------------------------------------


def test_line_ends_of_windows_make_the_same_book(book: WriteBook, tiny: Tiny) -> None:
    text = tiny("One").replace("music:", "attend:\n  - the air first\n  - no\n    hurry\nmusic:")
    one = read(f"one{SUFFIX}", text.encode())
    other = read(f"one{SUFFIX}", text.replace("\n", "\r\n").encode())
    assert one.exercise and other.exercise == one.exercise
    place = book({"one": text.replace("\n", "\r\n").encode()})
    config = place / "mkdocs.yml"
    config.write_bytes(config.read_bytes().replace(b"\n", b"\r\n"))
    assert [exercise.title for exercise in open_book(place).exercises] == ["One"]


@pytest.mark.parametrize(
    "name", ["con", "nul", "aux", "prn", "com1", "lpt9", "Slow-tide", "slow tide", "tide."]
)
def test_no_exercise_has_a_name_that_another_system_refuses_or_takes_for_another(name: str) -> None:
    with pytest.raises(ValueError):
        slug_of(name + SUFFIX)


def test_the_listing_of_a_site_has_the_same_line_ends_everywhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[object] = []
    real = Path.write_text

    def noted(self: Path, data: str, *rest: object, **named: object) -> int:
        told.append(named.get("newline"))
        return real(self, data, *rest, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(Path, "write_text", noted)
    (tmp_path / "index.html").write_bytes(b"<!doctype html>")
    write_listing(tmp_path)
    assert told == ["\n"]


def test_git_gives_every_system_the_same_bytes() -> None:
    lines = (ROOT / ".gitattributes").read_text(encoding="utf-8").splitlines()
    assert "* text=auto eol=lf" in lines
