"""`stavewright print`: what to print, and where to."""

from __future__ import annotations

import argparse
import sys

from builder.book import open_book, read_config
from builder.publish.paper.form import LARGEST_STAFF, PAPERS, SMALLEST_STAFF, Form
from builder.publish.paper.make import Choice, NothingToPrint, labels, print_choice
from builder.publish.progress import progress

from .fresh import fresh_file
from .wishes import WrongUse, key_wish, known, variations_wish


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
        variations_wish(arguments.variations, labels(book)),
    )
    paper = PAPERS[known("paper", arguments.paper, list(PAPERS)) or book.paper]
    form = Form(paper, staff, arguments.booklet, arguments.single_sided)
    with fresh_file(arguments.out) as fresh:
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
