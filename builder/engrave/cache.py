"""Engraved pieces kept between builds, outside any site.

A key is a hash of everything that decides a piece's ink; diskcache keeps the entries safe for two builds at
once and drops the least recently used beyond the bound. An entry that does not match its own checksum is
made again.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
from collections.abc import Iterable
from pathlib import Path

from diskcache import Cache
from platformdirs import user_cache_path

_SIZE_LIMIT = 1024**3


def folder() -> Path:
    """Where pieces are kept: STAVEWRIGHT_CACHE, or the user's cache folder."""
    named = os.environ.get("STAVEWRIGHT_CACHE")
    return Path(named) if named else user_cache_path("stavewright", appauthor=False)


def key_of(parts: Iterable[str]) -> str:
    """A key from everything that decides the ink."""
    digest = hashlib.sha256()
    for part in parts:
        digest.update(part.encode())
        digest.update(b"\0")
    return digest.hexdigest()


class PieceCache:
    """Bytes by key. Where the folder cannot be used, it keeps nothing and the build goes on."""

    def __init__(self, place: Path | None = None) -> None:
        self._cache: Cache | None
        try:
            self._cache = Cache(
                str(place or folder()), size_limit=_SIZE_LIMIT, eviction_policy="least-recently-used"
            )
        except (OSError, sqlite3.Error):
            self._cache = None

    def get(self, key: str) -> bytes | None:
        """The bytes kept under a key, or None where there are none that are whole."""
        if self._cache is None:
            return None
        try:
            entry = self._cache.get(key)
        except Exception:  # a damaged entry can fail in any way, and is made again
            return None
        if not isinstance(entry, bytes) or hashlib.sha256(entry[32:]).digest() != entry[:32]:
            return None
        return entry[32:]

    def put(self, key: str, data: bytes) -> None:
        """Keep bytes under a key."""
        if self._cache is not None:
            try:
                self._cache.set(key, hashlib.sha256(data).digest() + data)
            except (OSError, sqlite3.Error):
                self._cache = None

    def clear(self) -> int:
        """Forget every piece; returns how many there were."""
        return self._cache.clear() if self._cache is not None else 0

    def close(self) -> None:
        """Close the files."""
        if self._cache is not None:
            self._cache.close()
