"""A cache of the keys of an exercise's pieces, so that unchanged exercises are not transposed again."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence

from ..book.pieces import Rendition
from ..cache.memo import memo_key
from ..cache.store import CacheStore
from ..music.exercise import Exercise, exercise_fingerprint
from ..music.winds.instruments import Instrument
from . import piece
from .engravings import Engravings
from .processes.finding import find_engraver

Keys = list[str | None]
"""A key for each piece, in the order of the plan; None where there is no such piece."""


def keys_entry(kind: str, exercise: Exercise, instrument: Instrument, more: Iterable[str] = ()) -> str:
    """Where an exercise's keys of a kind are kept; `more` decides them too. Raises EngraverMissing."""
    engraver = find_engraver()
    decided = (*engraver.decides, exercise_fingerprint(exercise), repr(instrument))
    return memo_key("keys", (kind, piece.code(), *decided, *more))


class KeyCache:
    """Keys of a kind by their parts' names, exercise by exercise: those that are kept, and those to keep."""

    def __init__(self) -> None:
        self.keys: dict[str, str] = {}
        self._store = CacheStore()
        self._unknown: list[tuple[str, Sequence[Rendition]]] = []

    def has(self, place: str) -> bool:
        """Whether something is kept at a place."""
        return self._store.has(place)

    def load(self, place: str, parts: Sequence[Rendition]) -> Keys | None:
        """The keys of an exercise's parts that are kept at a place, None where there are none."""
        try:
            found: Keys | None = json.loads(self._store.get(place) or b"null")
        except ValueError:
            return None
        if not isinstance(found, list) or len(found) != len(parts):
            return None
        self.keys |= {part.name: key for part, key in zip(parts, found, strict=True) if key is not None}
        return found

    def request(self, place: str, parts: Sequence[Rendition]) -> None:
        """Let keys be kept there when they are known."""
        self._unknown.append((place, parts))

    def store_requested(self, engravings: Engravings[str]) -> None:
        """Keep what was wanted."""
        for place, parts in self._unknown:
            keys = [engravings.key(part.name) if part.name in engravings else None for part in parts]
            self._store.put(place, json.dumps(keys).encode())
