"""`stavewright export`: files for other programs, one a piece."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

from ..book.pieces import Rendition, SettingPieces, instrument_book_of
from ..book.read import Book, BookProblem, open_book
from ..export.downloads import SUFFIXES, stem, written
from ..plurals import count_of
from ..visible import visible
from .output_file import MIDI, MUSICXML, fresh_file, put_in_place, target
from .saying import say, short
from .selectors import WrongUse, key_wish, known

_KINDS = {"MIDI": MIDI, "MusicXML": MUSICXML}


def exporting(arguments: argparse.Namespace) -> int:
    """Export; 2 where the wish is not clear or the folder cannot be written."""
    try:
        return _exporting(arguments)
    except WrongUse as wrong:
        say(wrong, file=sys.stderr)
        return 2


def _exporting(arguments: argparse.Namespace) -> int:
    kinds = [kind for kind in SUFFIXES if getattr(arguments, kind.lower())]
    if not kinds:
        raise WrongUse("say what to write: --midi, --musicxml, or both")
    book = open_book(arguments.book)
    out: Path = arguments.out
    try:
        if out.exists() and not out.is_dir():
            raise WrongUse(f"{visible(out)}: is a file; name a folder")
    except OSError as error:
        raise WrongUse(f"{short(out)}: cannot be written: {error.strerror}") from None
    count = 0
    taken: set[str] = set()
    try:
        if out.is_dir() and any(out.iterdir()):
            _check_places(book, arguments, kinds)
        for placed, part in _wanted(book, arguments):
            name = _fresh(stem(placed, part), taken)
            for kind in kinds:
                out.mkdir(parents=True, exist_ok=True)
                assert part.score is not None
                path = out / f"{name}{SUFFIXES[kind]}"
                with fresh_file(path, _KINDS[kind]) as fresh:
                    fresh.write_bytes(written(kind, placed, part, part.score, book.translation))
                    put_in_place(fresh, path, _KINDS[kind])
                count += 1
    except OSError as error:
        raise BookProblem(f"{visible(out)}: cannot be written: {error.strerror}") from None
    if not count:
        raise WrongUse("nothing to export: no exercise of the book uses that key in the instrument's range")
    if not arguments.quiet:
        say(f"{count_of(count, 'file')}: {visible(out)}")
    return 0


def _check_places(book: Book, arguments: argparse.Namespace, kinds: list[str]) -> None:
    """Raises WrongUse, before anything is written, where a file would take the place of another kind."""
    taken: set[str] = set()
    for placed, part in _wanted(book, arguments):
        name = _fresh(stem(placed, part), taken)
        for kind in kinds:
            target(arguments.out / f"{name}{SUFFIXES[kind]}", _KINDS[kind])


def _wanted(book: Book, arguments: argparse.Namespace) -> Iterator[tuple[SettingPieces, Rendition]]:
    """Every part to write, as written and in every variation, in the order of the book."""
    slug = known("exercise", arguments.exercise, [each.slug for each in book.exercises])
    key = key_wish(arguments.key, book.naming) if arguments.key else ""
    name = known("instrument", arguments.instrument, [each.slug for each in book.instruments])
    exercises = tuple(each for each in book.exercises if slug in ("", each.slug))
    for instrument in book.instruments:
        if name not in ("", instrument.slug):
            continue
        for _, pages in instrument_book_of(exercises, instrument, book.page_words).exercises:
            for page in pages:
                if key in ("", page.key):
                    for placed in page.placed:
                        yield from ((placed, part) for part in placed.parts if part.score is not None)


def _fresh(name: str, taken: set[str]) -> str:
    """A name that no other file of this run has; two variations may read alike without their signs."""
    number, found = 1, name
    while found in taken:
        number += 1
        found = f"{name}-{number}"
    taken.add(found)
    return found
