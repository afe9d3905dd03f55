"""One bad piece or exercise costs itself; an engraver or a machine at fault keeps what was there before."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from threading import local

import pytest
from conftest import TINY, sweep, write_book
from made_site import keep_language
from mkdocs.commands.build import build as mkdocs_build
from mkdocs.config import load_config
from mkdocs.exceptions import Abort

from stavewright.cache.store import CacheStore
from stavewright.cli import main
from stavewright.engrave.piece import STAND, Blame, Engraved, Failure, Piece
from stavewright.engrave.processes import lilypond as engine
from stavewright.engrave.processes import scheduler as batch
from stavewright.engrave.processes import worker as worker_module
from stavewright.engrave.processes import worker_processes as processes
from stavewright.engrave.processes.finding import find_engraver
from stavewright.engrave.processes.lilypond import EngraverAtFault, LilyPondServer, LilyPondServerLost
from stavewright.engrave.processes.scheduler import engrave_all
from stavewright.engrave.processes.talk import MOST_SAID, Talk
from stavewright.engrave.processes.worker_processes import WorkerProcess

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="a script is no program there")

REAL = find_engraver().path
SIX_KEYS = TINY.replace("music:", "travel: semitones down from E5 to B4\nmusic:")
OLD = SIX_KEYS.format(title="Old")
NEW = SIX_KEYS.format(title="New").replace("w D5", "h D5 E5")
OTHER = SIX_KEYS.format(title="Other").replace("w D5", "h D5 F#5")

Content = dict[str, bytes]


def content(site: Path) -> Content:
    return {str(path.relative_to(site)): path.read_bytes() for path in site.rglob("*") if path.is_file()}


@pytest.fixture(scope="module")
def published(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a book, its site and its cache, as an engraver left them that was still good."""
    place = tmp_path_factory.mktemp("published")
    path = place / "engraver"
    path.write_text(
        "#!/bin/sh\n"
        'case "$1" in --version) ;; *) if [ -e "${0%/*}/bad" ]; then . "${0%/*}/bad"; fi;; esac\n'
        f'exec {REAL} "$@"\n'
    )
    path.chmod(0o755)
    write_book(place / "book", {"old": OLD})
    keep_language(place / "cache")
    environment = os.environ | {
        "STAVEWRIGHT_CACHE": str(place / "cache"),
        "STAVEWRIGHT_LILYPOND": str(path),
    }
    subprocess.run(
        [sys.executable, "-m", "stavewright", "build", "--book", str(place / "book")],
        env=environment,
        check=True,
    )
    return place


@pytest.fixture
def place(published: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder of this test's own with a good engraver, and the book with an exercise that is new."""
    place = tmp_path / "place"
    shutil.copytree(published, place)
    # Its file is the one that is known to be good.
    (place / "engraver").unlink()
    (place / "engraver").symlink_to(published / "engraver")
    write_book(place / "book", {"old": OLD, "new": NEW})
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(place / "cache"))
    monkeypatch.setenv("STAVEWRIGHT_LILYPOND", str(place / "engraver"))
    monkeypatch.setattr(engine, "_WATCH", 0.05)
    monkeypatch.setattr(worker_module, "_mine", local())
    find_engraver.cache_clear()
    yield place
    worker_module.here().close()
    find_engraver.cache_clear()


def build(place: Path) -> int:
    return main(["build", "--again", "--book", str(place / "book"), "--jobs", "1"])


WAYS = {
    "ends": "exit 0",
    "crashes": "kill -9 $$",
    "refuses": 'read name; echo "error: no fonts" >&2; exit 1',
    "babbles": "exec yes babble >&2",
    "babbles in one line": "exec cat /dev/zero >&2",
    "hangs": "sleep 600",
}


@sweep("way", list(WAYS), every_day=1)
def test_an_engraver_that_fails_on_everything_keeps_what_was_there(
    way: str, place: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    before = content(place / "book" / "site")
    printed = place / "book.pdf"
    printed.write_bytes(b"%PDF-1.7 the earlier one")
    (place / "bad").write_text(WAYS[way])
    monkeypatch.setattr(engine, "SECONDS", 1 if way == "hangs" else 60)
    find_engraver()
    commands = [
        ["build", "--again", "--jobs", "1"],
        ["print", "--exercise", "new", "-o", str(printed)],
        ["daily", "--minutes", "5", "--days", "1", "-o", str(printed)],
    ]
    for command in commands if way == "ends" else commands[:1]:
        capsys.readouterr()
        assert main([*command, "--book", str(place / "book")]) == 1
        said = capsys.readouterr()
        assert "Traceback" not in said.err
        last = said.err.splitlines()[-1]
        assert "the engraver is not able to work here, and what was made before stays as it was: " in last
        # The book has the line once more, large; daily sets have what they play, and models of its ways.
        pieces = {"build": 6, "print": 7, "daily": 9}[command[0]]
        # It is given up after three pieces that had to be stopped.
        count = 3 if way in ("babbles", "babbles in one line", "hangs") else pieces
        assert f": {count} of {pieces} new pieces failed; " in last
        assert content(place / "book" / "site") == before
        assert printed.read_bytes() == b"%PDF-1.7 the earlier one"
        assert [path.name for path in (place / "book").iterdir() if path.name.startswith(".")] == []
    # Nothing of it is kept.
    (place / "bad").unlink()
    monkeypatch.setattr(engine, "SECONDS", 60)
    assert build(place) == 0
    assert len(content(place / "book" / "site")) > len(before)


@pytest.mark.exhaustive
def test_a_served_book_keeps_its_site(place: Path) -> None:
    site = place / "served"

    def serve() -> None:
        config = load_config(str(place / "book" / "mkdocs.yml"), site_dir=str(site))
        config.plugins.on_startup(command="serve", dirty=False)
        mkdocs_build(config, serve_url="http://127.0.0.1:8000/")

    serve()
    before = content(site)
    write_book(place / "book", {"other": OTHER})
    (place / "bad").write_text("exit 3")
    find_engraver.cache_clear()
    with pytest.raises(Abort):
        serve()
    assert content(site) == before


@pytest.fixture
def spoil(monkeypatch: pytest.MonkeyPatch) -> Callable[[Callable[[str], bool], Blame], None]:
    """Makes the engravers of this process fail on some pieces, by name."""

    def put(bad: Callable[[str], bool], blame: Blame = Blame.PIECE) -> None:
        result = worker_module._result

        def spoiled(
            servers: list[LilyPondServer], piece: Piece, sent: worker_module._Sent
        ) -> Engraved | Failure:
            found = result(servers, piece, sent)
            return Failure(piece.name, "it would not", blame) if bad(piece.name) else found

        monkeypatch.setattr(worker_module, "_result", spoiled)

    return put


Spoil = Callable[[Callable[[str], bool]], None]


@pytest.mark.exhaustive
def test_one_bad_exercise_costs_itself_even_if_nothing_else_is_new(
    place: Path, spoil: Spoil, capsys: pytest.CaptureFixture[str]
) -> None:
    before = content(place / "book" / "site")
    spoil(lambda name: "new" in name)
    assert build(place) == 1
    said = capsys.readouterr()
    # Six keys, with an opening each, and the range.
    assert said.out.startswith("12 pieces (20 failed), ")
    assert "new, flute, D major, from D5, as written: the engraver failed: it would not" in said.err
    now = content(place / "book" / "site")
    assert b"could not write this out" in now["exercises/new/d/index.html"]
    assert now["exercises/old/d/index.html"].count(b"<svg") == before["exercises/old/d/index.html"].count(
        b"<svg"
    )


def test_a_piece_that_fails_costs_itself_even_if_it_is_all_there_is(tmp_path: Path) -> None:
    wrong = Piece("wrong", "\\score { \\new Staff { c'1 \\nosuchcommand } }\n")
    made = engrave_all(["wrong"], lambda _: wrong, cache=CacheStore(tmp_path / "cache"))
    assert "nosuchcommand" in str(made["wrong"])


def test_two_exercises_that_fail_over_most_of_what_is_new_keep_the_old_site(
    place: Path, spoil: Spoil, capsys: pytest.CaptureFixture[str]
) -> None:
    """As where the builder's own small piece is too small to show what is wrong."""
    before = content(place / "book" / "site")
    write_book(place / "book", {"other": OTHER})
    spoil(lambda name: ("new, " in name or "other, " in name) and "E" not in name)
    assert build(place) == 1
    # All but those in E and E flat.
    assert "8 of 12 new pieces failed; the last: " in capsys.readouterr().err.splitlines()[-1]
    assert content(place / "book" / "site") == before


def test_a_full_temporary_folder_keeps_the_old_site(
    place: Path, spoil: Spoil, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    before = content(place / "book" / "site")
    (place / "bad").write_text("exit 3")
    find_engraver()
    monkeypatch.setattr(engine, "_NO_ROOM", 10**18)
    assert build(place) == 1
    last = capsys.readouterr().err.splitlines()[-1]
    assert "1 of 6 new pieces failed; the temporary folder " in last
    assert last.endswith("is full; make room there, or name another with TMPDIR")
    assert content(place / "book" / "site") == before


@pytest.mark.exhaustive
@pytest.mark.every_core
def test_a_small_temporary_disk_keeps_the_old_site(place: Path, tmp_path: Path) -> None:
    before = content(place / "book" / "site")
    small = tmp_path / "small"
    small.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=16k", "tmpfs", str(small)]
    if sys.platform != "linux" or subprocess.run(mount, capture_output=True).returncode:
        pytest.skip("no disk can be mounted here")
    try:
        done = subprocess.run(
            [sys.executable, "-m", "stavewright", "build", "--book", str(place / "book")],
            env=os.environ | {"TMPDIR": str(small)},
            capture_output=True,
            text=True,
        )
    finally:
        subprocess.run(["umount", "-l", str(small)], check=True)
    assert done.returncode == 1
    assert f"the temporary folder {small} is full" in done.stderr.splitlines()[-1]
    assert content(place / "book" / "site") == before


# What an engraver says.


def test_of_what_is_said_the_first_and_the_last_lines_are_kept_and_an_error() -> None:
    talk = Talk()
    for number in range(100_000):
        talk.add(f"{'error' if number in (70_000, 80_000) else 'warning'}: {number}")
    assert len(talk.rows) == 101
    assert talk.rows[0] == "warning: 0"
    assert talk.rows[50] == "error: 70000"
    assert talk.rows[-1] == "warning: 99999"


@pytest.mark.parametrize("babble", ['(display "babble\\n" port)', '(display "babble" port)'])
def test_an_engraver_is_stopped_that_says_too_much_and_no_more_is_read(babble: str) -> None:
    server = LilyPondServer(REAL, find_engraver().passes[0], STAND.head)
    try:
        server.send("a", f"#(let ((port (current-error-port))) (let loop () {babble} (loop)))")
        with pytest.raises(LilyPondServerLost, match="it was stopped, because it wrote too much") as lost:
            server.wait("a", 0)
        assert lost.value.stopped
        assert len(str(lost.value)) < 200
        assert server._process.wait(60) is not None
    finally:
        server.close()


def test_a_long_line_is_read_to_its_end_and_no_harm() -> None:
    server = LilyPondServer(REAL, find_engraver().passes[0], STAND.head)
    try:
        server.send("a", f"#(display (make-string {MOST_SAID // 2} #\\a) (current-error-port))")
        [row] = server.wait("a", 0)
        assert set(row) == {"a"}
        assert len(row) <= 4096
    finally:
        server.close()


# Workers that are lost.

LOST = """\
import os, sys
from stavewright.engrave.processes import worker

# These pieces are notation already.
sys.modules["stavewright.engrave.notation"] = os

def main(source, sink):
    engrave = worker.Worker.engrave

    def ending(self, pieces):
        for piece, result in zip(pieces, engrave(self, pieces)):
            if piece.name in {bad!r}:
                os._exit(7)
            yield result

    worker.Worker.engrave = ending
    worker.main(source, sink)
"""
PIECES = {name: Piece(name, f"\\score {{ \\new Staff {{ {name}'1 }} }}\n") for name in "cdefgab"}


@pytest.fixture
def losing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    """Two workers, each of which ends on some pieces."""

    def put(bad: str) -> None:
        (tmp_path / "lost_worker.py").write_text(LOST.format(bad=bad))
        monkeypatch.syspath_prepend(str(tmp_path))
        start = processes.start_child
        monkeypatch.setattr(processes, "start_child", lambda _: start("lost_worker"))
        monkeypatch.setattr(batch, "_choose_workers", lambda *_: [WorkerProcess(), WorkerProcess()])

    return put


@pytest.mark.exhaustive
def test_a_piece_that_ends_its_worker_costs_itself(losing: Callable[[str], None], tmp_path: Path) -> None:
    losing("e")
    made = engrave_all(PIECES, PIECES.__getitem__, cache=CacheStore(tmp_path / "cache"))
    assert [str(failure) for failure in made.failures] == [
        "e: the engraver failed: its worker was lost 4 times: its process ended by itself, with status 7"
    ]
    assert sum(isinstance(found, Engraved) for found in made.values()) == 6


@pytest.mark.exhaustive
def test_workers_that_are_always_lost_are_given_up(losing: Callable[[str], None], tmp_path: Path) -> None:
    losing("cdefgab")
    with pytest.raises(EngraverAtFault, match=r"3 of 7 new pieces failed; .* with status 7"):
        engrave_all(PIECES, PIECES.__getitem__, cache=CacheStore(tmp_path / "cache"))
