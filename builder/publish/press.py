"""From a book to its engraved pieces: what every way out (site, print) begins with."""

from __future__ import annotations

from dataclasses import dataclass

from builder.book import Book
from builder.engrave.batch import STAND, Engraved, Failure, Layout, Piece, Progress, engrave
from builder.engrave.cache import PieceCache
from builder.engrave.notation import notation

from .plan import Shelf, scores, shelves


@dataclass(frozen=True, slots=True)
class Pressed:
    """A book's plan and its ink by part name."""

    book: Book
    shelves: tuple[Shelf, ...]
    inked: dict[str, Engraved | Failure]

    @property
    def failures(self) -> tuple[Failure, ...]:
        """The pieces that could not be engraved."""
        return tuple(ink for ink in self.inked.values() if isinstance(ink, Failure))


def press(book: Book, jobs: int | None = None, progress: Progress | None = None) -> Pressed:
    """Engrave a book's published exercises. Raises EngraverMissing."""
    plan = shelves(book)
    wanted = scores(plan)
    inked = ink({name: notation(score) for name, score in wanted.items()}, jobs, progress)
    return Pressed(book, plan, inked)


def ink(
    notations: dict[str, str],
    jobs: int | None = None,
    progress: Progress | None = None,
    layout: Layout = STAND,
) -> dict[str, Engraved | Failure]:
    """Engrave notations by name, with the user's cache."""
    cache = PieceCache()
    try:
        pieces = [Piece(name, text, layout) for name, text in notations.items()]
        return dict(zip(notations, engrave(pieces, jobs, progress, cache), strict=True))
    finally:
        cache.close()
