"""Pieces taken apart ahead of time, on every core: a book's pages then find all of them in the cache."""

from __future__ import annotations

from collections.abc import Sequence

from builder.engrave.batch import Engraved, cores
from builder.engrave.cache import PieceCache

from ..helpers import Helpers

_WORTH = 100
"""Pieces that are worth a helper of their own: about half a second's work."""

Pairs = Sequence[tuple[str, str]]
"""Pieces, each by the key of its ink and the key for its strip."""


def read_ahead(pairs: Pairs, kept: PieceCache) -> None:
    """Take pieces apart."""
    count = min(cores(), len(pairs) // _WORTH)
    if count < 2:
        return
    helpers = Helpers(take_apart, [pairs[number::count] for number in range(count)], kept)
    try:
        helpers.wait()
    finally:
        helpers.stop()


def take_apart(pairs: Pairs, kept: PieceCache) -> None:
    """A helper's share."""
    from .glyphs import Unreadable
    from .reader import read

    for ink, strip in pairs:
        data = kept.get(ink)
        try:
            if data is not None:
                kept.put(strip, read(Engraved.from_bytes(data)).to_bytes())
        except (Unreadable, ValueError, KeyError, TypeError):
            continue  # told where its page is laid out
