"""From a book to its engraved pieces: what every way out (site, print) begins with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from builder.book import Book
from builder.engrave.batch import STAND, Failure, Ink, Layout, Piece, Progress
from builder.engrave.batch import ink as engraved
from builder.music.score import Score

from .plan import Shelf, scores, shelves


@dataclass(frozen=True, slots=True)
class Pressed:
    """A book's plan and its ink by part name."""

    book: Book
    shelves: tuple[Shelf, ...]
    inked: Ink[str]

    @property
    def failures(self) -> tuple[Failure, ...]:
        """The pieces that could not be engraved."""
        return self.inked.failures


def press(book: Book, jobs: int | None = None, progress: Progress | None = None) -> Pressed:
    """Engrave a book's published exercises. Raises EngraverMissing."""
    plan = shelves(book)
    return Pressed(book, plan, ink(scores(plan), jobs, progress))


def ink(
    music: Mapping[str, Score | str],
    jobs: int | None = None,
    progress: Progress | None = None,
    layout: Layout = STAND,
) -> Ink[str]:
    """Engrave scores, or notation, by name, with the user's cache. Raises EngraverMissing."""
    return engraved(music, lambda name: Piece(name, music[name], layout), jobs, progress)
