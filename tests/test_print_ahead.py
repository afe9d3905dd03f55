"""Prints laid out ahead by helpers are the prints that would be made without, and no helper is needed."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from builder.book import open_book
from builder.engrave.cache import PieceCache
from builder.publish.paper import offer as module
from builder.publish.paper.make import print_keys
from builder.publish.paper.offer import Offering, PrintView, offering
from builder.publish.press import Pressed, press

LONG = """\
title: A long tide
rights: written for this test, public domain
kind: long tones
home: D5 in D major
variations: slurred, swell up
music:
  q D5 mf E5 F#5 G5 | A5 G5 F#5 E5 | D5 E5 F#5 G5 | A5 G5 F#5 E5 | D5 E5 F#5 G5 | w D5 fermata
"""


@pytest.fixture
def pressed(
    book: Callable[[dict[str, str | bytes]], Path],
    tiny: Callable[[str], str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> Pressed:
    """A small book, engraved, with a cache of its own."""
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(tmp_path / "cache"))
    return press(open_book(book({"long": LONG, "one": tiny("One")})))


def files(view: PrintView) -> dict[str, bytes]:
    return {file.address: file.data for file in view.files}


def all_kept(found: Offering) -> bool:
    kept = PieceCache()
    jobs = found._share.jobs
    keys = [key for job in jobs for key in print_keys(*job.what(found._share), found._workshops)]
    assert len(keys) == 2 * len(jobs)
    return all(map(kept.has, keys))


def test_helpers_make_the_same(pressed: Pressed, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(module, "cores", lambda: 3)
    monkeypatch.setattr(module, "_WORTH", 1)
    with offering(pressed, "A description") as helped:
        assert helped._helpers.count == 3
        helped._helpers.wait()
        assert all_kept(helped)
        with_helpers = files(helped.offer())
    # Another cache, so that nothing is found.
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(tmp_path / "other"))
    monkeypatch.setattr(module, "_WORTH", 10**6)
    with offering(press(pressed.book), "A description") as alone:
        assert alone._helpers.count == 0
        assert not all_kept(alone)
        without = files(alone.offer())
    assert with_helpers == without
    # The book, twelve keys and two exercises, on two papers.
    assert len(without) == (1 + 12 + 2) * 2
    assert all(data.startswith(b"%PDF-") for data in without.values())


def test_a_helper_that_is_lost_is_not_missed(pressed: Pressed, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "cores", lambda: 2)
    monkeypatch.setattr(module, "_WORTH", 1)
    with offering(pressed, "") as found:
        found.stop()
        assert len(files(found.offer())) == 30


def test_no_helper_is_left_at_work(pressed: Pressed, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "cores", lambda: 2)
    monkeypatch.setattr(module, "_WORTH", 1)
    with pytest.raises(ZeroDivisionError), offering(pressed, "") as found:
        raise ZeroDivisionError
    assert [helper.returncode is None for helper in found._helpers._running] == [False, False]


def test_a_print_that_is_no_longer_kept_is_made_again(pressed: Pressed) -> None:
    with offering(pressed, "") as found:
        view = found.offer()
    before = files(view)
    assert PieceCache().clear() > 0
    assert files(view) == before


def test_what_is_kept_is_not_laid_out_again(pressed: Pressed, monkeypatch: pytest.MonkeyPatch) -> None:
    with offering(pressed, "") as found:
        first = files(found.offer())
    monkeypatch.setattr("builder.publish.paper.make._composed", None)
    with offering(pressed, "") as found:
        assert files(found.offer()) == first


def test_a_book_with_a_failing_piece_keeps_no_print_of_it(
    pressed: Pressed, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is told each time, and not only the first."""
    from dataclasses import replace

    from builder.engrave.batch import Engraved, Failure
    from builder.engrave.batch import Ink as Made

    get = Made.__getitem__
    bad = next(name for name in pressed.inked if name.startswith("one"))

    def spoilt(self: Made[str], name: str) -> Engraved | Failure:
        return Failure(name, "it would not") if name == bad else get(self, name)

    monkeypatch.setattr(Made, "__getitem__", spoilt)
    for _ in range(2):
        with offering(replace(pressed), "") as found:
            view = found.offer()
        assert view.failed == (f"{bad}: the engraver failed: it would not",)


SLOW = """\
import os, time
from pathlib import Path

def work(share, kept):
    Path(share).write_text(str(os.getpid()))
    time.sleep(600)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="a process there does not learn of its parent's end")
def test_a_helper_ends_with_its_builder(tmp_path: Path) -> None:
    (tmp_path / "slow.py").write_text(SLOW)
    told = tmp_path / "helper"
    code = (
        "import time, slow; from pathlib import Path; from builder.publish.helpers import Helpers\n"
        "from builder.engrave.cache import PieceCache\n"
        f"Helpers(slow.work, [{str(told)!r}], PieceCache(Path({str(tmp_path)!r})))\n"
        "time.sleep(600)"
    )
    environment = os.environ | {"PYTHONPATH": str(tmp_path)}
    with subprocess.Popen([sys.executable, "-c", code], env=environment) as builder:
        for _ in range(600):
            if told.exists() and told.read_text():
                break
            time.sleep(0.1)
        helper = int(told.read_text())
        os.kill(helper, 0)
        builder.kill()
    for _ in range(600):
        try:
            os.kill(helper, 0)
        except ProcessLookupError:
            return
        time.sleep(0.1)
    pytest.fail("the helper goes on without its builder")
