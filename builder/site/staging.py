"""The new site is written beside the old one and changes places with it, whole, in one step.

Linux and macOS can exchange two folders at once. Elsewhere it takes two steps, and a build that was killed
between them is set right by the next. Folders that killed builds have left are removed by the next, where
their marks prove them left over (jobs/folders.py). Two builds at once each write a folder of their own,
and the last to end is the one that stays.
"""

from __future__ import annotations

import ctypes
import gzip
import json
import logging
import os
import shutil
import stat
import sys
from contextlib import suppress
from pathlib import Path

from ..jobs.folders import WorkingFolder, is_marked, is_own, left_over
from ..jobs.signals import signals_held
from ..jobs.systems import rename
from .files.service_worker import LISTING
from .replacing import (
    NoPlace,
    Seen,
    WrongPlace,
    check_place,
    check_replaceable,
    files_in,
    foreign,
    is_site,
    listing_of,
)

__all__ = ["NoPlace", "Seen", "Staging", "WrongPlace", "check_site"]

log = logging.getLogger("mkdocs.plugins.stavewright")

_AT_CURRENT_FOLDER = -100
_EXCHANGE_LINUX = 2
_EXCHANGE_MACOS = 2


def check_site(site: Path, keep: tuple[Path, ...] = ()) -> Seen:
    """The files of the site that stands in a place. Raises NoPlace where none may be put there."""
    check_place(site, keep)
    return check_replaceable(site)


class Staging:
    """A place for one build to write in, and the site it is to become."""

    def __init__(self, site: Path, keep: tuple[Path, ...] = (), known: Seen | None = None) -> None:
        """`keep` are folders that a site must not replace; `known` is what `check_site` gave, if it did.

        Raises NoPlace.
        """
        self.site = site.resolve()
        self._seen: Seen = {}
        self._placed = False
        check_place(self.site, keep)
        try:
            self.site.parent.mkdir(parents=True, exist_ok=True)
            with signals_held():
                self._recover()
                self._seen = check_replaceable(self.site, known)
                self._folder = WorkingFolder.make(self.site.parent, f".{self.site.name}.new-", 0o777)
        except OSError as error:
            raise NoPlace(f"{self.site}: a site cannot be written here: {error.strerror}") from error
        self.fresh = self._folder.path

    def _old(self, fresh: Path) -> Path:
        """Where the old site is between the two steps of the build that writes `fresh`."""
        return self.site.with_name(
            fresh.name.replace(f".{self.site.name}.new-", f".{self.site.name}.old-", 1)
        )

    def _recover(self) -> None:
        """Set right what killed builds have left."""
        left = left_over(self.site.parent, f".{self.site.name}.new-")
        dead = {folder.path for folder in left}
        begin = f".{self.site.name}.old-"
        olds = [
            path for path in self.site.parent.iterdir() if path.name.startswith(begin) and _is_whole(path)
        ]
        for old in sorted(olds, key=lambda path: (path / LISTING).stat().st_mtime_ns, reverse=True):
            fresh = old.with_name(f".{self.site.name}.new-{old.name.removeprefix(begin)}")
            # The build that moved it may be about to put its own in its place.
            if not self.site.exists() and (fresh in dead or not is_marked(fresh)):
                old.rename(self.site)
        for folder in left:
            if self._clear_away(self._old(folder.path)) and self._clear_away(folder.path):
                folder.remove()
            else:
                folder.leave()

    def _clear_away(self, folder: Path) -> bool:
        """Remove a folder of ours that is no longer needed; False where it holds something of the user's.

        One that is complete was the site until a moment ago, and may hold what the user put there.
        """
        if not os.path.lexists(folder):
            return True
        if not _is_whole(folder):
            # Half a site, in a folder that is marked as our own.
            _remove(folder)
            return True
        if self.site.is_dir():
            self._keep_hidden(folder)
        try:
            listed = listing_of(folder)
            seen = files_in(folder, listed)
            users = foreign(folder, seen, listed) if seen != self._seen else []
            users += [
                entry.name for entry in _hidden(folder, listed) if entry.is_dir() or not self.site.is_dir()
            ]
        except OSError as error:
            users = [str(error.strerror)]
        if users:
            log.warning(
                f"{folder}: kept, because it holds files that are not part of a site: {', '.join(users[:3])}"
            )
            return False
        _remove(folder)
        return True

    def _keep_hidden(self, old: Path) -> None:
        """Bring over what MkDocs would have left alone, such as .git and .nojekyll: not ours to lose."""
        for entry in _hidden(old, listing_of(old)):
            with suppress(OSError):
                if not os.path.lexists(self.site / entry.name):
                    entry.rename(self.site / entry.name)

    def publish(self) -> None:
        """Put the new site in the old one's place. Raises NoPlace, and the old one stays."""
        with signals_held():
            try:
                # The user may have put something there since the build began.
                check_replaceable(self.site, self._seen)
                _settle(self.fresh)
                _keep_times(self.fresh, self.site)
                old = self._exchange()
            except NoPlace:
                self.abandon()
                raise
            except OSError as error:
                self.abandon()
                raise NoPlace(f"{self.site}: the new site cannot be put here: {error.strerror}") from error
            if old is None or self._clear_away(old):
                self._folder.remove()
            else:
                self._folder.leave()

    def _exchange(self) -> Path | None:
        """Change places; returns where the old site is now."""
        if not self.site.exists():
            rename(self.fresh, self.site)
            self._placed = True
            return None
        if _exchanged(self.fresh, self.site):
            self._placed = True
            return self.fresh
        old = self._old(self.fresh)
        rename(self.site, old)
        try:
            rename(self.fresh, self.site)
        except OSError:
            # Another build may have been quicker.
            if self.site.exists():
                self._clear_away(old)
            else:
                rename(old, self.site)
            raise
        self._placed = True
        return old

    def abandon(self) -> None:
        """Leave no half of a site behind; nothing where the new site is in its place."""
        if not self._placed:
            self._folder.remove()


def _is_whole(folder: Path) -> bool:
    """Whether something is a folder of this user's that holds a finished site."""
    try:
        return is_own(folder.lstat(), stat.S_ISDIR) and is_site(folder)
    except OSError:
        return False


def _hidden(site: Path, listed: dict[str, str]) -> list[Path]:
    """What MkDocs leaves alone when it empties a folder, and no build has written."""
    mine = {name.partition("/")[0] for name in listed}
    return [entry for entry in site.iterdir() if entry.name.startswith(".") and entry.name not in mine]


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
