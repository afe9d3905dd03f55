"""`stavewright print`: what to print, and where to."""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from builder.book import BookProblem, open_book, read_config
from builder.publish.paper.form import LARGEST_STAFF, PAPERS, SMALLEST_STAFF, Form
from builder.publish.paper.make import Choice, NothingToPrint, labels, print_choice
from builder.publish.progress import progress

from .wishes import WrongUse, key_wish, known


def printing(arguments: argparse.Namespace) -> int:
    """Print; 1 where the book has a fault or a piece could not be engraved, 2 where the wish is not clear."""
    try:
        return _printing(arguments)
    except (WrongUse, NothingToPrint) as wrong:
        print(wrong, file=sys.stderr)
        return 2


def _printing(arguments: argparse.Namespace) -> int:
    key = key_wish(arguments.key) if arguments.key else ""
    if arguments.all == bool(key or arguments.exercise):
        raise WrongUse("say what to print: --key KEY, --exercise NAME, both of them, or --all")
    staff = arguments.staff_size
    if staff is not None and not SMALLEST_STAFF <= staff <= LARGEST_STAFF:
        raise WrongUse(
            f"a staff of {staff:g} mm is out of bounds: from {SMALLEST_STAFF:g} mm, which can still be read "
            f"at an arm's length, to {LARGEST_STAFF:g} mm"
        )
    config = read_config(arguments.book)
    book = open_book(arguments.book)
    choice = Choice(
        known("instrument", arguments.instrument, [each.slug for each in book.instruments])
        or book.instruments[0].slug,
        key,
        known("exercise", arguments.exercise, [each.slug for each in book.exercises]),
        _variations(arguments.variations, labels(book)),
    )
    paper = PAPERS[known("paper", arguments.paper, list(PAPERS)) or book.paper]
    form = Form(paper, staff, arguments.booklet, arguments.single_sided)
    with _fresh(arguments.out) as fresh:
        with progress("Engraving") as report:
            printed = print_choice(book, str(config.get("site_description") or ""), choice, form, report)
        fresh.write_bytes(printed.data)
        fresh.replace(arguments.out)
    for problem in printed.problems:
        print(problem, file=sys.stderr)
    print(f"{printed.pages} page{'s' if printed.pages != 1 else ''}: {arguments.out}")
    if form.booklet:
        sheets = -(-printed.pages // 4)
        print(
            f"{sheets} sheet{'s' if sheets != 1 else ''} of {paper.double}: print on both sides, turned over "
            "the short edge, and fold in the middle."
        )
    return 1 if printed.problems else 0


@contextmanager
def _fresh(out: Path) -> Iterator[Path]:
    """A file beside the one to write, made before any work begins; the earlier file stays until the end.

    Raises WrongUse where nothing can be written there.
    """
    if out.is_dir():
        raise WrongUse(f"{out}: cannot be written: it is a folder; name a file, such as {out / 'pages.pdf'}")
    try:
        handle, name = tempfile.mkstemp(prefix=f".{out.name}.", dir=out.parent)
    except OSError as error:
        raise WrongUse(f"{out}: cannot be written: {error.strerror}") from None
    os.close(handle)
    fresh = Path(name)
    try:
        # A temporary file is for its owner alone; the finished one has the rights of any new file.
        umask = os.umask(0)
        os.umask(umask)
        fresh.chmod(0o666 & ~umask)
        yield fresh
    except OSError as error:
        raise BookProblem(f"{out}: cannot be written: {error.strerror}") from None
    finally:
        fresh.unlink(missing_ok=True)


def _variations(wish: str | None, names: tuple[str, ...]) -> tuple[str, ...]:
    wanted = tuple(filter(None, (" ".join(word.split()) for word in (wish or "").split(","))))
    for word in wanted:
        known("variation", word, names)
    return wanted
