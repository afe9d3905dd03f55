"""Whether a folder may be replaced by a site: only where all it holds is a site that this program wrote.

The proof is the site's listing (`service_worker.py`), which names every file with its hash; the few that it
does not name are in `APART`. A packed copy beside a file is its own proof: unpacked it has the file's hash.
Entries that begin with a dot at the top of the folder, such as .git and
.nojekyll, are the user's unless the listing names them; they are brought over and never removed.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import os
import re
import stat
import zlib
from collections.abc import Iterator
from pathlib import Path

from .files.service_worker import APART, LISTING

_DIGEST = re.compile(r"[0-9a-f]{10,64}")
_TOLD = 3
"""Files that are named; of the others the number is told."""

_OF_THE_SYSTEM = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})
"""What file managers leave in a folder that they show: how it was shown, and nothing of the user's."""

_PACKED = ".gz"
"""How the name of a packed copy ends, which a host may send in place of the file beside it."""

Seen = dict[str, tuple[int, int, int]]
"""The files of a folder, hidden ones of the user left out: name, and number, size and time on the disk."""


class NoPlace(Exception):
    """Raised where a site may not or cannot be written; the text says why and what to do."""


class WrongPlace(NoPlace):
    """Raised where a site would take the place of something else: the user has to name another folder."""


def check_place(site: Path, keep: tuple[Path, ...]) -> None:
    """Raises WrongPlace where a site would take the place of a file, or of one of the folders `keep`."""
    for folder in map(Path.resolve, keep):
        if site == folder or site in folder.parents:
            raise WrongPlace(f"{site}: the site would replace {folder}; choose another folder with --out")
    if site.exists() and not site.is_dir():
        raise WrongPlace(f"{site}: there is a file of that name; choose another folder with --out")


def check_replaceable(site: Path, known: Seen | None = None) -> Seen:
    """The files of a folder, where each is of a site that this program wrote, or where there are none.

    `known` is what an earlier look gave: where it is the same, nothing is read. Raises WrongPlace with the
    names of the first other files, and NoPlace where the folder cannot be read.
    """
    while True:
        before = _identity(site)
        if before is None:
            return {}
        try:
            listed = listing_of(site)
            seen = files_in(site, listed)
            strange = [] if seen == known else foreign(site, seen, listed)
            problem = None
        except OSError as error:
            problem, strange = error, []
        # Another build may have put its site here meanwhile.
        if _identity(site) == before:
            if problem is not None:
                raise NoPlace(f"{site}: cannot be read: {problem.strerror}") from problem
            if strange:
                raise WrongPlace(_refusal(site, strange))
            return seen


def _refusal(site: Path, strange: list[str]) -> str:
    names = ", ".join(strange[:_TOLD])
    more = f" and {len(strange) - _TOLD:,} more" if len(strange) > _TOLD else ""
    return (
        f"{site}: the folder holds files that are not part of a site, or that were changed by hand: "
        f"{names}{more}; "
        "move it elsewhere, or choose a new or an empty folder with --out or site_dir"
    )


def listing_of(site: Path) -> dict[str, str]:
    """The hash of each file that a site's listing names; empty where there is no listing that can be read."""
    path = site / LISTING
    try:
        if not stat.S_ISREG(path.lstat().st_mode):
            return {}
        files = json.loads(path.read_bytes())["files"]
        return {str(name): str(digest) for name, digest in files.items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def is_site(folder: Path) -> bool:
    """Whether a folder carries the listing of a finished site."""
    return bool(listing_of(folder))


def files_in(site: Path, listed: dict[str, str]) -> Seen:
    """Every entry below a folder that is no folder itself; links are not followed. Raises OSError."""
    mine = {name.partition("/")[0] for name in listed}
    seen: Seen = {}
    for name, entry in _entries(site, ""):
        top = name.partition("/")[0]
        if top.startswith(".") and top not in mine:
            continue
        status = entry.stat(follow_symlinks=False)
        seen[name] = status.st_ino, status.st_size, status.st_mtime_ns
    return seen


def _entries(folder: Path, before: str) -> Iterator[tuple[str, os.DirEntry[str]]]:
    with os.scandir(folder) as entries:
        for entry in entries:
            if entry.is_dir(follow_symlinks=False):
                yield from _entries(folder / entry.name, f"{before}{entry.name}/")
            else:
                yield f"{before}{entry.name}", entry


def foreign(site: Path, seen: Seen, listed: dict[str, str]) -> list[str]:
    """The files of a folder that no build has written as they are, as text to show. Raises OSError."""
    return [_shown(name) for name in sorted(seen) if not _is_written(site, name, listed)]


def _is_written(site: Path, name: str, listed: dict[str, str]) -> bool:
    path = site / name
    if not stat.S_ISREG(path.lstat().st_mode):
        return False
    plain = name if name in listed else name.removesuffix(_PACKED)
    if path.name in _OF_THE_SYSTEM or (listed and plain in APART):
        return True
    digest = listed.get(plain, "")
    if not _DIGEST.fullmatch(digest):
        return False
    try:
        with path.open("rb") if plain == name else gzip.open(path) as file:
            return hashlib.file_digest(file, "sha256").hexdigest().startswith(digest)
    except (gzip.BadGzipFile, EOFError, zlib.error):
        return False


def _shown(name: str) -> str:
    return "".join(sign if sign.isprintable() else "?" for sign in name)


def _identity(site: Path) -> tuple[int, int] | None:
    try:
        status = site.stat()
    except OSError:
        return None
    return status.st_dev, status.st_ino
