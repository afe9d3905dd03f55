"""Links in a book that lead out of it: what they lead to is neither read nor published.

A book may take files from others, by pull request for instance. A link among them could lead to any file of
the machine that builds it. So each link has to stay within the book's folder, unless mkdocs.yml allows it by
name:

    plugins:
      - stavewright:
          links: [exercises/shared, pages/portrait.jpg]

A name is that of the link, or of a folder above it, from the book's folder on. What mkdocs.yml itself names
outside the book, as in `docs_dir: ../pages`, is no link; links in there have to stay in there or in the book.
Hard links cannot be told from files.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from ..language.faults import BookFaults, Fault

OPTION = "links"
"""The plugin's option that allows links."""


def check_links(book: Path, places: Iterable[Path], options: Mapping[str, Any]) -> None:
    """Raises BookFaults with every link in these files and folders of a book that leads out of it."""
    found = link_faults(book, places, options)
    if found:
        raise BookFaults(found)


def link_faults(book: Path, places: Iterable[Path], options: Mapping[str, Any]) -> list[Fault]:
    """A fault for each link in these files and folders that leads out of the book and is not allowed."""
    named = options.get(OPTION) or []
    allowed = (
        frozenset(os.path.normpath(str(name)) for name in named) if isinstance(named, list) else frozenset()
    )
    return sorted({fault for place in places for fault in _faults(book, place, allowed)})


def _faults(book: Path, place: Path, allowed: frozenset[str]) -> Iterator[Fault]:
    home, start = (Path(os.path.normpath(path.absolute())) for path in (book, place))
    roots = [book.resolve()]
    if start != home and home not in start.parents:
        roots.append(start.resolve())
    for path in _out_of(start, roots, home, allowed):
        name = os.path.relpath(path, home).replace(os.sep, "/")
        mend = f"put a copy in its place, or allow it in mkdocs.yml by `{OPTION}: [{name}]`"
        yield Fault(name, 1, 1, "this is a link that leads out of the book", mend)


def _out_of(start: Path, roots: list[Path], home: Path, allowed: frozenset[str]) -> Iterator[Path]:
    """The links at or below a place that lead out; none of them is followed."""
    waiting = [(start, roots)]
    seen = set()
    while waiting:
        path, inside = waiting.pop()
        real = _real(path)
        if real is None:
            # A link to itself leads nowhere.
            continue
        if not any(real == root or root in real.parents for root in inside):
            if not _is_allowed(path, home, allowed):
                yield path
                continue
            inside = [*inside, real]
        # A link to a folder above leads round in a circle.
        if real in seen or not real.is_dir():
            continue
        seen.add(real)
        with suppress(OSError), os.scandir(path) as entries:
            # What is neither a link nor a folder lies where it is.
            waiting += [
                (Path(entry.path), inside) for entry in entries if entry.is_symlink() or entry.is_dir()
            ]


def _real(path: Path) -> Path | None:
    try:
        return path.resolve()
    except (OSError, RuntimeError):
        return None


def _is_allowed(path: Path, home: Path, allowed: frozenset[str]) -> bool:
    name = Path(os.path.relpath(path, home))
    return any(str(part) in allowed for part in (name, *name.parents))
