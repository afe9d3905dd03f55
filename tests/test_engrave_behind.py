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

from stavewright.book.pieces import Shelf
from stavewright.book.read import Book, open_book
from stavewright.cache.store import PieceCache
from stavewright.cli import main
from stavewright.engrave import engraved_book as press_module
from stavewright.engrave import key_cache as known_module
from stavewright.engrave import scheduler as batch
from stavewright.engrave import worker_processes as processes
from stavewright.engrave.engraved_book import Pressed, press
from stavewright.engrave.lilypond import Desk
from stavewright.engrave.scheduler import (
    Behind,
    Engraved,
    Failure,
    Ink,
    Piece,
    end_workers,
    ink,
    start_worker,
)
from stavewright.site.incipits import screen

NOTES = {
    "one": "\\score { { c'1 } }\n",
    "two": "\\score { { d'1 } }\n",
    "bad": "\\score { { c'1 \\nothing } }\n",
}


@pytest.fixture
def held() -> Iterator[tuple[Behind, Event]]:
    """A thread behind, busy until the event is set."""
    go = Event()
    behind = Behind()
    behind.begin(go.wait)
    yield behind, go
    go.set()
    behind.close()


def wanted(
    names: list[str], cache: PieceCache, behind: Behind | None = None, begun: Ink[str] | None = None
) -> Ink[str]:
    return ink(names, lambda name: Piece(name, NOTES[name]), None, None, cache, behind, None, begun)


def test_the_caller_goes_on_and_waits_for_what_is_not_there(
    held: tuple[Behind, Event], tmp_path: Path
) -> None:
    behind, go = held
    cache = PieceCache(tmp_path)
    before = wanted(["one"], cache)["one"]
    made = wanted(["one", "two", "bad"], cache, behind)
    assert made.lacking == {made.key("two"), made.key("bad")}
    # What is kept is there at once.
    assert made["one"] == before
    assert made.kept_under()[1] == {}
    go.set()
    assert isinstance(made["two"], Engraved)
    assert isinstance(made["bad"], Failure)
    assert [failure.name for failure in made.failures] == ["bad"]
    assert wanted(["one", "two"], cache)["two"] == made["two"]


def test_what_was_begun_before_is_not_made_twice(
    held: tuple[Behind, Event], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    end_workers()
    behind, go = held
    cache = PieceCache(tmp_path)
    sent: list[str] = []
    work = batch.worker.work

    def counted(tasks: list[tuple[str, Piece]], place: Path | None) -> object:
        sent.extend(piece.name for _, piece in tasks)
        return work(tasks, place)

    monkeypatch.setattr(batch.worker, "work", counted)
    begun = wanted(["two", "bad"], cache, behind)
    made = wanted(["one", "two", "bad"], cache, behind, begun)
    assert made.lacking == {made.key(name) for name in made}
    go.set()
    assert [failure.name for failure in made.failures] == ["bad"]
    assert isinstance(made["two"], Engraved)
    assert sorted(sent) == ["bad", "one", "two"]


def test_what_kept_it_from_being_made_is_raised_where_it_is_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> list[object]:
        raise batch.WorkersDiffer("another version")

    monkeypatch.setattr(batch, "_lanes", broken)
    behind = Behind()
    made = wanted(["one"], PieceCache(tmp_path), behind)
    behind.close()
    with pytest.raises(batch.WorkersDiffer):
        made.wait()
    with pytest.raises(batch.WorkersDiffer):
        _ = made["one"]


def test_an_engraver_that_worked_behind_ends_with_its_thread(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A served book makes a thread for each build."""
    end_workers()
    monkeypatch.setattr(batch, "cores", lambda: 1)
    desks: list[Desk] = []
    start = Desk.__init__

    def watched(self: Desk, *given: Any) -> None:
        start(self, *given)
        desks.append(self)

    monkeypatch.setattr(Desk, "__init__", watched)
    behind = Behind()
    made = wanted(["one"], PieceCache(tmp_path), behind)
    behind.close()
    assert isinstance(made["one"], Engraved)
    [desk] = desks
    for _ in range(600):
        if not desk.folder.exists():
            break
        time.sleep(0.1)
    assert not desk.folder.exists()
    assert desk._process.returncode is not None


def test_work_behind_keeps_its_order_and_survives_a_fault() -> None:
    behind = Behind()
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
    end_workers()
    monkeypatch.setattr(processes, "cores", lambda: 2)
    start_worker()
    [process] = processes._processes
    worker = process.start()
    assert worker.poll() is None
    made = wanted(["one", "bad"], PieceCache(tmp_path))
    assert isinstance(made["one"], Engraved)
    assert isinstance(made["bad"], Failure)
    # It is still the one that was started first, and had the work.
    assert process.start() is worker
    assert processes._processes == [process]
    end_workers()
    assert worker.wait(60) is not None
    assert processes._processes == []
    with pytest.raises(processes.Lost):
        process.start()


def test_a_faulty_book_leaves_no_worker_behind(
    book: Callable[[dict[str, str | bytes]], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    end_workers()
    monkeypatch.setattr(processes, "cores", lambda: 2)
    started: list[subprocess.Popen[bytes]] = []
    start = processes.Process.start

    def watched(self: processes.Process) -> subprocess.Popen[bytes]:
        started.append(start(self))
        return started[-1]

    monkeypatch.setattr(processes.Process, "start", watched)
    assert main(["build", "--book", str(book({"bad": "title: Bad\n"}))]) == 1
    [worker] = started
    assert worker.wait(60) is not None
    assert processes._processes == processes._ready == []


def test_a_worker_that_is_not_needed_says_nothing(tmp_path: Path) -> None:
    code = "from stavewright.engrave.worker_processes import start_worker; start_worker(2)"
    code = (
        f"from stavewright.engrave import worker_processes as processes; processes.cores = lambda: 2; {code}"
    )
    ways = ("", "; import os; os._exit(0)")
    for way in ways:
        done = subprocess.run([sys.executable, "-c", code + way], capture_output=True, text=True, timeout=120)
        assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


@pytest.fixture
def pressed(engraved: Callable[[dict[str, str | bytes]], Pressed], tiny: Callable[[str], str]) -> Pressed:
    """A small book, engraved."""
    found = engraved({"one": tiny("One"), "two": tiny("Two")})
    screen(found)
    return found


def test_the_keys_of_an_unchanged_exercise_are_not_found_out_again(
    pressed: Pressed, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = screen(pressed)
    asked: list[str] = []
    key = Piece.key

    def counted(self: Piece, engraver: object) -> str:
        asked.append(self.name)
        return key(self, engraver)  # type: ignore[arg-type]

    monkeypatch.setattr(Piece, "key", counted)
    again = press(pressed.book)
    assert asked == []
    assert {name: again.inked.key(name) for name in again.inked} == pressed.inked.kept_under()[0]
    assert screen(again).narrow.kept_under() == first.narrow.kept_under()


def test_keys_that_are_damaged_are_found_out_again(pressed: Pressed) -> None:
    store = PieceCache()
    places = [
        known_module.entry("wide", exercise, pressed.shelves[0].instrument)
        for exercise in pressed.book.exercises
    ]
    assert all(map(store.has, places))
    for damage in (b"[", b"{}", json.dumps(["ab"]).encode()):
        store.put(places[0], damage)
        again = press(pressed.book)
        assert again.inked.kept_under() == pressed.inked.kept_under()
        found = json.loads(store.get(places[0]) or b"")
        assert len(found) == 12


def test_what_is_new_is_begun_before_the_plan_of_all_is_made(
    pressed: Pressed,
    book: Callable[[dict[str, str | bytes]], Path],
    tiny: Callable[[str], str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    new = tiny("Three").replace("w D5", "w E5")
    more = open_book(book({"one": tiny("One"), "two": tiny("Two"), "three": new}))
    planned: list[list[str]] = []
    shelves = press_module.shelves

    def watched(book: Book) -> tuple[Shelf, ...]:
        planned.append(sorted(exercise.slug for exercise in book.published))
        return shelves(book)

    monkeypatch.setattr(press_module, "shelves", watched)
    behind = Behind()
    made = press(more, behind=behind)
    behind.close()
    assert planned == [["three"], ["one", "three", "two"]]
    assert len(made.inked.lacking) == 12
    assert not made.failures
    assert len(made.inked) == 36
    assert all(isinstance(each, Engraved) for each in made.inked.values())
