"""Whether a site is up to date.

A successful build writes a note beside the cache: a hash of every file that went into the site (the book,
its pages, the templates, this program), the versions of everything else (Python, the packages, the engraver),
and the names, sizes and times of the site's files. If all of these are the same, a build would make the same
site, and no other module has to be loaded. So this module imports nothing slow.
"""

from __future__ import annotations

import hashlib
import json
import os
import stat
import sys
from collections.abc import Iterable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from .store import folder, write_whole

if TYPE_CHECKING:
    from mkdocs.config.defaults import MkDocsConfig

_LARGE = 1024**2
"""Bytes from which on a file is known by its size and time."""

_PLAIN = {"toc", "tables", "fenced_code", "abbr", "attr_list", "def_list", "footnotes", "md_in_html"}
_PLAIN |= {"admonition", "smarty", "sane_lists", "nl2br", "meta", "extra"}
"""Markdown extensions that read no other files: those of Python-Markdown."""


def _note_of(book: Path, out: Path | None) -> Path:
    asked = f"{book.resolve()}\n{out.resolve() if out else ''}"
    return (
        folder()
        / "sites"
        / f"{hashlib.sha256(asked.encode('utf-8', 'surrogateescape')).hexdigest()[:32]}.json"
    )


def _files(place: Path) -> Iterable[Path]:
    """Every file below a place, or the file itself; what programs leave behind is not looked at.

    Raises OSError where a folder is a link: it may hold itself.
    """
    if not place.is_dir():
        yield place
        return
    for root, folders, names in os.walk(place):
        folders[:] = sorted(name for name in folders if name != "__pycache__" and not name.startswith("."))
        if any(Path(root, name).is_symlink() for name in folders):
            raise OSError("a folder that is a link")
        yield from (Path(root, name) for name in sorted(names) if not name.startswith("."))


def fingerprint(places: Sequence[str]) -> str:
    """A hash of all that these files and folders hold, and of what runs here. Raises OSError."""
    digest = hashlib.sha256(f"{sys.version}\n{sys.executable}\n".encode())
    for entry in sys.path:
        if entry.endswith("-packages"):
            digest.update(f"{entry} {Path(entry).stat().st_mtime_ns}\n".encode())
    named = os.environ.get("STAVEWRIGHT_LILYPOND")
    if named:
        status = Path(named).stat()
        digest.update(f"{named} {status.st_size} {status.st_mtime_ns}\n".encode())
    for place in places:
        for path in _files(Path(place)):
            status = path.stat()
            if not stat.S_ISREG(status.st_mode):
                raise OSError("no file")
            digest.update(f"{path}\0{status.st_size}\0".encode("utf-8", "surrogateescape"))
            large = status.st_size >= _LARGE
            digest.update(str(status.st_mtime_ns).encode() if large else path.read_bytes())
    return digest.hexdigest()


def _site_as_it_is(site: Path) -> str:
    """A hash of the names, sizes and times of a site's files."""
    rows = []
    waiting = [str(site)]
    while waiting:
        with os.scandir(waiting.pop()) as entries:
            for entry in entries:
                if entry.is_dir(follow_symlinks=False):
                    waiting.append(entry.path)
                else:
                    status = entry.stat()
                    rows.append(f"{entry.path}\0{status.st_size}\0{status.st_mtime_ns}\n")
    return hashlib.sha256("".join(sorted(rows)).encode("utf-8", "surrogateescape")).hexdigest()


def site_inputs(config: MkDocsConfig, exercises: str) -> list[str] | None:
    """Every file and folder that a site is made of; None where that cannot be known.

    Other plugins, hooks and extensions may read whatever they like, and a configuration may stand in
    several files.
    """
    book = Path(config.config_file_path)
    text = book.read_text(encoding="utf-8")
    if "INHERIT" in text or "!ENV" in text or config.hooks or set(config.plugins) != {"stavewright"}:
        return None
    if not set(config.markdown_extensions) <= _PLAIN:
        return None
    here = Path(__file__).parent.parent
    places = [book, book.parent / exercises, Path(config.docs_dir), here, *map(Path, config.theme.dirs)]
    return [str(place.resolve()) for place in dict.fromkeys(places)]


def write_stamp(book: Path, out: Path | None, site: Path, places: list[str], before: str, said: str) -> None:
    """Note that a site is built. `before` is the fingerprint from before its book was read."""
    note = {
        "places": places,
        "made of": before,
        "site": str(site),
        "as it is": _site_as_it_is(site),
        "said": said,
    }
    with suppress(OSError):
        write_whole(_note_of(book, out), json.dumps(note).encode())


def unchanged_site(book: Path, out: Path | None) -> str | None:
    """What the build said that made the site, where another would make the same; else None."""
    try:
        note = json.loads(_note_of(book, out).read_bytes())
        if _site_as_it_is(Path(note["site"])) != note["as it is"]:
            return None
        return str(note["said"]) if fingerprint(note["places"]) == note["made of"] else None
    except (OSError, ValueError, KeyError, TypeError):
        return None
