"""`stavewright print`: what to print, and where to."""

from __future__ import annotations

import argparse
import sys
from contextlib import closing
from pathlib import Path

from ..book.links import check_links
from ..book.read import Book, book_of, read_config
from ..engrave.worker_processes import WorkerPool
from ..jobs.progress import progress
from ..language.faults import BookFaults
from ..language.fields import MAX_BYTES
from ..language.handout import Handout, read_handout
from ..paper.documents import NothingToPrint, PrintChoice, absent, labels, print_choice
from ..paper.handout import handout_page, known_to
from ..paper.page_format import LARGEST_STAFF, PAPERS, SMALLEST_STAFF, PageFormat
from ..plurals import count_of
from ..visible import visible
from .output_file import PDF, fresh_file, put_in_place
from .saying import say
from .selectors import WrongUse, all_known, key_wish, known, listed, paper_wish, variations_wish


def printing(arguments: argparse.Namespace) -> int:
    """Print; 1 where the book has a fault or a piece could not be engraved, 2 where the wish is not clear."""
    try:
        return _printing(arguments)
    except (WrongUse, NothingToPrint) as wrong:
        say(wrong, file=sys.stderr)
        return 2


def _printing(arguments: argparse.Namespace) -> int:
    keys = tuple(dict.fromkeys(map(key_wish, listed(arguments.key))))
    exercises = listed(arguments.exercise)
    if [arguments.all, bool(keys or exercises), bool(arguments.handout)].count(True) != 1:
        raise WrongUse(
            "say what to print: --key KEY, --exercise NAME, both of them, --all, or --handout FILE"
        )
    staff = arguments.staff_size
    if staff is not None and not SMALLEST_STAFF <= staff <= LARGEST_STAFF:
        raise WrongUse(
            f"a staff of {staff:g} mm is out of bounds: choose from {SMALLEST_STAFF:g} mm, which can still "
            f"be read at arm's length, to {LARGEST_STAFF:g} mm"
        )
    config = read_config(arguments.book)
    book = book_of(arguments.book, config)
    choice = PrintChoice(
        known("instrument", arguments.instrument, [each.slug for each in book.instruments])
        or book.instruments[0].slug,
        keys,
        all_known("exercise", exercises, [each.slug for each in book.exercises]),
        variations_wish(arguments.variations, labels(book)),
    )
    paper = PAPERS[paper_wish(arguments.paper) or book.paper]
    form = PageFormat(paper, staff, arguments.booklet, arguments.single_sided)
    handout = _handout(arguments, book) if arguments.handout else None
    with fresh_file(arguments.out, PDF) as fresh:
        with closing(WorkerPool()) as pool, progress("Engraving") as report:
            if handout:
                printed = handout_page(book, handout, form, pool, report)
            else:
                description = config.text("site_description")
                printed = print_choice(book, description, choice, form, pool, report)
        fresh.write_bytes(printed.data)
        put_in_place(fresh, arguments.out, PDF)
    for problem in (*printed.problems, *absent(book, choice)):
        say(problem, file=sys.stderr)
    say(f"{count_of(printed.pages, 'page')}: {visible(arguments.out)}")
    if form.booklet:
        sheets = -(-printed.pages // 4)
        say(
            f"{count_of(sheets, 'sheet')} of {paper.double}: print on both sides, flipped on "
            "the short edge, and fold in the middle."
        )
    return 1 if printed.problems else 0


def _handout(arguments: argparse.Namespace, book: Book) -> Handout:
    """The hand-out that a file describes. Raises WrongUse, or BookFaults with every fault of the file."""
    if arguments.instrument or arguments.variations or arguments.booklet:
        raise WrongUse(
            "with --handout, the file names the instrument and the variations, and there is one page: leave "
            "out --instrument, --variations and --booklet"
        )
    path: Path = arguments.handout
    check_links(arguments.book, [path], read_config(arguments.book).options())
    try:
        with path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except OSError as error:
        raise WrongUse(f"{visible(path)}: cannot be read: {error.strerror}") from None
    handout, faults = read_handout(str(path), data, known_to(book))
    if handout is None:
        raise BookFaults(faults)
    return handout
