"""Prints laid out ahead by helpers are the prints that would be made without."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pytest

from stavewright.cache.store import PieceCache
from stavewright.engrave.engraved_book import Pressed, press
from stavewright.engrave.scheduler import Behind, Ink
from stavewright.jobs import pool as helpers_module
from stavewright.jobs.pool import helping
from stavewright.paper.documents import print_keys
from stavewright.paper.prefetch import strips_ahead
from stavewright.paper.text import Text
from stavewright.paper.typesetter import Workshop
from stavewright.site import print_page as module
from stavewright.site.print_page import Offering, PrintView

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
def pressed(engraved: Callable[[dict[str, str | bytes]], Pressed], tiny: Callable[[str], str]) -> Pressed:
    """A small book, engraved."""
    return engraved({"long": LONG, "one": tiny("One")})


def files(view: PrintView) -> dict[str, bytes]:
    return {file.address: file.data for file in view.files}


def all_kept(found: Offering) -> bool:
    kept = PieceCache()
    jobs = found._prints.jobs
    keys = [key for job in jobs for key in print_keys(*job.what(found._prints), found._workshops)]
    assert len(keys) == 2 * len(jobs)
    return all(map(kept.has, keys))


def test_helpers_make_the_same(pressed: Pressed, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(helpers_module, "cores", lambda: 3)
    monkeypatch.setattr(module, "_WORTH", 1)
    helped = Offering(pressed, "A description")
    words = helped.words(None, Behind())
    words.wait()
    with helping(PieceCache().place) as helpers:
        tasks = helped.ahead(3)
        assert len(tasks) == 3
        helpers.tell(pressed)
        helpers.give(strips_ahead(helped.apart(pressed.inked, words), 3), tasks)
        helpers.wait()
    assert all_kept(helped)
    assert not helped.apart(pressed.inked, words)
    with_helpers = files(helped.view)
    # Another cache, so that nothing is found.
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(tmp_path / "other"))
    alone = Offering(press(pressed.book), "A description")
    assert not all_kept(alone)
    assert files(alone.view) == with_helpers
    # The book, twelve keys and two exercises, on two papers.
    assert len(with_helpers) == (1 + 12 + 2) * 2
    assert all(data.startswith(b"%PDF-") for data in with_helpers.values())


def test_all_the_words_of_the_prints_are_engraved_ahead(
    pressed: Pressed, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = Offering(pressed, "A description")
    found.words(None, Behind()).wait()
    asked = []

    def written(self: Workshop, texts: Iterable[Text], *more: Any) -> Ink[Text]:
        made = ink(self, texts, *more)
        asked.extend(name for name in made if made.key(name) in made.lacking)
        return made

    ink = Workshop.written
    monkeypatch.setattr(Workshop, "written", written)
    assert len(files(found.view)) == 30
    assert asked == []


def test_a_print_that_is_no_longer_kept_is_made_again(pressed: Pressed) -> None:
    view = Offering(pressed, "").view
    before = files(view)
    assert PieceCache().clear() > 0
    assert files(view) == before


def test_what_is_kept_is_not_laid_out_again(pressed: Pressed, monkeypatch: pytest.MonkeyPatch) -> None:
    first = files(Offering(pressed, "").view)
    monkeypatch.setattr("stavewright.paper.documents._composed", None)
    assert files(Offering(pressed, "").view) == first


def test_a_book_with_a_failing_piece_keeps_no_print_of_it(
    pressed: Pressed, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is told each time, and not only the first."""
    from dataclasses import replace

    from stavewright.engrave.scheduler import Engraved, Failure
    from stavewright.engrave.scheduler import Ink as Made

    get = Made.__getitem__
    bad = next(name for name in pressed.inked if name.startswith("one"))

    def spoilt(self: Made[str], name: str) -> Engraved | Failure:
        return Failure(name, "it would not") if name == bad else get(self, name)

    monkeypatch.setattr(Made, "__getitem__", spoilt)
    for _ in range(2):
        view = Offering(replace(pressed), "").view
        assert view.failed == (f"{bad}: the engraver failed: it would not",)
