"""The new site is written beside the old one and changes places with it, whole, in one step.

Linux and macOS can exchange two folders at once. Elsewhere it takes two steps, and a build that was killed
between them is set right by the next. Folders that killed builds have left are removed by the next; a lock
tells them from those of a build that runs at this moment. Two builds at once each write a folder of their
own, and the last to end is the one that stays.
"""

from __future__ import annotations

import ctypes
import gzip
import json
import os
import secrets
import shutil
import sys
import time
from contextlib import suppress
from pathlib import Path

from .keeping import LISTING, WORKER

_LEFT_OVER = 60
"""Seconds after which a folder without a lock is nobody's: until then, its build may be about to lock it."""

_AT_CURRENT_FOLDER = -100
_EXCHANGE_LINUX = 2
_EXCHANGE_MACOS = 2

MARK = "sitemap.xml"
"""What every site has: a folder without it that is not empty is none, and is not replaced."""


class NoPlace(Exception):
    """Raised where a site may not or cannot be written; the text says why and what to do."""


class Staging:
    """A place for one build to write in, and the site it is to become."""

    def __init__(self, site: Path, keep: tuple[Path, ...] = ()) -> None:
        """`keep` are folders that a site must not replace. Raises NoPlace."""
        self.site = site.resolve()
        _may_replace(self.site, keep)
        self._lock: int | None = None
        try:
            self.site.parent.mkdir(parents=True, exist_ok=True)
            self._recover()
            self.fresh = self.site.with_name(f".{self.site.name}.new-{secrets.token_hex(6)}")
            self.fresh.mkdir()
        except OSError as error:
            raise NoPlace(f"{self.site}: a site cannot be written here: {error.strerror}") from error
        self._lock = _locked(self.fresh)

    def _recover(self) -> None:
        """Set right what killed builds have left."""
        for old in sorted(self.site.parent.glob(f".{self.site.name}.old-*")):
            if not self.site.exists():
                old.rename(self.site)
            elif _nobodys(old):
                self._clear_away(old)
        for fresh in self.site.parent.glob(f".{self.site.name}.new-*"):
            if _nobodys(fresh):
                self._clear_away(fresh)

    def _clear_away(self, folder: Path) -> None:
        """Remove a folder that a killed build has left.

        One that is complete may have been the site until the moment of the kill, and hold the user's own.
        """
        if self.site.is_dir() and (folder / WORKER).exists():
            self._keep_hidden(folder)
        _remove(folder)

    def _keep_hidden(self, old: Path) -> None:
        """Bring over what MkDocs would have left alone, such as .git and .nojekyll: not ours to lose."""
        for entry in filter(_hidden, old.iterdir()):
            with suppress(OSError):
                if not (self.site / entry.name).exists():
                    entry.rename(self.site / entry.name)

    def publish(self) -> None:
        """Put the new site in the old one's place. Raises NoPlace, and the old one stays."""
        try:
            _settle(self.fresh)
            _keep_times(self.fresh, self.site)
            old = self._exchange()
        except OSError as error:
            self.abandon()
            raise NoPlace(f"{self.site}: the new site cannot be put here: {error.strerror}") from error
        if old is not None:
            self._keep_hidden(old)
            _remove(old)
        self._unlock()

    def _exchange(self) -> Path | None:
        """Change places; returns where the old site is now."""
        if not self.site.exists():
            self.fresh.rename(self.site)
            return None
        if _exchanged(self.fresh, self.site):
            return self.fresh
        old = self.site.with_name(f".{self.site.name}.old-{secrets.token_hex(6)}")
        self.site.rename(old)
        try:
            self.fresh.rename(self.site)
        except OSError:
            old.rename(self.site)
            raise
        return old

    def abandon(self) -> None:
        """Leave no half of a site behind."""
        _remove(self.fresh)
        self._unlock()

    def _unlock(self) -> None:
        if self._lock is not None:
            os.close(self._lock)
            self._lock = None


def _may_replace(site: Path, keep: tuple[Path, ...]) -> None:
    """Raises NoPlace where a site would take the place of something else."""
    for folder in map(Path.resolve, keep):
        if site == folder or site in folder.parents:
            raise NoPlace(f"{site}: the site would replace {folder}; choose another folder with --out")
    if site.exists() and not site.is_dir():
        raise NoPlace(f"{site}: there is a file of that name; choose another folder with --out")
    if site.is_dir() and not (site / MARK).exists() and any(not _hidden(entry) for entry in site.iterdir()):
        raise NoPlace(f"{site}: the folder holds something that is no site; choose a new or an empty one")


def _hidden(entry: Path) -> bool:
    """Whether MkDocs leaves an entry alone when it empties a folder."""
    return entry.name.startswith(".")


def _exchanged(one: Path, other: Path) -> bool:
    """Exchange two folders in one step; False where the platform cannot."""
    try:
        library = ctypes.CDLL(None, use_errno=True)
        paths = os.fsencode(one), os.fsencode(other)
        if sys.platform == "linux":
            here = _AT_CURRENT_FOLDER
            status = library.renameat2(here, paths[0], here, paths[1], _EXCHANGE_LINUX)
        elif sys.platform == "darwin":
            status = library.renamex_np(*paths, _EXCHANGE_MACOS)
        else:
            return False
    except (OSError, AttributeError, TypeError):
        return False
    return bool(status == 0)


def _locked(folder: Path) -> int | None:
    """Lock a folder as long as this process lives; None where it cannot be, or another has it."""
    if sys.platform == "win32":
        return None
    import fcntl

    handle = None
    try:
        handle = os.open(folder, os.O_RDONLY)
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        return handle
    except OSError:
        if handle is not None:
            os.close(handle)
        return None


def _nobodys(folder: Path) -> bool:
    """Whether no build that runs has a folder."""
    try:
        age = abs(time.time() - folder.stat().st_mtime)
    except OSError:
        return False
    if age < _LEFT_OVER:
        return False
    handle = _locked(folder)
    if handle is None:
        return sys.platform == "win32" and age > 24 * 3600
    os.close(handle)
    return True


def _remove(folder: Path) -> None:
    shutil.rmtree(folder, ignore_errors=True)


def _settle(fresh: Path) -> None:
    """What MkDocs dates: the packed list of pages holds the time it was packed."""
    listing = fresh / "sitemap.xml"
    packed = fresh / "sitemap.xml.gz"
    if listing.exists() and packed.exists():
        packed.write_bytes(gzip.compress(listing.read_bytes(), mtime=0))


def _keep_times(fresh: Path, site: Path) -> None:
    """Give files that are the same in both the time they had, so that a copy of the site copies no more."""
    try:
        new, old = (json.loads((folder / LISTING).read_bytes())["files"] for folder in (fresh, site))
    except (OSError, ValueError, KeyError, TypeError):
        return
    for name in (name for name, digest in new.items() if old.get(name) == digest):
        with suppress(OSError):
            status = (site / name).stat()
            os.utime(fresh / name, ns=(status.st_atime_ns, status.st_mtime_ns))
