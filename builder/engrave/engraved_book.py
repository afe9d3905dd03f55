"""From a book to its engraved pieces: what every way out (site, print) begins with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from ..book.pieces import InstrumentBook, instrument_books_of, instrument_root, pieces, scores
from ..book.read import Book
from ..cache.store import CacheStore
from ..jobs.progress import Progress
from ..music.score import Score
from ..music.winds.instruments import Instrument
from .engravings import Engravings
from .judging import engraver_at_fault
from .key_cache import KeyCache, keys_entry
from .piece import STAND, Failure, Layout, Piece
from .processes.background import BackgroundThread
from .processes.scheduler import Pool
from .processes.scheduler import engrave_all as engraved


@dataclass(frozen=True, slots=True)
class EngravedBook:
    """A book's plan and its ink by part name.

    Given to another process it takes no ink along: that is in the cache for both, or will be.
    """

    book: Book
    instrument_books: tuple[InstrumentBook, ...]
    engravings: Engravings[str]

    def __reduce__(self) -> tuple[Any, ...]:
        return _engraved_book_elsewhere, (
            self.book,
            self.instrument_books,
            *self.engravings.keys_and_failures(),
        )

    def root(self, instrument: Instrument) -> str:
        """The address of an instrument's book: empty where it is the only one."""
        return instrument_root(instrument, len(self.instrument_books))

    @property
    def failures(self) -> tuple[Failure, ...]:
        """The pieces that could not be engraved."""
        return self.engravings.failures


def _engraved_book_elsewhere(
    book: Book,
    instrument_books: tuple[InstrumentBook, ...],
    keys: dict[str, str],
    failures: dict[str, Failure],
) -> EngravedBook:
    music = scores(instrument_books)
    return EngravedBook(
        book,
        instrument_books,
        Engravings(keys, lambda name: Piece(name, music[name]), CacheStore(), failures),
    )


def engrave_book(
    book: Book,
    pool: Pool | None = None,
    progress: Progress | None = None,
    behind: BackgroundThread | None = None,
) -> EngravedBook:
    """Engrave a book's published exercises, with or behind the caller. Raises EngraverMissing."""
    known = KeyCache()
    said = book.language, book.notes
    places = {
        (exercise.slug, instrument.slug): keys_entry("wide", exercise, instrument, said)
        for exercise in book.published
        for instrument in book.instruments
    }
    begun = None
    if behind:
        # What is new is begun at once, while the plan of all is made.
        new = {slug for (slug, _), place in places.items() if not known.has(place)}
        few = tuple(exercise for exercise in book.exercises if exercise.slug in new)
        if len(few) < len(book.published):
            begun = engrave_scores(
                scores(instrument_books_of(replace(book, exercises=few))), pool, progress, behind=behind
            )
    plan = instrument_books_of(book)
    for instrument_book in plan:
        for exercise, pages in instrument_book.exercises:
            place = places[exercise.slug, instrument_book.instrument.slug]
            if known.load(place, parts := pieces(pages)) is None:
                known.request(place, parts)
    engravings = engrave_scores(scores(plan), pool, progress, STAND, behind, known.keys, begun)
    known.store_requested(engravings)
    return EngravedBook(book, plan, engravings)


def stop_where_most_failed(engravings: Engravings[str]) -> None:
    """Look at a book's pieces, all engraved. Raises EngraverAtFault where the book is hardly to blame.

    That is where at least half of what had to be engraved anew failed, over two exercises or more. An
    exercise that fails alone costs itself.
    """
    failed = engravings.failures
    new = sum(engravings.key(name) in engravings.missing for name in engravings)
    exercises = {failure.name.partition(",")[0] for failure in failed}
    if len(exercises) > 1 and 2 * len(failed) >= new:
        raise engraver_at_fault(failed, new)


def engrave_scores(
    music: Mapping[str, Score | str],
    pool: Pool | None = None,
    progress: Progress | None = None,
    layout: Layout = STAND,
    behind: BackgroundThread | None = None,
    known: Mapping[str, str] | None = None,
    begun: Engravings[str] | None = None,
) -> Engravings[str]:
    """Engrave scores, or notation, by name, with the user's cache. Raises EngraverMissing."""
    return engraved(
        music, lambda name: Piece(name, music[name], layout), pool, progress, None, behind, known, begun
    )
