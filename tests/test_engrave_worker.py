"""Engravers that stay: what they make, in which order, and what becomes of a piece that goes wrong."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from stavewright.cache.store import CacheStore
from stavewright.engrave.drawings.svg import numbered_heads
from stavewright.engrave.piece import STAND, Engraved, Failure, Layout, Piece, Use
from stavewright.engrave.processes import lilypond as engine
from stavewright.engrave.processes import scheduler as batch
from stavewright.engrave.processes import worker as worker_module
from stavewright.engrave.processes.finding import find_engraver
from stavewright.engrave.processes.lilypond import LilyPondServer, LilyPondServerLost
from stavewright.engrave.processes.worker import Worker, undated
from stavewright.engrave.processes.worker_processes import WorkerPool

SOUND = "\\score {{ \\new Staff {{ {0} }} }}\n"
PIECES = [Piece(f"piece {note}", SOUND.format(f"{note}'4 d' e' f'")) for note in "cdefgab"]
WRONG = Piece("wrong", SOUND.format("c'4 \\nosuchcommand"))
SCHEME = Piece("scheme", '#(error "out of tune")')


@pytest.fixture
def worker() -> Iterator[Worker]:
    made = Worker(find_engraver())
    yield made
    made.close()


def bytes_of(result: Engraved | Failure) -> bytes:
    assert isinstance(result, Engraved), result
    return result.to_bytes()


def test_order_and_company_leave_no_trace_in_the_ink(worker: Worker) -> None:
    there = {piece.name: bytes_of(found) for piece, found in zip(PIECES, worker.engrave(PIECES), strict=True)}
    other = Worker(find_engraver())
    backwards = PIECES[::-1]
    back = {
        piece.name: bytes_of(found) for piece, found in zip(backwards, other.engrave(backwards), strict=True)
    }
    other.close()
    alone = list(worker.engrave(PIECES[3:4]))
    assert there == back
    assert bytes_of(alone[0]) == there[PIECES[3].name]
    assert len(set(there.values())) == len(PIECES)


def test_one_bad_piece_costs_one_piece(worker: Worker) -> None:
    mixed = [PIECES[0], WRONG, PIECES[1], SCHEME, PIECES[2]]
    found = list(worker.engrave(mixed))
    assert [isinstance(result, Failure) for result in found] == [False, True, False, True, False]
    assert "nosuchcommand" in str(found[1])
    assert str(found[1]).startswith("wrong: the engraver failed: line 2:")
    alone = list(worker.engrave([PIECES[2]]))
    assert bytes_of(alone[0]) == bytes_of(found[4])


def test_two_layouts_in_one_go(worker: Worker) -> None:
    narrow = Layout(90, 20)
    mixed = [PIECES[0], replace(PIECES[0], layout=narrow), PIECES[1], replace(PIECES[1], layout=narrow)]
    widths = [found.drawing.width for found in worker.engrave(mixed) if isinstance(found, Engraved)]
    assert widths == pytest.approx([516, 261, 516, 261], abs=0.6)


def test_an_engraver_that_is_killed_is_started_again(worker: Worker) -> None:
    results = worker.engrave(PIECES)
    found = [next(results)]
    worker._servers[0]._kill()
    found += list(results)
    assert all(isinstance(result, Engraved) for result in found)


def test_an_engraver_is_renewed_before_it_has_grown(worker: Worker, monkeypatch: pytest.MonkeyPatch) -> None:
    pieces = [Piece(name, SOUND.format(f"{name}'1")) for name in "cde"]
    first = list(worker.engrave(pieces))
    [server] = worker._servers
    assert list(worker.engrave(pieces)) == first
    assert worker._servers == [server]
    monkeypatch.setattr(worker_module, "_RENEWED", 10)
    assert list(worker.engrave(pieces)) == first
    [other] = worker._servers
    assert other is not server
    assert not server.folder.exists()


def test_notation_that_cannot_be_written_is_named(worker: Worker) -> None:
    class Odd(Piece):
        @property
        def notation(self) -> str:
            raise ArithmeticError("no such note value")

    found = list(worker.engrave([PIECES[0], Odd("odd", ""), PIECES[1]]))
    assert isinstance(found[0], Engraved)
    assert isinstance(found[2], Engraved)
    assert "odd: the engraver failed: its notation could not be written" in str(found[1])
    assert "no such note value" in str(found[1])


@pytest.mark.exhaustive
def test_a_piece_that_takes_too_long_is_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "SECONDS", 2)
    monkeypatch.setattr(engine, "_WATCH", 0.05)
    worker = Worker(find_engraver())
    endless = Piece("endless", "#(let loop () (loop))")
    try:
        found = list(worker.engrave([PIECES[0], endless, PIECES[1]]))
    finally:
        worker.close()
    assert [isinstance(result, Failure) for result in found] == [False, True, False]
    assert str(found[1]) == "endless: the engraver failed: it was stopped after 2 seconds"


@pytest.mark.skipif(sys.platform != "linux", reason="limits on another process are Linux's")
def test_a_piece_that_takes_too_much_memory_is_stopped(
    worker: Worker, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(engine, "MEMORY", 600 * 1024**2)
    greedy = Piece("greedy", "#(let loop ((all '())) (loop (cons (make-string 10000000 #\\a) all)))")
    found = list(worker.engrave([PIECES[0], greedy, PIECES[1]]))
    assert [isinstance(result, Failure) for result in found] == [False, True, False]


@pytest.mark.skipif(sys.platform != "linux", reason="limits on another process are Linux's")
def test_a_piece_cannot_fill_the_disk(worker: Worker, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "FILE", 1024**2)
    loop = "(let loop () (display (make-string 9999 #\\a) port) (loop))"
    flood = Piece("flood", f'#(let ((port (open-file "flood.txt" "w"))) {loop})')
    found = list(worker.engrave([PIECES[0], flood, PIECES[1]]))
    assert [isinstance(result, Failure) for result in found] == [False, True, False]


def test_the_engraver_sees_nothing_of_the_user(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("A_SECRET", "sesame")
    monkeypatch.setenv("HOME", str(tmp_path))
    server = LilyPondServer(find_engraver().path, find_engraver().passes[0], STAND.head)
    try:
        server.send(
            "look", '#(format (current-error-port) "~a ~a ~a\n" (getenv "A_SECRET") (getenv "HOME") (getcwd))'
        )
        assert server.wait("look", 0) == [f"#f {server.folder} {server.folder}"]
        folder = server.folder
        assert folder != tmp_path
    finally:
        server.close()
    assert not folder.exists()


def test_text_cannot_pretend_that_a_piece_is_done() -> None:
    server = LilyPondServer(find_engraver().path, find_engraver().passes[0], STAND.head)
    try:
        server.send("a", '#(format (current-error-port) "done-0123456789abcdef a\n")')
        assert server.wait("a", 0) == ["done-0123456789abcdef a"]
        server.send("b", "#(primitive-_exit 3)")
        with pytest.raises(LilyPondServerLost, match="status 3"):
            server.wait("b", 0)
    finally:
        server.close()


def test_an_engraver_without_cairo_draws_the_same_music() -> None:
    able = find_engraver()
    plain = Worker(replace(able, cairo=False))
    worker = Worker(able)
    try:
        [first] = plain.engrave(PIECES[:1])
        [second] = worker.engrave(PIECES[:1])
    finally:
        plain.close()
        worker.close()
    assert isinstance(first, Engraved)
    assert isinstance(second, Engraved)
    assert first.systems == second.systems
    assert first.drawing.width == pytest.approx(second.drawing.width, abs=1)
    assert first.pdf.startswith(b"%PDF-")
    assert first.drawing.notes == second.drawing.notes
    for each in (first, second):
        assert numbered_heads(each.drawing.body) == list(range(len(each.drawing.notes)))


@pytest.mark.parametrize("cairo", [True, False], ids=["one engraver", "an engraver for each file"])
def test_a_piece_for_one_use_is_drawn_for_that_alone(cairo: bool) -> None:
    worker = Worker(replace(find_engraver(), cairo=cairo))
    try:
        uses = [Use.ANYWHERE, Use.SCREEN, Use.PAPER]
        made = list(worker.engrave([replace(PIECES[0], layout=replace(STAND, use=use)) for use in uses]))
    finally:
        worker.close()
    both, screen, paper = (found for found in made if isinstance(found, Engraved))
    assert screen.drawing == both.drawing
    assert paper.pdf == both.pdf
    with pytest.raises(ValueError, match="for screens alone"):
        _ = screen.pdf
    with pytest.raises(ValueError, match="for paper alone"):
        _ = paper.drawing
    for found in (both, screen, paper):
        assert Engraved.from_bytes(found.to_bytes()) == found


def test_equal_pieces_are_engraved_once_and_told_by_their_own_names(tmp_path: Path) -> None:
    pieces = {
        "a": PIECES[0],
        "b": replace(PIECES[0], name="piece b"),
        "c": WRONG,
        "d": replace(WRONG, name="also wrong"),
    }
    counts: list[tuple[int, int]] = []
    made = batch.engrave_all(
        pieces, pieces.__getitem__, progress=lambda *now: counts.append(now), cache=CacheStore(tmp_path)
    )
    assert counts == [(0, 2), (1, 2), (2, 2)]
    assert made["a"] == made["b"]
    assert [failure.name for failure in made.failures] == ["wrong", "also wrong"]
    assert CacheStore(tmp_path).size()[0] == 1


def test_the_same_ink_from_one_worker_and_from_many(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(batch, "_WORTH", 0.01)
    pieces = {f"{count}": Piece(f"{count}", SOUND.format("c'4 d' " * count)) for count in range(1, 13)}

    def made(jobs: int) -> batch.Engravings[str]:
        with closing(WorkerPool(jobs)) as pool:
            return batch.engrave_all(pieces, pieces.__getitem__, pool, cache=CacheStore(tmp_path / str(jobs)))

    one, many = made(1), made(3)
    assert {name: bytes_of(one[name]) for name in pieces} == {name: bytes_of(many[name]) for name in pieces}
    for folder in ("1", "3"):
        assert CacheStore(tmp_path / folder).size()[0] == len(pieces)


def test_dates_and_identifiers_of_a_pdf_become_noughts() -> None:
    pdf = (
        b"/CreationDate (D:20261125093615Z)\n/ModDate(D:20261125093615+01'00')\n"
        b"/ID [<0123456789ABCDEF0123456789ABCDEF><0123456789ABCDEF0123456789ABCDEF>]\n"
        b"<xmp:ModifyDate>2026-11-25T09:36:15Z</xmp:ModifyDate>\n"
        b"uuid:12345678-9abc-def0-1234-56789abcdef0 /Width 182"
    )
    settled = undated(pdf)
    assert len(settled) == len(pdf)
    assert b"/CreationDate (D:00000000000000Z)" in settled
    assert b"2026" not in settled
    assert b"9abc" not in settled
    assert b"/Width 182" in settled
    assert undated(settled) == settled


def test_where_no_engraver_is_the_message_says_how_to_get_one(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("STAVEWRIGHT_LILYPOND", os.devnull)
    find_engraver.cache_clear()
    try:
        with pytest.raises(engine.EngraverMissing, match="pip install 'lilypond"):
            find_engraver()
    finally:
        find_engraver.cache_clear()
