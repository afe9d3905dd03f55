"""Prints laid out ahead by helpers are the prints that would be made without."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from conftest import TWO_KEYS, write_book

from stavewright.book.edition import ExerciseEdition, edition_of
from stavewright.book.read import open_book
from stavewright.cache.store import CacheStore
from stavewright.engrave.engraved_book import EngravedBook, engrave_book
from stavewright.engrave.engravings import Engravings
from stavewright.engrave.processes.background import BackgroundThread
from stavewright.jobs import pool as helpers_module
from stavewright.jobs.pool import helper_pool
from stavewright.music.exercise import Exercise
from stavewright.paper.prefetch import extraction_tasks
from stavewright.paper.text import Text
from stavewright.paper.typesetter import Typesetter
from stavewright.prints.documents import print_keys
from stavewright.prints.edition_layouts import editions_of, engrave_editions
from stavewright.views import print_page as module
from stavewright.views.print_page import PrintCatalogue, PrintView

LONG = """\
title: A long tide
rights: written for this test, public domain
kind: long tones
home: D5 in D major
travel: semitones up from D5 to Eb5
variations: slurred, swell up
music:
  q D5 mf E5 F#5 G5 | A5 G5 F#5 E5 | D5 E5 F#5 G5 | A5 G5 F#5 E5 | D5 E5 F#5 G5 | w D5 fermata
"""


@pytest.fixture(scope="module")
def ink(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A cache with the ink of the book below."""
    folder = tmp_path_factory.mktemp("ink")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("STAVEWRIGHT_CACHE", str(folder / "cache"))
        book = write_book(folder / "book", {"long": LONG, "one": TWO_KEYS.format(title="One")})
        found = engrave_book(open_book(book))
        assert found.failures == ()
        engrave_editions(edition for each in found.instrument_books for edition in editions_of(each))
    return folder / "cache"


@pytest.fixture
def engraved_book(
    engraved: Callable[[dict[str, str | bytes]], EngravedBook],
    two_keys: Callable[[str], str],
    ink: Path,
    tmp_path: Path,
) -> EngravedBook:
    """A small book, engraved; nothing of it is laid out."""
    shutil.copytree(ink, tmp_path / "cache")
    return engraved({"long": LONG, "one": two_keys("One")})


def catalogue(engraved_book: EngravedBook, description: str = "A description") -> PrintCatalogue:
    """Its files, with all music of the book edition engraved."""
    editions = engrave_editions(
        edition for each in engraved_book.instrument_books for edition in editions_of(each)
    )
    return PrintCatalogue(engraved_book, editions, description)


def files(view: PrintView) -> dict[str, bytes]:
    return {file.address: file.data for file in view.files}


def all_kept(found: PrintCatalogue) -> bool:
    kept = CacheStore()
    jobs = found._prints.jobs
    keys = [
        key
        for job in jobs
        for key in print_keys(job.request(found._prints), found._typesetters[job.choice.is_bound])
    ]
    assert len(keys) == 2 * len(jobs)
    return all(map(kept.has, keys))


def test_helpers_make_the_same(
    engraved_book: EngravedBook, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(helpers_module, "cores", lambda: 3)
    monkeypatch.setattr(module, "_WORTH", 1)
    helped = catalogue(engraved_book, "A description")
    words = helped.engrave_words(None, BackgroundThread())
    words.wait()
    with helper_pool(CacheStore().place) as helpers:
        tasks = helped.layout_tasks(3)
        assert len(tasks) == 3
        helpers.share(engraved_book)
        helpers.submit(extraction_tasks(helped.not_extracted(engraved_book.engravings, words), 3), tasks)
        helpers.wait()
    assert all_kept(helped)
    assert not helped.not_extracted(engraved_book.engravings, words)
    with_helpers = files(helped.view)
    # Another cache, so that nothing is found.
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(tmp_path / "other"))
    alone = catalogue(engrave_book(engraved_book.book), "A description")
    assert not all_kept(alone)
    assert files(alone.view) == with_helpers
    # The book, two keys and two exercises, on two papers.
    assert len(with_helpers) == (1 + 2 + 2) * 2
    assert all(data.startswith(b"%PDF-") for data in with_helpers.values())


def test_a_book_offers_the_papers_that_it_names(engraved_book: EngravedBook) -> None:
    both = {file.address: file.data for file in catalogue(engraved_book, "A description").view.files}
    alone = replace(engraved_book, book=replace(engraved_book.book, papers=("a4",)))
    found = {file.address: file.data for file in catalogue(alone, "A description").view.files}
    assert found == {address: data for address, data in both.items() if not address.endswith("-letter.pdf")}
    assert len(found) * 2 == len(both)


def test_all_the_words_of_the_prints_are_engraved_ahead(
    engraved_book: EngravedBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = catalogue(engraved_book, "A description")
    found.engrave_words(None, BackgroundThread()).wait()
    asked = []

    def written(self: Typesetter, texts: Iterable[Text], *more: Any) -> Engravings[Text]:
        made = ink(self, texts, *more)
        asked.extend(name for name in made if made.key(name) in made.missing)
        return made

    ink = Typesetter.written
    monkeypatch.setattr(Typesetter, "written", written)
    assert len(files(found.view)) == 10
    assert asked == []


def test_words_are_looked_for_in_new_exercises_only(
    engraved_book: EngravedBook, engraved: Callable[[dict[str, str | bytes]], EngravedBook]
) -> None:
    first = catalogue(engraved_book)
    words = first.engrave_words(None, BackgroundThread())
    words.wait()
    first.note_words(words)
    assert len(files(first.view)) == 10
    again = catalogue(
        engraved({"long": LONG, "one": TWO_KEYS.format(title="One"), "two": TWO_KEYS.format(title="Two")})
    )
    new = {found.words for found in again.engrave_words(None, BackgroundThread())}
    assert any(said.startswith("Two") for said in new)
    assert "A long tide" in {found.words for found in words}
    assert not any("long tide" in said for said in new)


def test_an_edition_and_the_keys_of_a_print_are_made_once(
    engraved_book: EngravedBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[str] = []

    def counted(exercise: Exercise, *more: Any) -> ExerciseEdition:
        made.append(exercise.slug)
        return edition_of(exercise, *more)

    monkeypatch.setattr("stavewright.prints.documents.edition_of", counted)
    found = catalogue(engraved_book)
    found.engrave_words(None, BackgroundThread()).wait()
    monkeypatch.setattr("stavewright.prints.documents.print_keys", None)
    assert len(files(found.view)) == 10
    assert sorted(made) == ["long", "one"]


def test_a_print_that_is_no_longer_kept_is_made_again(engraved_book: EngravedBook) -> None:
    view = catalogue(engraved_book, "").view
    before = files(view)
    assert CacheStore().clear() > 0
    assert files(view) == before


def test_what_is_kept_is_not_laid_out_again(
    engraved_book: EngravedBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = files(catalogue(engraved_book, "").view)
    monkeypatch.setattr("stavewright.prints.documents._composed", None)
    assert files(catalogue(engraved_book, "").view) == first


def test_a_book_with_a_failing_piece_keeps_no_print_of_it(
    engraved_book: EngravedBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is told each time, and not only the first."""
    from dataclasses import replace

    from stavewright.engrave.engravings import Engravings as Made
    from stavewright.engrave.piece import Engraved, Failure

    get = Made.__getitem__
    bad = next(name for name in engraved_book.engravings if name.startswith("one"))

    def spoilt(self: Made[str], name: str) -> Engraved | Failure:
        return Failure(name, "it would not") if name == bad else get(self, name)

    monkeypatch.setattr(Made, "__getitem__", spoilt)
    for _ in range(2):
        view = catalogue(replace(engraved_book), "").view
        assert view.failed == (f"{bad}: the engraver failed: it would not",)
