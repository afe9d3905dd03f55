"""`stavewright print`: what to print, and where to."""

from __future__ import annotations

import argparse
import sys
from contextlib import closing
from pathlib import Path

from ..book.links import check_links
from ..book.options import naming_in
from ..book.read import book_of, read_config
from ..engrave.processes.worker_processes import WorkerPool
from ..jobs.progress import progress
from ..language.faults import BookFaults
from ..language.fields import MAX_BYTES
from ..language.selecting.read_selection import read_selection
from ..language.selecting.selection import Selection
from ..paper.imposition import gatherings
from ..paper.page_format import LARGEST_STAFF, PAPERS, SMALLEST_STAFF, PageFormat
from ..plurals import count_of
from ..prints.choice import NothingToPrint, PrintChoice, absent, labels
from ..prints.documents import print_choice
from ..prints.parts import PARTS
from ..prints.selection import ExercisePages, print_selection
from ..visible import visible
from .output_file import PDF, fresh_file, put_in_place
from .saying import say
from .selectors import WrongUse, all_known, key_wish, known, paper_wish, split_lists, variations_wish


def printing(arguments: argparse.Namespace) -> int:
    """Print; 1 where the book has a fault or a piece could not be engraved, 2 where the wish is not clear."""
    try:
        return _printing(arguments)
    except (WrongUse, NothingToPrint) as wrong:
        say(wrong, file=sys.stderr)
        return 2


def _printing(arguments: argparse.Namespace) -> int:
    named_keys = split_lists(arguments.key)
    exercises = split_lists(arguments.exercise)
    if [arguments.all, bool(named_keys or exercises), bool(arguments.selection)].count(True) != 1:
        raise WrongUse(
            "say what to print: --key KEY, --exercise NAME, both of them, --all, or --selection FILE"
        )
    staff = arguments.staff_size
    if staff is not None and not SMALLEST_STAFF <= staff <= LARGEST_STAFF:
        raise WrongUse(
            f"a staff of {staff:g} mm is out of bounds: choose from {SMALLEST_STAFF:g} mm, which can still "
            f"be read at arm's length, to {LARGEST_STAFF:g} mm"
        )
    config = read_config(arguments.book)
    naming = naming_in(config)
    keys = tuple(dict.fromkeys(key_wish(name, naming) for name in named_keys))
    book = book_of(arguments.book, config)
    choice = PrintChoice(
        known("instrument", arguments.instrument, [each.slug for each in book.instruments])
        or book.instruments[0].slug,
        keys,
        all_known("exercise", exercises, [each.slug for each in book.exercises]),
        variations_wish(arguments.variations, labels(book)),
        arguments.written_out,
        known("part", arguments.part, PARTS),
    )
    paper = PAPERS[paper_wish(arguments.paper) or book.paper]
    form = PageFormat(paper, staff, arguments.booklet, arguments.single_sided)
    pages = ExercisePages(book)
    selection = _selection(arguments, pages) if arguments.selection else None
    with fresh_file(arguments.out, PDF) as fresh:
        with closing(WorkerPool()) as pool, progress("Engraving", arguments.quiet) as report:
            if selection:
                printed = print_selection(pages, selection, form, pool, report)
            else:
                description = config.text("site_description")
                printed = print_choice(book, description, choice, form, pool, report)
        fresh.write_bytes(printed.data)
        put_in_place(fresh, arguments.out, PDF)
    for problem in (*printed.problems, *absent(book, choice)):
        say(problem, file=sys.stderr)
    if not arguments.quiet:
        _tell_written(printed.pages, arguments.out, form)
    return 1 if printed.problems else 0


def _tell_written(pages: int, out: Path, form: PageFormat) -> None:
    say(f"{count_of(pages, 'page')}: {visible(out)}")
    if form.booklet:
        parts = gatherings(pages)
        say(
            f"{count_of(sum(parts), 'sheet')} of {form.paper.double}: print on both sides, flipped on "
            f"the short edge, and fold in the middle{_together(parts)}."
        )


def _together(parts: list[int]) -> str:
    """How many sheets are folded together, where it is not all of them."""
    if len(parts) == 1:
        return ""
    counts = " and ".join(str(count) for count in dict.fromkeys(parts))
    return f", {counts} sheets at a time in the order printed"


def _selection(arguments: argparse.Namespace, pages: ExercisePages) -> Selection:
    """The selection in a file. Raises WrongUse, or BookFaults with every fault of the file."""
    if arguments.instrument or arguments.variations:
        raise WrongUse(
            "with --selection, the file names the instrument and the variations: leave out --instrument and "
            "--variations"
        )
    if arguments.part:
        raise WrongUse("with --selection, both parts of duets are printed: leave out --part")
    path: Path = arguments.selection
    check_links(arguments.book, [path], read_config(arguments.book).options())
    try:
        with path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except OSError as error:
        raise WrongUse(f"{visible(path)}: cannot be read: {error.strerror}") from None
    selection, faults = read_selection(str(path), data, pages.known(), pages.book.naming)
    if selection is None:
        raise BookFaults(faults)
    if arguments.booklet and len(selection.handouts) > 1:
        raise WrongUse(
            f"a booklet is for one student, and {visible(path)} has {len(selection.handouts)} hand-outs: "
            "leave out --booklet, or divide the file"
        )
    return selection
