"""Engraved pieces by the names that they were asked for with, read from the cache when they are wanted."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Mapping, Set
from concurrent.futures import Future
from contextlib import suppress
from typing import TypeVar

from ..cache.store import CacheStore
from . import worker as worker_module
from .judging import engraver_at_fault
from .piece import Blame, Engraved, Failure, Piece

K = TypeVar("K", bound=Hashable)


class Engravings(Mapping[K, Engraved | Failure]):
    """Engraved pieces by the names that they were asked for with.

    Only what the cache could not keep is held in memory; the rest is read when it is asked for, and a piece
    that is no longer there is engraved again.
    """

    def __init__(
        self,
        keys: dict[K, str],
        piece: Callable[[K], Piece],
        cache: CacheStore,
        failures: Mapping[str, Failure] | None = None,
    ) -> None:
        self._keys = keys
        self._piece = piece
        self._cache = cache
        self._held: dict[str, Engraved | Failure] = dict(failures or {})
        self.made: Future[None] | None = None
        """What makes it, where that is still at work."""
        self.missing: Set[str] = frozenset()
        """The keys of the pieces that the cache did not hold."""

    def __len__(self) -> int:
        return len(self._keys)

    def __iter__(self) -> Iterator[K]:
        return iter(self._keys)

    def __contains__(self, name: object) -> bool:
        return name in self._keys

    def key(self, name: K) -> str:
        """What decides a piece's ink: the same for equal pieces, in any build. Raises KeyError."""
        return self._keys[name]

    def wait(self) -> None:
        """Until all of it is engraved. Raises what kept it from being engraved, such as EngraverMissing."""
        if self.made is not None:
            self.made.result()
            self.made = None

    def keys_and_failures(self) -> tuple[dict[K, str], dict[str, Failure]]:
        """Every piece's key, and what is known by now to fail, by its key: the same in another process."""
        held = list(self._held.items())
        return self._keys, {key: result for key, result in held if isinstance(result, Failure)}

    def __getitem__(self, name: K) -> Engraved | Failure:
        key = self._keys[name]
        found = self._found(name, key)
        if found is None and self.made is not None:
            self.wait()
            found = self._found(name, key)
        if found is not None:
            return found
        [(_, result)] = worker_module.work([(key, self._piece(name))], None)
        assert result is not None
        if isinstance(result, Failure) and result.blame is Blame.MACHINE:
            raise engraver_at_fault([result], 1)
        self.store(key, result)
        return result

    def _found(self, name: K, key: str) -> Engraved | Failure | None:
        """What is held or kept of a piece."""
        held = self._held.get(key)
        if isinstance(held, Failure):
            # Equal pieces fail alike; each is told by its own name.
            return Failure(self._piece(name).name, held.said, held.blame)
        if held is not None:
            return held
        data = self._cache.get(key)
        if data is not None:
            with suppress(ValueError, KeyError, TypeError):
                return Engraved.from_bytes(data)
        return None

    def store(self, key: str, result: Engraved | Failure) -> None:
        """Keep what the cache did not."""
        if isinstance(result, Failure) or not self._cache.put(key, result.to_bytes()):
            self._held[key] = result

    def copy_results(self, begun: Engravings[K]) -> None:
        """Hold what other ink of the same pieces holds."""
        begun.wait()
        self._held |= begun._held

    @property
    def failures(self) -> tuple[Failure, ...]:
        """The pieces that could not be engraved, when all are."""
        self.wait()
        failed = {key for key, result in self._held.items() if isinstance(result, Failure)}
        found = (self[name] for name, key in self._keys.items() if key in failed)
        return tuple(result for result in found if isinstance(result, Failure))
