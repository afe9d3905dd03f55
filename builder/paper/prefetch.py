"""Pieces taken apart ahead of time, on every core: a book's pages then find all of them in the cache."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ..cache.store import CacheStore
from ..engrave.piece import Engraved
from ..jobs.pool import Task, helper_pool

PRELOAD = (f"{__package__}.pdf.reader",)
"""What helpers need for this."""

_WORTH = 100
"""Pieces that are worth another helper: about half a second's work."""

_MANY = 200
"""Pieces that are worth starting helpers for: about a second's work."""

Pairs = Sequence[tuple[str, str]]
"""Pieces, each by the key of its ink and the key for its strip."""


def extraction_tasks(pairs: Pairs, most: int) -> list[Task]:
    """Tasks for helpers, `most` at most: to take pieces apart."""
    count = min(most, -(-len(pairs) // _WORTH))
    return [(take_apart, pairs[number::count]) for number in range(count)]


def extract_ahead(pairs: Pairs, kept: CacheStore) -> None:
    """Take pieces apart, with helpers where there are many."""
    if len(pairs) < _MANY:
        return
    with helper_pool(kept.place, preload=PRELOAD) as helpers:
        helpers.submit(extraction_tasks(pairs, helpers.count))
        helpers.wait()


def take_apart(common: object, pairs: Pairs, cache: Path) -> None:
    """A helper's share."""
    from .pdf.fonts import Unreadable
    from .pdf.reader import extract_piece

    kept = CacheStore(cache)
    for ink, strip in pairs:
        data = kept.get(ink)
        try:
            if data is not None:
                kept.put(strip, extract_piece(Engraved.from_bytes(data)).to_bytes())
        except (Unreadable, ValueError, KeyError, TypeError):
            continue  # told where its page is laid out
