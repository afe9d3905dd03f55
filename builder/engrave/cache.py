"""Engraved pieces kept between builds, outside any site: a folder of files, each named by its key.

A key is a hash of everything that decides a piece's ink, so an entry is never changed, only made or removed.
Each is written beside its place and then moved there in one step, which keeps two builds at once apart
without a lock, and it begins with its own checksum: one that is damaged, cut short or of an older form is
removed and made again. Beyond the bound the least recently used leave first, as their files' times say.

Nothing read from here is run or unpickled.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
import time
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path

from platformdirs import user_cache_path

BOUND = 2 * 1024**3
"""Bytes kept: about 28,000 short pieces of a site, with their narrow forms and all that is said of them."""

_FORM = b"stavewright piece 2\n"
_SUFFIX = ".piece"
_ONE_IN = 16
"""Of so many folders one is looked at to reckon the size of all; the next time it is another."""

_SURELY = 0.8
"""Below this part of the bound by that reckoning, all are within it."""

_ENOUGH = 10
"""Folders that tell something."""

_LEFT_OVER = 24 * 3600
"""Seconds after which a half-written file is surely nobody's."""


def folder() -> Path:
    """Where pieces are kept: STAVEWRIGHT_CACHE, or the user's cache folder."""
    named = os.environ.get("STAVEWRIGHT_CACHE")
    return Path(named) if named else user_cache_path("stavewright", appauthor=False)


def bound() -> int:
    """How many bytes are kept: STAVEWRIGHT_CACHE_MB in megabytes, or BOUND.

    Raises ValueError where the setting is no number from 1 on.
    """
    said = os.environ.get("STAVEWRIGHT_CACHE_MB", "")
    if not said:
        return BOUND
    if not said.isascii() or not said.isdigit() or int(said[:12]) == 0:
        raise ValueError(
            f"STAVEWRIGHT_CACHE_MB: {said[:40]!r} is no number of megabytes; write one such as 2000"
        )
    return int(said[:12]) * 10**6


def key_of(parts: Iterable[str]) -> str:
    """A key from everything that decides the ink."""
    digest = hashlib.sha256()
    for part in parts:
        digest.update(part.encode("utf-8", "surrogatepass"))
        digest.update(b"\0")
    return digest.hexdigest()


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that others see all of it or none. Raises OSError."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=".new-", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


class PieceCache:
    """Bytes by key, in a folder; `most` is the bound of its size, the user's where None."""

    def __init__(self, place: Path | None = None, most: int | None = None) -> None:
        self.place = place or folder()
        self._most = most

    @property
    def bound(self) -> int:
        """How many bytes `trim` leaves."""
        try:
            return bound() if self._most is None else self._most
        except ValueError:
            # `stavewright cache` tells of it; nothing is lost meanwhile.
            return BOUND

    def _path(self, key: str) -> Path:
        return self.place / key[:2] / (key[2:] + _SUFFIX)

    def get(self, key: str) -> bytes | None:
        """The bytes kept under a key, or None where there are none that are whole."""
        path = self._path(key)
        try:
            with path.open("rb") as file:
                form, digest, data = file.readline(), file.read(32), file.read()
        except OSError:
            return None
        with suppress(OSError):
            if form == _FORM and hashlib.sha256(data).digest() == digest:
                os.utime(path)
                return data
            path.unlink()
            return None
        # Whole, but its time could not be set: a cache that may only be read is still of use.
        return data if form == _FORM and hashlib.sha256(data).digest() == digest else None

    def has(self, key: str) -> bool:
        """Whether there is an entry under a key, whole or not; it counts as used."""
        try:
            os.utime(self._path(key))
        except FileNotFoundError:
            return False
        except OSError:
            # Its time cannot be set: a cache that may only be read is still of use.
            return self._path(key).exists()
        return True

    def put(self, key: str, data: bytes) -> bool:
        """Keep bytes under a key; False where the folder cannot be written, and the build goes on without."""
        try:
            write_whole(self._path(key), _FORM + hashlib.sha256(data).digest() + data)
        except OSError:
            return False
        return True

    def _entries(self) -> Iterator[Path]:
        yield from self.place.glob(f"??/*{_SUFFIX}")

    def trim(self, since: float = 0) -> int:
        """Remove the least recently used pieces beyond the bound, and none used after `since`.

        `since` is in seconds, as `time.time()` gives them. Returns how many were removed.
        """
        folders = [*self.place.glob("??")]
        sample = folders[int(time.time()) % _ONE_IN :: _ONE_IN]
        for path in (path for folder in (self.place, *sample) for path in folder.glob(".new-*")):
            with suppress(OSError):
                if abs(time.time() - path.stat().st_mtime) > _LEFT_OVER:
                    path.unlink()
        most, removed = self.bound, 0
        # A key is as likely in one folder as in another, so that some of them tell how large all are.
        if len(sample) >= _ENOUGH and self._seen(sample)[1] * _ONE_IN < most * _SURELY:
            return 0
        found, size = self._seen(folders)
        for used, bytes_of, path in sorted(found) if size > most else ():
            if size <= most or (since and used > since * 1e9):
                break
            with suppress(OSError):
                path.unlink()
                size -= bytes_of
                removed += 1
        return removed

    @staticmethod
    def _seen(folders: Iterable[Path]) -> tuple[list[tuple[int, int, Path]], int]:
        """The entries of some folders, each with its time and size, and their size together."""
        found = []
        for folder in folders:
            for path in folder.glob(f"*{_SUFFIX}"):
                with suppress(OSError):
                    status = path.stat()
                    found.append((status.st_mtime_ns, status.st_size, path))
        return found, sum(size for _, size, _ in found)

    def clear(self) -> int:
        """Forget every piece; returns how many there were. Raises OSError where one cannot be removed."""
        count = 0
        for path in self._entries():
            path.unlink(missing_ok=True)
            count += 1
        for path in self.place.rglob(".new-*"):
            path.unlink(missing_ok=True)
        return count

    def size(self) -> tuple[int, int]:
        """How many pieces are kept, and their bytes."""
        sizes = []
        for path in self._entries():
            with suppress(OSError):
                sizes.append(path.stat().st_size)
        return len(sizes), sum(sizes)
