"""From a book to its engraved pieces: what every way out (site, print) begins with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from ..book.pieces import Shelf, pieces, scores, shelf_root, shelves
from ..book.read import Book
from ..cache.store import PieceCache
from ..music.instruments import Instrument
from ..music.score import Score
from .judging import at_fault
from .key_cache import Known, entry
from .scheduler import STAND, Behind, Failure, Ink, Layout, Piece, Progress
from .scheduler import ink as engraved


@dataclass(frozen=True, slots=True)
class Pressed:
    """A book's plan and its ink by part name.

    Given to another process it takes no ink along: that is in the cache for both, or will be.
    """

    book: Book
    shelves: tuple[Shelf, ...]
    inked: Ink[str]

    def __reduce__(self) -> tuple[Any, ...]:
        return _pressed_elsewhere, (self.book, self.shelves, *self.inked.kept_under())

    def root(self, instrument: Instrument) -> str:
        """The address of an instrument's book: empty where it is the only one."""
        return shelf_root(instrument, len(self.shelves))

    @property
    def failures(self) -> tuple[Failure, ...]:
        """The pieces that could not be engraved."""
        return self.inked.failures


def _pressed_elsewhere(
    book: Book, shelves: tuple[Shelf, ...], keys: dict[str, str], failures: dict[str, Failure]
) -> Pressed:
    music = scores(shelves)
    return Pressed(book, shelves, Ink(keys, lambda name: Piece(name, music[name]), PieceCache(), failures))


def press(
    book: Book, jobs: int | None = None, progress: Progress | None = None, behind: Behind | None = None
) -> Pressed:
    """Engrave a book's published exercises, with or behind the caller. Raises EngraverMissing."""
    known = Known()
    places = {
        (exercise.slug, instrument.slug): entry("wide", exercise, instrument)
        for exercise in book.published
        for instrument in book.instruments
    }
    begun = None
    if behind:
        # What is new is begun at once, while the plan of all is made.
        new = {slug for (slug, _), place in places.items() if not known.has(place)}
        few = tuple(exercise for exercise in book.exercises if exercise.slug in new)
        if len(few) < len(book.published):
            begun = ink(scores(shelves(replace(book, exercises=few))), jobs, progress, behind=behind)
    plan = shelves(book)
    for shelf in plan:
        for exercise, pages in shelf.exercises:
            place = places[exercise.slug, shelf.instrument.slug]
            if known.look(place, parts := pieces(pages)) is None:
                known.wanted(place, parts)
    inked = ink(scores(plan), jobs, progress, STAND, behind, known.keys, begun)
    known.keep(inked)
    return Pressed(book, plan, inked)


def stop_where_most_failed(inked: Ink[str]) -> None:
    """Look at a book's pieces, all engraved. Raises EngraverAtFault where the book is hardly to blame.

    That is where at least half of what had to be engraved anew failed, over two exercises or more. An
    exercise that fails alone costs itself.
    """
    failed = inked.failures
    new = sum(inked.key(name) in inked.lacking for name in inked)
    exercises = {failure.name.partition(",")[0] for failure in failed}
    if len(exercises) > 1 and 2 * len(failed) >= new:
        raise at_fault(failed, new)


def ink(
    music: Mapping[str, Score | str],
    jobs: int | None = None,
    progress: Progress | None = None,
    layout: Layout = STAND,
    behind: Behind | None = None,
    known: Mapping[str, str] | None = None,
    begun: Ink[str] | None = None,
) -> Ink[str]:
    """Engrave scores, or notation, by name, with the user's cache. Raises EngraverMissing."""
    return engraved(
        music, lambda name: Piece(name, music[name], layout), jobs, progress, None, behind, known, begun
    )
