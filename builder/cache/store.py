"""Engraved pieces kept between builds, outside any site: a folder of files, each named by its key.

A key is a hash of everything that decides a piece's ink, so an entry is never changed, only made or removed.
Each is written beside its place and then moved there in one step, which keeps two builds at once apart
without a lock, and it begins with its own checksum: one that is damaged, cut short or of an older form is
removed and made again. Beyond the bound the least recently used leave first, as their files' times say.

The folder carries a mark that says what it is. Files are removed only in a folder with that mark, and only
those of this user whose names have the cache's own form; whatever else lies there is left alone.

Nothing read from here is run or unpickled, but whole pages are taken from here as they are. So the folder is
for its owner alone (`own_folder`).
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path

from platformdirs import user_cache_path

from ..jobs.folders import is_own

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

_FOR_OWNER, _FOR_OTHERS, _WRITTEN_BY_OTHERS = 0o700, 0o077, 0o022
_LEFT_OVER = 24 * 3600
"""Seconds after which a half-written file is surely nobody's."""

MARK = "stavewright-cache.txt"
_WORDS = (
    "Stavewright keeps engraved music in this folder, and removes it again: ??/*.piece, and\n"
    ".new-stavewright-* where such a file was not finished. It leaves other files alone.\n"
)
_PIECE = re.compile(r"[0-9a-f]{62}\.piece")
_FOLDER = re.compile(r"[0-9a-f]{2}")
_HALF = ".new-stavewright-"
_HALF_NAME = re.compile(rf"{re.escape(_HALF)}[a-z0-9_]{{8}}")


def folder() -> Path:
    """Where pieces are kept: STAVEWRIGHT_CACHE, or the user's cache folder."""
    named = os.environ.get("STAVEWRIGHT_CACHE")
    return Path(named) if named else user_cache_path("stavewright", appauthor=False)


class CacheRefused(Exception):
    """Raised where the cache folder is not to be trusted; the text says why and how to mend it."""


def own_folder(place: Path | None = None) -> None:
    """Make the cache folder for this user alone, and close one that is open to others.

    What is kept there goes into pages, so it is as trusted as the program. A folder may belong to this user
    or to the system. Where there is no folder and none can be made, a build goes on without. Only an empty
    folder, or one with the mark of a cache, is closed: another may be meant for others. On Windows a user's
    own folders are closed to others already. Raises CacheRefused where somebody else owns the folder, or
    where others can write in it, so that what is kept there may be theirs.
    """
    if sys.platform == "win32":
        return
    place = place or folder()
    with suppress(OSError):
        place.mkdir(mode=_FOR_OWNER, parents=True, exist_ok=True)
    try:
        status = place.stat()
        if not stat.S_ISDIR(status.st_mode):
            return
        if status.st_uid == os.geteuid() and status.st_mode & _FOR_OTHERS and _may_close(place, status):
            with suppress(OSError):
                place.chmod(_FOR_OWNER)
            status = place.stat()
    except OSError:
        return
    if status.st_uid not in (os.geteuid(), 0):
        raise CacheRefused(
            f"{place}: the cache belongs to another user, and pages are made from it; name a "
            "folder of your own in STAVEWRIGHT_CACHE"
        )
    if status.st_mode & _WRITTEN_BY_OTHERS:
        raise CacheRefused(
            f"{place}: others can write in the cache, and pages are made from it; remove the "
            "folder, so that a build makes it anew for you alone, or name another in STAVEWRIGHT_CACHE"
        )


def _may_close(place: Path, status: os.stat_result) -> bool:
    """Whether a folder open to others may be closed: nothing is in it yet, or a cache that is ours alone.

    Raises OSError.
    """
    if status.st_mode & _WRITTEN_BY_OTHERS or not _is_marked(place):
        with os.scandir(place) as entries:
            return next(entries, None) is None
    return True


def bound() -> int:
    """How many bytes are kept: STAVEWRIGHT_CACHE_MB in megabytes, or BOUND.

    Raises ValueError where the setting is no number from 1 on.
    """
    said = os.environ.get("STAVEWRIGHT_CACHE_MB", "")
    if not said:
        return BOUND
    if not said.isascii() or not said.isdigit() or int(said[:12]) == 0:
        raise ValueError(
            f"STAVEWRIGHT_CACHE_MB: {said[:40]!r} is not a number of megabytes; write one such as 2000"
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
    handle, name = tempfile.mkstemp(prefix=_HALF, dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


class CacheStore:
    """Bytes by key, in a folder; `most` is the bound of its size, the user's where None."""

    def __init__(self, place: Path | None = None, most: int | None = None) -> None:
        self.place = place or folder()
        self._most = most
        self._marked = False

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
            if self.is_marked():
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
            if not self._marked and not os.path.lexists(self.place / MARK):
                write_whole(self.place / MARK, _WORDS.encode())
            self._marked = True
            write_whole(self._path(key), _FORM + hashlib.sha256(data).digest() + data)
        except OSError:
            return False
        return True

    def is_marked(self) -> bool:
        """Whether the folder carries the mark of a cache."""
        return _is_marked(self.place)

    def _folders(self) -> list[Path]:
        """The folders of pieces; none that is a link."""
        with suppress(OSError):
            names = (path for path in self.place.iterdir() if _FOLDER.fullmatch(path.name))
            return sorted(path for path in names if path.is_dir() and not path.is_symlink())
        return []

    def _entries(self) -> Iterator[Path]:
        for folder in self._folders():
            yield from _files(folder, _PIECE)

    def trim(self, since: float = 0) -> int:
        """Remove the least recently used pieces beyond the bound, and none used after `since`.

        `since` is in seconds, as `time.time()` gives them. Returns how many were removed.
        """
        if not self.is_marked():
            return 0
        folders = self._folders()
        sample = folders[int(time.time()) % _ONE_IN :: _ONE_IN]
        for path in (path for folder in (self.place, *sample) for path in _files(folder, _HALF_NAME)):
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
            for path in _files(folder, _PIECE):
                with suppress(OSError):
                    status = path.stat()
                    found.append((status.st_mtime_ns, status.st_size, path))
        return found, sum(size for _, size, _ in found)

    def clear(self) -> int:
        """Forget every piece; returns how many there were. Raises OSError where one cannot be removed.

        Removes nothing where the folder has no mark.
        """
        count = 0
        if not self.is_marked():
            return count
        for path in self._entries():
            path.unlink(missing_ok=True)
            count += 1
        for path in (
            path for folder in (self.place, *self._folders()) for path in _files(folder, _HALF_NAME)
        ):
            path.unlink(missing_ok=True)
        return count

    def size(self) -> tuple[int, int]:
        """How many pieces are kept, and their bytes."""
        sizes = []
        for path in self._entries():
            with suppress(OSError):
                sizes.append(path.stat().st_size)
        return len(sizes), sum(sizes)


def _is_marked(place: Path) -> bool:
    mark = place / MARK
    try:
        return stat.S_ISREG(mark.lstat().st_mode) and mark.read_bytes() == _WORDS.encode()
    except OSError:
        return False


def _files(folder: Path, form: re.Pattern[str]) -> Iterator[Path]:
    """The files of this user's in a folder whose names have a form; none that is a link."""
    with suppress(OSError):
        for path in folder.iterdir():
            if form.fullmatch(path.name):
                with suppress(OSError):
                    if is_own(path.lstat(), stat.S_ISREG):
                        yield path
