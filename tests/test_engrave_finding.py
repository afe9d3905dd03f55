"""Which program is taken for the engraver, what it is asked before a book, and what it sees of the user."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from threading import local

import pytest

from stavewright.cache.store import CacheStore
from stavewright.engrave import judging
from stavewright.engrave.piece import Engraved, Piece
from stavewright.engrave.processes import finding
from stavewright.engrave.processes import lilypond as engine
from stavewright.engrave.processes import worker as worker_module
from stavewright.engrave.processes.finding import find_engraver
from stavewright.engrave.processes.lilypond import EngraverAtFault, EngraverMissing
from stavewright.engrave.processes.scheduler import engrave_list
from stavewright.engrave.processes.worker import Worker

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="a script is no program there")

REAL = find_engraver().path
SOUND = Piece("sound", "\\score { \\new Staff { c'1 } }\n")

WriteEngraver = Callable[[str], Path]


@pytest.fixture(autouse=True)
def own_notes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Nothing is remembered from elsewhere, nor kept for others."""
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(tmp_path / "pieces"))
    # The engraver that this process has at work stays out of it.
    monkeypatch.setattr(worker_module, "_mine", mine := local())
    find_engraver.cache_clear()
    yield
    if hasattr(mine, "worker"):
        mine.worker.close()
    find_engraver.cache_clear()


@pytest.fixture
def engraver(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> WriteEngraver:
    """Writes a program of a few lines of shell, and names it as the engraver. `$REAL` is a good one."""

    def write(lines: str) -> Path:
        path = tmp_path / "bin" / "engraver"
        path.parent.mkdir(exist_ok=True)
        path.write_text(f"#!/bin/sh\nREAL={REAL}\n{lines}\n")
        path.chmod(0o755)
        monkeypatch.setenv("STAVEWRIGHT_LILYPOND", str(path))
        find_engraver.cache_clear()
        return path

    return write


def test_only_folders_named_in_full_are_looked_at_for_an_engraver(
    engraver: WriteEngraver, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = engraver('exec "$REAL" "$@"').rename(tmp_path / "bin" / "lilypond")
    monkeypatch.chdir(path.parent)
    monkeypatch.delenv("STAVEWRIGHT_LILYPOND")
    for folders in ("", ".", "./", "../bin", ":/nowhere:", "/nowhere::."):
        monkeypatch.setenv("PATH", folders)
        assert str(path) not in finding._candidates()
        assert all(Path(found).is_absolute() for found in finding._candidates())
    monkeypatch.setenv("PATH", os.pathsep.join([".", str(path.parent)]))
    assert finding._candidates()[-1] == str(path)


def test_an_engraver_may_be_named_from_where_one_stands(
    engraver: WriteEngraver, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = engraver('exec "$REAL" "$@"')
    monkeypatch.chdir(path.parent.parent)
    monkeypatch.setenv("STAVEWRIGHT_LILYPOND", "bin/engraver")
    found = find_engraver()
    assert found.path == str(path)
    worker = Worker(found)
    assert isinstance(next(worker.engrave([SOUND])), Engraved)
    worker.close()


def test_a_bare_name_is_looked_for_on_the_path_only(
    engraver: WriteEngraver, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = engraver('exec "$REAL" "$@"')
    monkeypatch.chdir(path.parent)
    monkeypatch.setenv("STAVEWRIGHT_LILYPOND", "engraver")
    monkeypatch.setenv("PATH", ".")
    with pytest.raises(
        EngraverMissing, match="names engraver, which is in no folder of PATH; give its whole"
    ):
        find_engraver()
    monkeypatch.setenv("PATH", str(path.parent))
    assert finding._candidates() == [str(path)]


def test_an_engraver_sees_nothing_of_the_working_folder(
    engraver: WriteEngraver, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither when it is asked for its version, nor at work."""
    told = tmp_path / "told"
    engraver(f'for line in "$PWD" "$(env)"; do echo "$line" >>{told}; done\nexec "$REAL" "$@"')
    here = tmp_path / "here"
    here.mkdir()
    monkeypatch.chdir(here)
    hidden = {
        "GUILE_LOAD_PATH": f"{here}/guile",
        "LILYPOND_DATADIR": f"{here}/data",
        "XDG_CONFIG_HOME": f"{here}/config",
        "HOME": str(here),
        "FONTCONFIG_FILE": "fonts.conf",
    }
    for name, value in hidden.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setenv("PATH", os.pathsep.join(["", ".", "bin", os.environ["PATH"], ""]))
    find_engraver()
    rows = told.read_text().splitlines()
    assert str(here) not in told.read_text()
    assert {row.partition("=")[0] for row in rows} & hidden.keys() == {"HOME"}
    paths = [row.removeprefix("PATH=") for row in rows if row.startswith("PATH=")]
    assert len(paths) == 2
    assert all(Path(folder).is_absolute() for path in paths for folder in path.split(os.pathsep))


VERSION = "case $1 in --version) echo GNU LilyPond 2.24.3; exit;; esac\n"


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ("echo 'GNU LilyPond 2.22.1 (running Guile 2.2)'", "it is LilyPond 2.22.1, which is too old"),
        ("echo GNU LilyPond 1.99", "it is LilyPond 1.99, which is too old"),
        ("echo hello", "it says 'hello'; LilyPond does not"),
        ("exit 1", "it says no version"),
        ("yes", "it says 'y'; LilyPond does not"),
        ("cat /dev/zero", "LilyPond does not"),
        (f"{VERSION} touch ask.svg", "LilyPond 2.24.3 fails on a small piece: it ended with status 0"),
        (f"{VERSION} exit 3", "LilyPond 2.24.3 fails on a small piece: it ended with status 3"),
        (f"{VERSION} echo 'error: no fonts' >&2; exit 1", "fails on a small piece: error: no fonts"),
        (f"{VERSION} exec yes babble >&2", "it was stopped, because it wrote too much: 'babble'"),
        (f"{VERSION} exec cat /dev/zero >&2", "it was stopped, because it wrote too much"),
    ],
)
def test_an_engraver_that_cannot_do_its_work_is_told_of_before_a_book(
    lines: str, said: str, engraver: WriteEngraver
) -> None:
    path = engraver(lines)
    with pytest.raises(EngraverMissing) as told:
        find_engraver()
    assert f"{path}: " in str(told.value)
    assert said in str(told.value)
    assert "pip install 'lilypond" in str(told.value)
    # It may be mended without another date.
    assert not (CacheStore().place / "engraver.json").exists()


def test_an_engraver_that_never_answers_is_not_waited_for(
    engraver: WriteEngraver, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(engine, "SECONDS", 1)
    monkeypatch.setattr(finding, "SECONDS", 1)
    monkeypatch.setattr(engine, "_WATCH", 0.05)
    for lines, said in (
        ("sleep 600", "says no version"),
        (f"{VERSION} sleep 600", "stopped after 1 seconds"),
    ):
        engraver(lines)
        with pytest.raises(EngraverMissing, match=said):
            find_engraver()


def test_what_was_learned_is_remembered_until_the_file_or_the_builder_changes(
    engraver: WriteEngraver, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    runs = tmp_path / "runs"
    lines = f'echo >>{runs}\nexec "$REAL" "$@"'
    path = engraver(lines)

    def asked() -> bool:
        runs.write_text("")
        find_engraver.cache_clear()
        assert find_engraver().path == str(path)
        return runs.read_text() != ""

    assert [asked(), asked()] == [True, False]
    engraver(f"{lines} # another")
    assert [asked(), asked()] == [True, False]
    monkeypatch.setattr("stavewright.engrave.piece.code", lambda: "another version")
    assert [asked(), asked()] == [True, False]


def test_an_engraver_without_cairo_is_used_and_what_it_costs_is_said(
    engraver: WriteEngraver, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    path = engraver('case "$*" in *cairo*) echo no such back end >&2; exit 1;; esac\nexec "$REAL" "$@"')
    judging.warn_of_slow_engraver.cache_clear()
    assert not find_engraver().cairo
    [made] = engrave_list([SOUND], cache=CacheStore(tmp_path / "own"))
    assert isinstance(made, Engraved)
    [said] = caplog.messages
    assert said.startswith(f"{path} is built without Cairo, so that engraving takes about ten times as long")
    # Where nothing is engraved, nothing is said.
    caplog.clear()
    judging.warn_of_slow_engraver.cache_clear()
    assert engrave_list([SOUND], cache=CacheStore(tmp_path / "own")) == [made]
    assert caplog.messages == []


def test_a_full_temporary_folder_is_no_fault_of_an_engraver(
    engraver: WriteEngraver, monkeypatch: pytest.MonkeyPatch
) -> None:
    engraver(f"{VERSION} exit 3")
    monkeypatch.setattr(engine, "_NO_ROOM", 10**18)
    with pytest.raises(EngraverAtFault, match=r"the temporary folder .* is full; make room there, or name"):
        find_engraver()
