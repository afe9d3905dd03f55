"""A machine that fails: full and read-only disks, engravers gone wrong, old caches, clocks, builds at once.

The published folder is always the old whole site or the new one; one bad piece costs one piece.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from threading import local

import pytest
from conftest import TWO_KEYS, write_book
from made_site import keep_language

from stavewright.cache import store as cache_module
from stavewright.cache.store import CacheStore
from stavewright.cli import main
from stavewright.engrave import lilypond as engine
from stavewright.engrave import worker as worker_module
from stavewright.engrave.lilypond import Engraver, LilyPondServer, LilyPondServerLost, find_engraver
from stavewright.engrave.piece import STAND
from stavewright.engrave.scheduler import Engraved, Failure, Piece
from stavewright.engrave.worker import Worker
from stavewright.jobs.folders import WorkingFolder
from stavewright.views.incipits import OPENING, PHONE

Content = dict[str, bytes]
Result = Engraved | Failure
ENDLESS = "#(let loop () (loop))"
ODD = TWO_KEYS.format(title="Odd") + '  above "mill"\n'
BAD = "odd, flute, D major, from D5, as written: the engraver failed: "


def content(site: Path) -> Content:
    """Every file of a site and its bytes."""
    files = (path for path in site.rglob("*") if path.is_file())
    return {path.relative_to(site).as_posix(): path.read_bytes() for path in files}


@dataclass(frozen=True)
class Made:
    """A book in two versions, the whole site of each, and the cache with the pieces of both.

    `added` are the names of what the new version has in the cache and the old has not, `pieces` all that was
    engraved, by the name of its ink in the cache; equal pieces have one.
    """

    old_book: Path
    new_book: Path
    old: Content
    new: Content
    cache: Path
    added: frozenset[str]
    pieces: dict[str, list[Piece]]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Both versions, built once."""
    folder = tmp_path_factory.mktemp("made")
    exercises: dict[str, str | bytes] = {"tiny": TWO_KEYS.format(title="Tiny")}
    old_book = write_book(folder / "old" / "book", exercises)
    new_book = write_book(folder / "new" / "book", exercises | {"odd": ODD})
    sites, entries = [], []
    pieces: dict[str, list[Piece]] = {}
    key_of = Piece.key

    def noted(piece: Piece, engraver: Engraver) -> str:
        key = key_of(piece, engraver)
        pieces.setdefault(f"{key[:2]}/{key[2:]}.piece", []).append(piece)
        return key

    keep_language(folder / "cache")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Piece, "key", noted)
        patch.setenv("STAVEWRIGHT_CACHE", str(folder / "cache"))
        for book in (old_book, new_book):
            assert main(["build", "--book", str(book)]) == 0
            sites.append(content(book / "site"))
            entries.append(
                {f"{path.parent.name}/{path.name}" for path in (folder / "cache").glob("??/*.piece")}
            )
    assert sites[0] != sites[1]
    return Made(old_book, new_book, *sites, folder / "cache", frozenset(entries[1] - entries[0]), pieces)


@pytest.fixture
def cache(made: Made, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A cache of this test's own, with every piece in it."""
    place = tmp_path / "cache"
    shutil.copytree(made.cache, place)
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(place))
    return place


@pytest.fixture
def leave_old_ink(made: Made, cache: Path) -> Callable[[Callable[[Piece], bool]], None]:
    """Removes from the cache all but ink, and the ink of the new exercise and of the pieces that are bad."""

    def leave(bad: Callable[[Piece], bool]) -> None:
        for path in cache.glob("??/*.piece"):
            name = f"{path.parent.name}/{path.name}"
            pieces = made.pieces.get(name, [])
            if not pieces or name in made.added or any(map(bad, pieces)):
                path.unlink()

    return leave


@pytest.fixture
def site(made: Made, tmp_path: Path) -> Path:
    """The old site, published."""
    place = tmp_path / "published" / "site"
    shutil.copytree(made.old_book / "site", place)
    return place


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


def build(book: Path, site: Path, *more: str) -> int:
    """A build in this process, with one engraver."""
    return main(["build", "--again", "--book", str(book), "--out", str(site), "--jobs", "1", *more])


def alone(site: Path) -> bool:
    """Whether nothing was left beside a site."""
    return [path.name for path in site.parent.iterdir() if path.name.startswith(".")] == []


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


# Engravers that go wrong on one piece.

PROXY = '''\
#!{python} -S
"""An engraver that stands before the real one, and goes wrong on one piece."""
import os, signal, subprocess, sys, threading, time
from pathlib import Path

if "server.ly" not in sys.argv:
    os.execv({real!r}, [{real!r}, *sys.argv[1:]])
real = subprocess.Popen([{real!r}, *sys.argv[1:]], stdin=subprocess.PIPE, stderr=subprocess.PIPE)
bad = set()

def spoil(name):
    {spoil}

def answer():
    for row in real.stderr:
        name = row.decode("utf-8", "replace").strip().rpartition(" ")[2]
        if row.startswith(b"done-") and name in bad:
            spoil(name)
        sys.stderr.buffer.write(row)
        sys.stderr.flush()

thread = threading.Thread(target=answer)
thread.start()
for row in sys.stdin.buffer:
    name = row.decode().strip()
    text = Path(name + ".ly").read_text()
    if "line-width = 180" in text and "mill" in text and "key d " in text:
        {before}
        bad.add(name)
    real.stdin.write(row)
    real.stdin.flush()
real.stdin.close()
thread.join()
'''
WAYS = {
    "does well": ("pass", "pass"),
    "crashes": ("real.kill(); os.kill(os.getpid(), signal.SIGSEGV)", "pass"),
    "ends": ("real.kill(); os._exit(0)", "pass"),
    "hangs": ("time.sleep(1e6)", "pass"),
    "draws nothing": ("pass", "os.remove(name + '.svg')"),
    "prints nothing": ("pass", "os.remove(name + '.pdf')"),
    "lists nothing": ("pass", "Path(name + '.txt').write_text('')"),
    "lists no numbers": ("pass", "Path(name + '.txt').write_text('system 0 1 2\\nnote 1/0 0 0 0 0')"),
    "draws an empty file": ("pass", "Path(name + '.svg').write_text('')"),
    "draws rubbish": ("pass", "Path(name + '.svg').write_bytes(bytes(range(256)))"),
    "draws half": ("pass", "p = Path(name + '.svg'); p.write_text(p.read_text()[:900])"),
    "draws without a size": ("pass", "Path(name + '.svg').write_text('<svg viewBox=\"a b c d\"/>')"),
    "prints rubbish": ("pass", "Path(name + '.pdf').write_bytes(bytes(range(256)))"),
    "prints half": ("pass", "p = Path(name + '.pdf'); p.write_bytes(p.read_bytes()[:900])"),
}


@pytest.fixture
def proxy(
    new_engravers: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Callable[[str], None]]:
    """Puts an engraver before the real one that goes wrong in a way."""
    real = find_engraver().path
    monkeypatch.setattr(engine, "_WATCH", 0.05)

    def put(way: str) -> None:
        before, spoil = WAYS[way]
        path = tmp_path / "engraver"
        path.write_text(PROXY.format(python=sys.executable, real=real, before=before, spoil=spoil))
        path.chmod(0o755)
        monkeypatch.setenv("STAVEWRIGHT_LILYPOND", str(path))
        monkeypatch.setattr(engine, "_SECONDS", 5 if way == "hangs" else 60)
        find_engraver.cache_clear()
        # The engraver that this process has at work stays out of it.
        monkeypatch.setattr(worker_module, "_mine", local())

    yield put
    worker_module.here().close()
    find_engraver.cache_clear()


PIECES = {
    name: Piece(name, f'\\score {{ \\new Staff {{ \\key {key} \\major d\'1 ^"mill" }} }}\n')
    for name, key in (("before", "c"), ("bad", "d"), ("after", "e"))
}
"""The engravers above go wrong on the second."""


@pytest.fixture(scope="module")
def good() -> dict[str, Result]:
    """What the real engraver makes of the pieces."""
    worker = Worker(find_engraver())
    try:
        return dict(zip(PIECES, worker.engrave(list(PIECES.values())), strict=True))
    finally:
        worker.close()


@pytest.mark.skipif(sys.platform == "win32", reason="a script is no program there")
@pytest.mark.parametrize("way", list(WAYS)[1:])
def test_an_engraver_that_goes_wrong_on_one_piece_fails_on_no_other(
    way: str, good: dict[str, Result], tmp_path: Path, proxy: Callable[[str], None]
) -> None:
    proxy(way)
    answers = dict(worker_module.work(list(PIECES.items()), tmp_path / "cache"))
    bad = answers.pop("bad")
    assert isinstance(bad, Failure)
    assert bad.name == "bad"
    assert bad.said
    # The cache has the others, and nothing of the bad one.
    kept = CacheStore(tmp_path / "cache")
    assert kept.get("bad") is None
    for key, answer in answers.items():
        data = kept.get(key)
        assert answer is None
        assert data is not None
        assert Engraved.from_bytes(data) == good[key], key


@pytest.mark.skipif(sys.platform == "win32", reason="a script is no program there")
@pytest.mark.parametrize("way", ["crashes", "draws half"])
def test_an_engraver_that_goes_wrong_on_one_piece_costs_one_piece(
    way: str,
    made: Made,
    cache: Path,
    site: Path,
    proxy: Callable[[str], None],
    capsys: pytest.CaptureFixture[str],
) -> None:
    for name in made.added:
        (cache / name).unlink()
    proxy(way)
    assert build(made.new_book, site) == 1
    said = capsys.readouterr().err
    failed = [row for row in said.splitlines() if "the engraver failed" in row]
    assert {row[: len(BAD)] for row in failed} == {BAD}, said
    assert "Traceback" not in said
    now = content(site)
    assert now.keys() == made.new.keys()
    differing = {name for name in now if now[name] != made.new[name]}
    page = "exercises/odd/d/index.html"
    assert page in differing
    assert b"The engraver could not write this out" in now[page]
    assert not any(name.startswith("exercises/odd/e-flat/") for name in differing)
    assert not any(name.startswith("exercises/tiny/") for name in differing)
    assert alone(site)
    # Nothing of it is kept: a good engraver makes the whole site again.
    proxy("does well")
    assert build(made.new_book, site) == 0
    assert content(site) == made.new


@pytest.mark.skipif(sys.platform != "linux", reason="limits on another process are Linux's")
def test_an_engraver_that_has_lost_its_way_ends_without_its_build(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "PROCESSOR", 1)
    server = LilyPondServer(find_engraver().path, find_engraver().passes[0], STAND.head)
    try:
        # As after a kill: nobody is there to look at the clock.
        server._closed.set()
        server.send("endless", ENDLESS)
        with pytest.raises(LilyPondServerLost, match="status -9") as lost:
            server.wait("endless", 0)
        assert not lost.value.stopped
    finally:
        server.close()


Spoil = Callable[[Callable[[Piece, Result], Result]], None]


@pytest.fixture
def spoil(new_engravers: None, monkeypatch: pytest.MonkeyPatch) -> Iterator[Spoil]:
    """Changes what the engravers of this process give, in a way given as a function."""
    with monkeypatch.context() as patch:

        def put(change: Callable[[Piece, Result], Result]) -> None:
            result = worker_module._result
            patch.setattr(
                worker_module,
                "_result",
                lambda servers, piece, sent: change(piece, result(servers, piece, sent)),
            )

        yield put


def broken_in_the_middle(made: Engraved) -> Engraved:
    pdf = made.pdf
    third = len(pdf) // 3
    return replace(made, on_paper=pdf[:third] + b"x" * third + pdf[2 * third :])


@pytest.mark.parametrize(
    ("bad", "said"),
    [
        (lambda piece: piece.layout == OPENING and piece.name == "opening of odd flute d", "opening of odd"),
        (lambda piece: piece.name == "range of odd flute", "range of odd flute"),
        (lambda piece: piece.name == "word fermata", "the example of word fermata"),
        (lambda piece: piece.name == "phrase", "the example of phrase"),
        (lambda piece: piece.name == "the words 'Odd'", "the words 'Odd'"),
    ],
    ids=["an opening", "a range", "a word's example", "the phrase", "a title"],
)
def test_whatever_piece_fails_is_named_and_the_rest_is_built(
    bad: Callable[[Piece], bool],
    said: str,
    made: Made,
    site: Path,
    leave_old_ink: Callable[[Callable[[Piece], bool]], None],
    spoil: Spoil,
    capsys: pytest.CaptureFixture[str],
) -> None:
    leave_old_ink(bad)
    broken = {True}
    spoil(lambda piece, found: Failure(piece.name, "it would not") if broken and bad(piece) else found)
    assert build(made.new_book, site) == 1
    told = capsys.readouterr().err
    assert said in told
    assert "it would not" in told
    assert "Traceback" not in told
    assert content(site).keys() == made.new.keys()
    broken.clear()
    assert build(made.new_book, site) == 0
    assert content(site) == made.new


def test_narrow_lines_that_fail_are_named(
    tmp_path: Path,
    spoil: Spoil,
    capsys: pytest.CaptureFixture[str],
) -> None:
    book = write_book(
        tmp_path / "book", {"long": TWO_KEYS.format(title="Long").replace("w D5", "w D5 | " * 12 + "w D5")}
    )
    spoil(lambda piece, found: Failure(piece.name, "it would not") if piece.layout == PHONE else found)
    assert build(book, tmp_path / "site") == 1
    assert (
        "long, flute, D major, from D5, as written, in narrow lines: the engraver failed"
        in capsys.readouterr().err
    )
    assert "it would not" not in (tmp_path / "site" / "exercises/long/d/index.html").read_text()


def test_a_pdf_that_is_broken_in_its_middle_costs_one_piece(
    made: Made,
    site: Path,
    leave_old_ink: Callable[[Callable[[Piece], bool]], None],
    spoil: Spoil,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def bad(piece: Piece) -> bool:
        return piece.layout == STAND and piece.name == BAD.partition(":")[0]

    def change(piece: Piece, found: Result) -> Result:
        return broken_in_the_middle(found) if bad(piece) and isinstance(found, Engraved) else found

    leave_old_ink(bad)
    spoil(change)
    assert build(made.new_book, site) == 1
    told = capsys.readouterr().err
    assert f"{BAD}the piece's PDF is broken" in told
    assert "Traceback" not in told
    assert content(site).keys() == made.new.keys()


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


def test_ink_of_another_version_of_the_program_is_not_used(
    made: Made, cache: Path, site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from stavewright.engrave import piece
    from stavewright.engrave import scheduler as batch

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
