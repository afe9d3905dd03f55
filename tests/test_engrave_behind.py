"""Ink that is made behind its caller's back is the same ink, and is waited for where it is asked for."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from threading import Event
from typing import Any

import pytest

from stavewright.book.pieces import InstrumentBook
from stavewright.book.read import Book, open_book
from stavewright.cache.store import CacheStore
from stavewright.cli import main
from stavewright.engrave import engraved_book as press_module
from stavewright.engrave import key_cache as known_module
from stavewright.engrave.engraved_book import EngravedBook, engrave_book
from stavewright.engrave.engravings import Engravings
from stavewright.engrave.piece import Engraved, Failure, Piece
from stavewright.engrave.processes import scheduler as batch
from stavewright.engrave.processes import worker_processes as processes
from stavewright.engrave.processes.background import BackgroundThread
from stavewright.engrave.processes.lilypond import LilyPondServer
from stavewright.engrave.processes.scheduler import engrave_all
from stavewright.engrave.processes.worker_processes import WorkerPool
from stavewright.views.incipits import engrave_for_screens

NOTES = {
    "one": "\\score { { c'1 } }\n",
    "two": "\\score { { d'1 } }\n",
    "bad": "\\score { { c'1 \\nothing } }\n",
}


@pytest.fixture
def held() -> Iterator[tuple[BackgroundThread, Event]]:
    """A thread behind, busy until the event is set."""
    go = Event()
    behind = BackgroundThread()
    behind.begin(go.wait)
    yield behind, go
    go.set()
    behind.close()


def wanted(
    names: list[str],
    cache: CacheStore,
    behind: BackgroundThread | None = None,
    begun: Engravings[str] | None = None,
    pool: WorkerPool | None = None,
) -> Engravings[str]:
    return engrave_all(names, lambda name: Piece(name, NOTES[name]), pool, None, cache, behind, None, begun)


def test_the_caller_goes_on_and_waits_for_what_is_not_there(
    held: tuple[BackgroundThread, Event], tmp_path: Path
) -> None:
    behind, go = held
    cache = CacheStore(tmp_path)
    before = wanted(["one"], cache)["one"]
    made = wanted(["one", "two", "bad"], cache, behind)
    assert made.missing == {made.key("two"), made.key("bad")}
    # What is kept is there at once.
    assert made["one"] == before
    assert made.keys_and_failures()[1] == {}
    go.set()
    assert isinstance(made["two"], Engraved)
    assert isinstance(made["bad"], Failure)
    assert [failure.name for failure in made.failures] == ["bad"]
    assert wanted(["one", "two"], cache)["two"] == made["two"]


def test_what_was_begun_before_is_not_made_twice(
    held: tuple[BackgroundThread, Event], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    behind, go = held
    cache = CacheStore(tmp_path)
    sent: list[str] = []
    work = batch.worker_module.work

    def counted(tasks: list[tuple[str, Piece]], place: Path | None) -> object:
        sent.extend(piece.name for _, piece in tasks)
        return work(tasks, place)

    monkeypatch.setattr(batch.worker_module, "work", counted)
    begun = wanted(["two", "bad"], cache, behind)
    made = wanted(["one", "two", "bad"], cache, behind, begun)
    assert made.missing == {made.key(name) for name in made}
    go.set()
    assert [failure.name for failure in made.failures] == ["bad"]
    assert isinstance(made["two"], Engraved)
    assert sorted(sent) == ["bad", "one", "two"]


def test_what_kept_it_from_being_made_is_raised_where_it_is_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> list[object]:
        raise batch.WorkersDiffer("another version")

    monkeypatch.setattr(batch, "_choose_workers", broken)
    behind = BackgroundThread()
    made = wanted(["one"], CacheStore(tmp_path), behind)
    behind.close()
    with pytest.raises(batch.WorkersDiffer):
        made.wait()
    with pytest.raises(batch.WorkersDiffer):
        _ = made["one"]


def test_an_engraver_that_worked_behind_ends_with_its_thread(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A served book makes a thread for each build."""
    servers: list[LilyPondServer] = []
    start = LilyPondServer.__init__

    def watched(self: LilyPondServer, *given: Any) -> None:
        start(self, *given)
        servers.append(self)

    monkeypatch.setattr(LilyPondServer, "__init__", watched)
    behind = BackgroundThread()
    made = wanted(["one"], CacheStore(tmp_path), behind)
    behind.close()
    assert isinstance(made["one"], Engraved)
    [server] = servers
    for _ in range(600):
        if not server.folder.exists():
            break
        time.sleep(0.1)
    assert not server.folder.exists()
    assert server._process.returncode is not None


def test_work_behind_keeps_its_order_and_survives_a_fault() -> None:
    behind = BackgroundThread()
    done: list[int] = []

    def fail() -> None:
        raise ZeroDivisionError

    first = behind.begin(lambda: done.append(1))
    second = behind.begin(fail)
    third = behind.begin(lambda: done.append(3))
    behind.close()
    third.result(60)
    first.result(60)
    with pytest.raises(ZeroDivisionError):
        second.result(60)
    assert done == [1, 3]


def test_a_worker_at_hand_takes_work_of_any_size(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(processes, "cores", lambda: 2)
    pool = WorkerPool()
    pool.start_worker()
    [process] = pool.workers(0, tmp_path)
    worker = process.start()
    assert worker.poll() is None
    made = wanted(["one", "bad"], CacheStore(tmp_path), pool=pool)
    assert isinstance(made["one"], Engraved)
    assert isinstance(made["bad"], Failure)
    # It is still the one that was started first, and had the work.
    assert process.start() is worker
    assert pool.workers(0, tmp_path) == [process]
    pool.end_soon()
    assert worker.wait(60) is not None
    assert pool.workers(0, tmp_path) == []
    with pytest.raises(processes.WorkerLost):
        process.start()


def test_a_faulty_book_leaves_no_worker_behind(
    book: Callable[[dict[str, str | bytes]], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(processes, "cores", lambda: 2)
    started: list[subprocess.Popen[bytes]] = []
    start = processes.WorkerProcess.start

    def watched(self: processes.WorkerProcess) -> subprocess.Popen[bytes]:
        started.append(start(self))
        return started[-1]

    monkeypatch.setattr(processes.WorkerProcess, "start", watched)
    assert main(["build", "--book", str(book({"bad": "title: Bad\n"}))]) == 1
    [worker] = started
    assert worker.wait(60) is not None


def test_a_worker_that_is_not_needed_says_nothing(tmp_path: Path) -> None:
    code = (
        "from stavewright.engrave.processes import worker_processes as processes; "
        "processes.cores = lambda: 2; processes.WorkerPool(2).start_worker()"
    )
    ways = ("", "; import os; os._exit(0)")
    for way in ways:
        done = subprocess.run([sys.executable, "-c", code + way], capture_output=True, text=True, timeout=120)
        assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


@pytest.fixture
def engraved_book(
    engraved: Callable[[dict[str, str | bytes]], EngravedBook], tiny: Callable[[str], str]
) -> EngravedBook:
    """A small book, engraved."""
    found = engraved({"one": tiny("One"), "two": tiny("Two")})
    engrave_for_screens(found)
    return found


def test_the_keys_of_an_unchanged_exercise_are_not_found_out_again(
    engraved_book: EngravedBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = engrave_for_screens(engraved_book)
    asked: list[str] = []
    key = Piece.key

    def counted(self: Piece, engraver: object) -> str:
        asked.append(self.name)
        return key(self, engraver)  # type: ignore[arg-type]

    monkeypatch.setattr(Piece, "key", counted)
    again = engrave_book(engraved_book.book)
    assert asked == []
    assert {
        name: again.engravings.key(name) for name in again.engravings
    } == engraved_book.engravings.keys_and_failures()[0]
    assert engrave_for_screens(again).narrow.keys_and_failures() == first.narrow.keys_and_failures()


def test_keys_that_are_damaged_are_found_out_again(engraved_book: EngravedBook) -> None:
    store = CacheStore()
    said = engraved_book.book.language, engraved_book.book.notes
    places = [
        known_module.keys_entry("wide", exercise, engraved_book.instrument_books[0].instrument, said)
        for exercise in engraved_book.book.exercises
    ]
    assert all(map(store.has, places))
    for damage in (b"[", b"{}", json.dumps(["ab"]).encode()):
        store.put(places[0], damage)
        again = engrave_book(engraved_book.book)
        assert again.engravings.keys_and_failures() == engraved_book.engravings.keys_and_failures()
        found = json.loads(store.get(places[0]) or b"")
        assert len(found) == 12


def test_what_is_new_is_begun_before_the_plan_of_all_is_made(
    engraved_book: EngravedBook,
    book: Callable[[dict[str, str | bytes]], Path],
    tiny: Callable[[str], str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    new = tiny("Three").replace("w D5", "w E5")
    more = open_book(book({"one": tiny("One"), "two": tiny("Two"), "three": new}))
    planned: list[list[str]] = []
    instrument_books = press_module.instrument_books_of

    def watched(book: Book) -> tuple[InstrumentBook, ...]:
        planned.append(sorted(exercise.slug for exercise in book.published))
        return instrument_books(book)

    monkeypatch.setattr(press_module, "instrument_books_of", watched)
    behind = BackgroundThread()
    made = engrave_book(more, behind=behind)
    behind.close()
    assert planned == [["three"], ["one", "three", "two"]]
    assert len(made.engravings.missing) == 12
    assert not made.failures
    assert len(made.engravings) == 36
    assert all(isinstance(each, Engraved) for each in made.engravings.values())
