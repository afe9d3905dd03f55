"""Engravers that go wrong on one piece: that piece fails, is named, and no other is touched."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from threading import local

import pytest
from conftest import TWO_KEYS, sweep, write_book
from two_versions import Made, alone, build, cache, content, made, site

from stavewright.cache.store import CacheStore
from stavewright.engrave.piece import STAND, Engraved, Failure, Piece
from stavewright.engrave.processes import lilypond as engine
from stavewright.engrave.processes import worker as worker_module
from stavewright.engrave.processes.finding import find_engraver
from stavewright.engrave.processes.lilypond import LilyPondServer, LilyPondServerLost
from stavewright.engrave.processes.worker import Worker
from stavewright.views.incipits import OPENING, PHONE

__all__ = ["cache", "made", "site"]

Result = Engraved | Failure
ENDLESS = "#(let loop () (loop))"
BAD = "odd, flute, D major, from D5, as written: the engraver failed: "


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
        monkeypatch.setattr(engine, "SECONDS", 5 if way == "hangs" else 60)
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
@sweep("way", list(WAYS)[1:], every_day=4)
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


@sweep(
    "bad, said",
    [
        (lambda piece: piece.layout == OPENING and piece.name == "opening of odd flute d", "opening of odd"),
        (lambda piece: piece.name == "range of odd flute", "range of odd flute"),
        (lambda piece: piece.name == "word fermata", "the example of word fermata"),
        (lambda piece: piece.name == "phrase", "the example of phrase"),
        (lambda piece: piece.name == "the words 'Odd'", "the words 'Odd'"),
    ],
    ids=["an opening", "a range", "a word's example", "the phrase", "a title"],
    every_day=1,
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
