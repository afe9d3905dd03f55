"""Working folders are removed by the proof of their mark, never by name or age."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import pytest

from stavewright.engrave.processes import lilypond, worker_processes
from stavewright.engrave.processes.lilypond import LilyPondServer
from stavewright.engrave.processes.worker_processes import WorkerProcess
from stavewright.jobs import folders
from stavewright.jobs.children import start_child
from stavewright.jobs.folders import TEMPORARY, WorkingFolder, remove_left_over, temporary_folder


def names(folder: Path) -> list[str]:
    """What is in a folder."""
    return sorted(path.name for path in folder.iterdir())


def killed(folder: WorkingFolder) -> Path:
    """What a process leaves that is killed: the folder and its mark, without the lock."""
    assert folder._lock is not None
    os.close(folder._lock)
    folder._held = False
    return folder.path


@pytest.fixture
def temporary(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A temporary folder of this test's own."""
    place = tmp_path / "temporary"
    place.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(place))
    return place


def stub(folder: Path) -> Path:
    """An engraver that waits for pieces and does nothing with them."""
    path = folder / "stub"
    path.write_text("#!/bin/sh\nwhile read name; do :; done\n")
    path.chmod(0o755)
    return path


@pytest.mark.skipif(sys.platform == "win32", reason="a script is no program there")
def test_an_engraver_removes_nothing_of_the_users(temporary: Path, tmp_path: Path) -> None:
    """Such as an unpacked archive of this very project, or a folder made to look like one of ours."""
    for name in ("stavewright-main", "stavewright-0123456789abcdef", "stavewright-site-x1"):
        (temporary / name).mkdir()
        (temporary / name / "only.copy").write_text("mine")
        os.utime(temporary / name, (1000, 1000))
    (temporary / "stavewright-0123456789abcdef.mark").write_text("mine")
    before = names(temporary)
    server = LilyPondServer(str(stub(tmp_path)), (), "")
    assert server.folder.parent == temporary
    assert names(temporary) == sorted([*before, server.folder.name, f"{server.folder.name}.mark"])
    server.close()
    assert names(temporary) == before
    assert (temporary / "stavewright-main" / "only.copy").read_text() == "mine"


def test_what_a_killed_process_has_left_is_removed(tmp_path: Path) -> None:
    left = killed(WorkingFolder.make(tmp_path, TEMPORARY))
    (left / "half").mkdir()
    (left / "half" / "piece.ly").write_text("x")
    gone = killed(WorkingFolder.make(tmp_path, TEMPORARY))
    gone.rmdir()
    other = killed(WorkingFolder.make(tmp_path, "other-"))
    remove_left_over(tmp_path)
    assert names(tmp_path) == [other.name, f"{other.name}.mark"]


def test_a_folder_stays_as_long_as_its_owner_lives(tmp_path: Path) -> None:
    mine = WorkingFolder.make(tmp_path, TEMPORARY)
    os.utime(mine.path, (1000, 1000))
    remove_left_over(tmp_path)
    assert mine.path.is_dir()
    code = (
        "import sys; from pathlib import Path; from stavewright.jobs.folders import WorkingFolder\n"
        "print(WorkingFolder.make(Path(sys.argv[1]), 'stavewright-').path, flush=True); sys.stdin.read()"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", code, str(tmp_path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    assert process.stdout is not None
    theirs = Path(process.stdout.readline().decode().strip())
    remove_left_over(tmp_path)
    assert theirs.is_dir()
    process.kill()
    process.communicate()
    assert theirs.is_dir()
    remove_left_over(tmp_path)
    mine.remove()
    assert names(tmp_path) == []


def _words_changed(path: Path, mark: Path) -> None:
    mark.write_text(mark.read_text() + "x")


def _words_of_another(path: Path, mark: Path) -> None:
    mark.write_text(mark.read_text().replace(path.name, "stavewright-0123456789abcdef"))


def _empty(path: Path, mark: Path) -> None:
    mark.write_text("")


def _no_mark(path: Path, mark: Path) -> None:
    mark.unlink()


def _mark_is_a_folder(path: Path, mark: Path) -> None:
    mark.unlink()
    mark.mkdir()


def _mark_is_a_link(path: Path, mark: Path) -> None:
    mark.symlink_to(mark.rename(path.parent / "elsewhere"))


def _folder_is_a_link(path: Path, mark: Path) -> None:
    path.symlink_to(path.rename(path.parent / "elsewhere"), target_is_directory=True)


def _folder_is_a_file(path: Path, mark: Path) -> None:
    (path / "file").rename(path.parent / "elsewhere")
    path.rmdir()
    (path.parent / "elsewhere").rename(path)


def _another_number(path: Path, mark: Path) -> None:
    path.rename(path.parent / "stavewright-mine")
    mark.rename(path.parent / "stavewright-mine.mark")


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
@pytest.mark.parametrize(
    "change",
    [
        _words_changed,
        _words_of_another,
        _empty,
        _no_mark,
        _mark_is_a_folder,
        _mark_is_a_link,
        _folder_is_a_link,
        _folder_is_a_file,
        _another_number,
    ],
)
def test_what_is_not_proved_is_left_alone(tmp_path: Path, change: object) -> None:
    path = killed(WorkingFolder.make(tmp_path, TEMPORARY))
    (path / "file").write_text("mine")
    assert callable(change)
    change(path, path.with_name(f"{path.name}.mark"))
    before = sorted(tmp_path.rglob("*"))
    remove_left_over(tmp_path)
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root gives files away")
@pytest.mark.parametrize("which", ["folder", "mark"])
def test_what_belongs_to_another_user_is_left_alone(tmp_path: Path, which: str) -> None:
    path = killed(WorkingFolder.make(tmp_path, TEMPORARY))
    os.chown(path if which == "folder" else path.with_name(f"{path.name}.mark"), 12345, -1)
    remove_left_over(tmp_path)
    assert path.is_dir()


def test_a_link_within_leads_to_nothing_that_is_removed(tmp_path: Path) -> None:
    (tmp_path / "users").mkdir()
    (tmp_path / "users" / "only.copy").write_text("mine")
    left = killed(WorkingFolder.make(tmp_path, TEMPORARY))
    (left / "link").symlink_to(tmp_path / "users", target_is_directory=True)
    remove_left_over(tmp_path)
    assert names(tmp_path) == ["users"]
    assert (tmp_path / "users" / "only.copy").read_text() == "mine"


def test_without_locks_there_is_no_mark(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Then nobody can know whether its owner lives, and nobody removes it but its owner."""
    monkeypatch.setattr(folders, "_locked", lambda handle: False)
    made = WorkingFolder.make(tmp_path, TEMPORARY)
    assert names(tmp_path) == [made.path.name]
    made.remove()
    assert names(tmp_path) == []


def test_where_no_folder_can_be_made_nothing_is_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(self: Path, mode: int = 0) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "mkdir", full)
    with pytest.raises(OSError, match="No space"):
        WorkingFolder.make(tmp_path, TEMPORARY)
    assert names(tmp_path) == []


@pytest.mark.skipif(sys.platform == "win32", reason="signals are Unix's")
@pytest.mark.parametrize(
    ("end", "status"), [("", 0), ("raise SystemExit(3)", 3), ("1 / 0", 1), ("os.kill(os.getpid(), 15)", 143)]
)
def test_a_process_that_ends_leaves_no_temporary_folder(tmp_path: Path, end: str, status: int) -> None:
    code = (
        "import os, time; from stavewright.jobs.folders import temporary_folder\n"
        "from stavewright.jobs.signals import heed_signals; heed_signals()\n"
        f"print(temporary_folder().path.is_dir(), flush=True)\n{end}\n"
    )
    environment = os.environ | {"TMPDIR": str(tmp_path)}
    done = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, text=True)
    assert done.stdout == "True\n"
    assert done.returncode == status
    assert names(tmp_path) == []


@pytest.mark.skipif(not hasattr(os, "fork"), reason="forking is Unix's")
def test_a_forked_process_leaves_the_folder_to_its_parent(temporary: Path) -> None:
    mine = temporary_folder()
    child = os.fork()
    if not child:
        folders._remove_all()
        os._exit(0)
    os.waitpid(child, 0)
    assert mine.path.is_dir()
    remove_left_over(temporary)
    assert mine.path.is_dir()
    mine.remove()
    assert names(temporary) == []


@pytest.mark.skipif(sys.platform == "win32", reason="signals are Unix's")
def test_a_signal_waits_until_what_must_be_done_together_is_done() -> None:
    code = (
        "import os, signal; from stavewright.jobs.signals import heed_signals, signals_held\n"
        "heed_signals()\n"
        "try:\n"
        "    with signals_held():\n"
        "        os.kill(os.getpid(), signal.SIGTERM); print('done', flush=True)\n"
        "    print('never')\n"
        "finally:\n"
        "    os.kill(os.getpid(), signal.SIGINT); print('cleaned', flush=True)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.stdout == "done\ncleaned\n"
    assert (done.returncode, done.stderr) == (128 + signal.SIGTERM, "")


def test_what_a_dying_process_still_writes_is_removed_as_well(
    temporary: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = temporary_folder()
    remove = shutil.rmtree
    tries: list[Path] = []

    def remove_too_early(path: Path, **options: bool) -> None:
        remove(path, **options)
        if not tries:
            path.mkdir()
            (path / "late.svg").touch()
        tries.append(path)

    monkeypatch.setattr(folders.shutil, "rmtree", remove_too_early)
    folder.remove()
    assert names(temporary) == []
    assert len(tries) == 2


@pytest.mark.skipif(sys.platform == "win32", reason="a script is no program there")
def test_a_signal_while_an_engraver_starts_leaves_neither_it_nor_its_folder(
    temporary: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    started: list[subprocess.Popen[bytes]] = []
    start = subprocess.Popen

    def start_and_signal(*words: Any, **options: Any) -> subprocess.Popen[bytes]:
        started.append(start(*words, **options))
        signal.raise_signal(signal.SIGTERM)
        return started[-1]

    monkeypatch.setattr(lilypond.subprocess, "Popen", start_and_signal)
    before = signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))
    try:
        with pytest.raises(SystemExit):
            LilyPondServer(str(stub(tmp_path)), (), "")
    finally:
        signal.signal(signal.SIGTERM, before)
    [process] = started
    assert process.returncode == -signal.SIGKILL
    assert names(temporary) == []


STUBBORN = """\
import signal, time
from stavewright.jobs.folders import temporary_folder

def main(source, sink):
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    folder = temporary_folder()
    sink.write(b"ready")
    sink.flush()
    time.sleep(600)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="signals are Unix's")
def test_a_worker_that_has_to_be_killed_leaves_no_folder(
    temporary: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "stubborn.py").write_text(STUBBORN)
    monkeypatch.syspath_prepend(str(tmp_path))
    monkeypatch.setenv("TMPDIR", str(temporary))
    monkeypatch.setattr(worker_processes, "_END_SECONDS", 0.1)
    monkeypatch.setattr(worker_processes, "start_child", lambda _: start_child("stubborn"))
    process = WorkerProcess()
    child = process._started()
    assert child.listen().read(5) == b"ready"
    assert len(names(temporary)) == 2
    process.close()
    assert child.process.returncode == -signal.SIGKILL
    assert names(temporary) == []
