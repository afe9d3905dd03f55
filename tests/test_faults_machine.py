"""A machine that fails: full and read-only disks, old caches, clocks, builds at once.

The published folder is always the old whole site or the new one.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from made_site import keep_language
from two_versions import Made, alone, build, cache, content, made, site

from stavewright.cache import store as cache_module
from stavewright.cache.store import CacheStore
from stavewright.cli import main
from stavewright.engrave.piece import Engraved, Failure, Piece
from stavewright.engrave.processes.worker import Worker
from stavewright.jobs.folders import WorkingFolder

__all__ = ["cache", "made", "site"]


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Callable[[int], Path]]:
    """Mounts a small disk of so many bytes, where this user may."""
    mounted: list[Path] = []

    def mount(size: int) -> Path:
        place = tmp_path / f"disk{len(mounted)}"
        place.mkdir()
        command = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place)]
        if sys.platform != "linux" or subprocess.run(command, capture_output=True).returncode:
            pytest.skip("no disk can be mounted here")
        mounted.append(place)
        return place

    yield mount
    for place in mounted:
        subprocess.run(["umount", "-l", str(place)], check=True)


# Disks that are full.


def test_a_disk_too_full_for_the_new_site_keeps_the_old_one(
    made: Made, cache: Path, disk: Callable[[int], Path], capsys: pytest.CaptureFixture[str]
) -> None:
    # By whole pages of memory, as such a disk counts.
    size = sum(4096 * (len(data) // 4096 + 1) for data in made.old.values())
    site = disk(size * 3 // 2) / "site"
    shutil.copytree(made.old_book / "site", site)
    assert build(made.new_book, site) == 1
    said = capsys.readouterr().err
    assert "the site could not be written, and the earlier one stays" in said
    assert "No space left on device" in said
    assert "Traceback" not in said
    assert content(site) == made.old
    assert alone(site)


@pytest.mark.skipif(sys.platform == "win32", reason="limits of a process are Unix's")
def test_files_that_cannot_grow_keep_the_old_site(made: Made, cache: Path, site: Path) -> None:
    """What a full disk does, where none can be mounted: every file ends at 20 KB."""
    code = (
        "import resource, sys; from stavewright.cli import main\n"
        "most = resource.getrlimit(resource.RLIMIT_FSIZE)[1]\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (20 * 1024, most))\n"
        "sys.exit(main(sys.argv[1:]))"
    )
    command = [sys.executable, "-c", code, "build", "--book", str(made.new_book), "--out", str(site)]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 1
    assert "the site could not be written, and the earlier one stays" in done.stderr
    assert "Traceback" not in done.stderr
    assert content(site) == made.old
    assert alone(site)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device that is always full is Linux's")
def test_a_cache_on_a_full_disk_keeps_nothing_and_harms_nothing(
    made: Made, site: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tmp_path / "full"
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(place))
    made_there = tempfile.mkstemp

    def full(**options: object) -> tuple[int, str]:
        handle, name = made_there(**options)  # type: ignore[call-overload]
        os.close(handle)
        return os.open("/dev/full", os.O_WRONLY), name

    monkeypatch.setattr(cache_module.tempfile, "mkstemp", full)
    assert build(made.new_book, site) == 0
    assert content(site) == made.new
    assert [path for path in place.rglob("*") if path.is_file()] == []


@pytest.mark.exhaustive
@pytest.mark.every_core
def test_a_cache_on_a_small_disk_keeps_what_it_can(
    made: Made, site: Path, disk: Callable[[int], Path]
) -> None:
    place = disk(128 * 1024)
    command = [sys.executable, "-m", "stavewright", "build", "--book", str(made.new_book), "--out", str(site)]
    # With workers of their own, which keep their pieces themselves.
    done = subprocess.run(
        [*command, "--jobs", "2"],
        env=os.environ | {"STAVEWRIGHT_CACHE": str(place)},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert content(site) == made.new
    assert not list(place.rglob(".new-*"))


# Places that may only be read.


def test_a_disk_that_may_only_be_read_keeps_the_old_site(
    made: Made, cache: Path, disk: Callable[[int], Path], capsys: pytest.CaptureFixture[str]
) -> None:
    place = disk(64 * 1024**2)
    site = place / "site"
    shutil.copytree(made.old_book / "site", site)
    subprocess.run(["mount", "-o", "remount,ro", str(place)], check=True)
    assert build(made.new_book, site) == 1
    said = capsys.readouterr().err
    assert f"{site}: a site cannot be written here: Read-only file system" in said
    assert "Traceback" not in said
    assert content(site) == made.old


def test_a_folder_that_refuses_keeps_the_old_site(
    made: Made, cache: Path, site: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    made_there = Path.mkdir

    def refused(self: Path, *args: object, **more: object) -> None:
        if self.parent == site.parent:
            raise PermissionError(13, "Permission denied")
        made_there(self, *args, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(Path, "mkdir", refused)
    assert build(made.new_book, site) == 1
    assert f"{site}: a site cannot be written here: Permission denied" in capsys.readouterr().err
    assert content(site) == made.old


def test_a_cache_that_may_only_be_read_is_still_of_use(
    made: Made, site: Path, disk: Callable[[int], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    place = disk(64 * 1024**2)
    shutil.copytree(made.cache, place / "cache")
    subprocess.run(["mount", "-o", "remount,ro", str(place)], check=True)
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(place / "cache"))
    assert build(made.new_book, site) == 0
    assert content(site) == made.new


# What an earlier version has left.


def test_a_cache_of_an_older_version_is_made_anew(made: Made, cache: Path, site: Path) -> None:
    paths = sorted(cache.glob("??/*.piece"))
    now, before = cache_module._FORM, b"stavewright piece 1\n"
    assert now != before
    for path in paths:
        data = path.read_bytes()
        assert data.startswith(now)
        path.write_bytes(before + data.removeprefix(now))
    (cache / "engraver.json").write_text('{"file": "an older form", "version": 2}')
    for note in cache.glob("sites/*.json"):
        note.write_text('{"form": 1}')
    assert build(made.new_book, site) == 0
    assert content(site) == made.new
    assert all(path.read_bytes().startswith((now, before)) for path in paths)
    assert CacheStore(cache).get(paths[0].parent.name + paths[0].stem) is None or paths[
        0
    ].read_bytes().startswith(now)
    # And that one is whole.
    assert build(made.new_book, site) == 0
    assert content(site) == made.new


@pytest.mark.exhaustive
def test_ink_of_another_version_of_the_program_is_not_used(
    made: Made, cache: Path, site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from stavewright.engrave import piece
    from stavewright.engrave.processes import scheduler as batch

    engraved = []
    ready = Worker.engrave

    def counted(self: Worker, pieces: list[Piece]) -> Iterator[Engraved | Failure]:
        engraved.extend(pieces)
        return ready(self, pieces)

    monkeypatch.setattr(Worker, "engrave", counted)
    monkeypatch.setattr(piece, "code", lambda: "another version")
    # A worker in a process of its own could not be counted.
    monkeypatch.setattr(batch, "_choose_workers", lambda pool, seconds, place: [batch._LocalWorker(place)])
    assert build(made.old_book, site) == 0
    assert {found.name for found in engraved} >= {"tiny, flute, D major, from D5, as written"}
    assert content(site) == made.old


# Two builds at once.


@pytest.mark.exhaustive
@pytest.mark.every_core
def test_two_builds_at_once_with_one_cache_end_in_one_whole_site(
    made: Made, site: Path, tmp_path: Path
) -> None:
    keep_language(tmp_path / "shared")
    environment = os.environ | {"STAVEWRIGHT_CACHE": str(tmp_path / "shared")}
    builds = [
        subprocess.Popen(
            [sys.executable, "-m", "stavewright", "build", "--book", str(book), "--out", str(site)],
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
        )
        for book in (made.old_book, made.new_book)
    ]
    said = [running.communicate()[0].decode() for running in builds]
    assert [running.returncode for running in builds] == [0, 0], said
    assert content(site) in (made.old, made.new)
    assert alone(site)


# Clocks that go back.


@pytest.mark.exhaustive
def test_a_clock_that_goes_back_while_a_site_is_built(
    made: Made, site: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep_language(tmp_path / "cache")
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(tmp_path / "cache"))
    now = time.time()
    looks = iter(range(10**9))
    # An hour earlier at every look.
    monkeypatch.setattr(time, "time", lambda: now - 3600 * next(looks))
    assert build(made.new_book, site) == 0
    assert next(looks) > 1
    assert content(site) == made.new
    assert alone(site)


def test_files_from_the_future_are_used_and_harm_nothing(
    made: Made, cache: Path, site: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ahead = (time.time() + 10**7,) * 2
    killed = WorkingFolder.make(site.parent, ".site.new-", 0o777)
    assert killed._lock is not None
    os.close(killed._lock)
    killed._held = False
    left = killed.path
    shutil.copytree(site, left, dirs_exist_ok=True)
    for path in (*cache.rglob("*"), *site.rglob("*"), *made.new_book.rglob("*"), site, left):
        os.utime(path, ahead)
    assert build(made.new_book, site) == 0
    assert content(site) == made.new
    assert alone(site)
    # What has not changed is still known not to have.
    capsys.readouterr()
    assert main(["build", "--book", str(made.new_book), "--out", str(site)]) == 0
    assert "unchanged since they were built" in capsys.readouterr().out
