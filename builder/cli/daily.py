"""`stavewright daily`: what to play, day by day, as text, as sheets for the stand and as a calendar."""

from __future__ import annotations

import argparse
import sys
from contextlib import ExitStack, closing
from datetime import date

from ..book.pieces import instrument_book_of
from ..book.read import Book, book_of, read_config
from ..daily.cautions import cautions
from ..daily.choices import Measured, measured
from ..daily.coverage import coverage, coverage_text
from ..daily.cp_sat import SolverMissing
from ..daily.measure import register_order
from ..daily.plan import MOST_DAYS, MOST_MINUTES, NoPlan, Plan, Promise
from ..daily.planner import SIMPLE, plan, remarks
from ..daily.sets import plan_text
from ..jobs.progress import progress
from ..music.instrument import ABILITIES, LEVELS, Instrument
from ..paper.page_format import PAPERS, PageFormat
from ..plurals import count_of
from ..prints.choice import labels
from ..visible import visible
from .output_file import CALENDAR, PDF, fresh_file, put_in_place
from .saying import say
from .selectors import WrongUse, known, paper_wish, variations_wish


def daily(arguments: argparse.Namespace) -> int:
    """Plan and write; 2 where the wish is not clear or cannot be done."""
    try:
        return _daily(arguments)
    except (WrongUse, SolverMissing) as wrong:
        say(wrong, file=sys.stderr)
        return 2
    except NoPlan as none:
        for row in (*none.reasons, *none.nearest):
            say(row, file=sys.stderr)
        return 2


def _daily(arguments: argparse.Namespace) -> int:
    _bounds("--minutes", arguments.minutes, MOST_MINUTES)
    _bounds("--days", arguments.days, MOST_DAYS)
    _bounds("--keys", arguments.keys, 12)
    if arguments.out and arguments.calendar and arguments.out.resolve() == arguments.calendar.resolve():
        raise WrongUse(
            f"{visible(arguments.out)}: is named for the pages and for the calendar; name two files"
        )
    level = known("ability", ABILITIES.get(arguments.level, arguments.level), [*LEVELS, *ABILITIES])
    _last_day(arguments.start, arguments.days)
    config = read_config(arguments.book)
    book = book_of(arguments.book, config)
    slug = known("instrument", arguments.instrument, [each.slug for each in book.instruments])
    instrument = next((each for each in book.instruments if each.slug == slug), book.instruments[0])
    paper = PAPERS[paper_wish(arguments.paper) or book.paper]
    wish = Promise(
        arguments.minutes,
        arguments.days,
        variations_wish(arguments.variations, labels(book)),
        arguments.keys,
        arguments.seed,
    )
    found = tuple(measured(instrument_book_of(book.exercises, instrument)))
    offered = [each.choice for each in found if not level or _within(each, instrument, level)]
    try:
        made = plan(wish, offered, register_order(instrument), exact=arguments.exact)
    except NoPlan as none:
        if offered:
            raise
        counts = [
            (name, sum(_within(each, instrument, plain) for each in found))
            for name, plain in ABILITIES.items()
        ]
        nearest = [
            f"For {'a' if name[0] == 'b' else 'an'} {name} player there "
            f"{'is' if count == 1 else 'are'} {count_of(count, 'piece')}."
            for name, count in counts
            if count
        ]
        raise NoPlan(none.reasons, nearest) from None
    printed = None
    with ExitStack() as stack:
        pages = stack.enter_context(fresh_file(arguments.out, PDF)) if arguments.out else None
        entries = (
            stack.enter_context(fresh_file(arguments.calendar, CALENDAR)) if arguments.calendar else None
        )
        if pages:
            from ..engrave.worker_processes import WorkerPool
            from ..prints.daily_sheets import daily_sheets

            description = config.text("site_description")
            form = PageFormat(paper)
            with closing(WorkerPool()) as pool, progress("Engraving") as report:
                printed = daily_sheets(
                    book, description, instrument, made, arguments.start, form, pool, report
                )
            pages.write_bytes(printed.data)
        if entries:
            from ..daily.calendar import calendar

            start = arguments.start or date.today()
            entries.write_bytes(calendar(made, book.name, start, arguments.at, config.address))
        if pages and printed:
            put_in_place(pages, arguments.out, PDF)
            say(f"{count_of(printed.pages, 'page')}: {visible(arguments.out)}")
        if entries:
            put_in_place(entries, arguments.calendar, CALENDAR)
            say(f"{wish.days} entries: {visible(arguments.calendar)}")
    for problem in printed.problems if printed else ():
        say(problem, file=sys.stderr)
    if not pages and not entries:
        say(plan_text(made, arguments.start))
        say()
    _tell(made)
    return 1 if printed and printed.problems else 0


def tell_coverage(book: Book) -> None:
    """Say what a book practises, private exercises too, for each of its instruments."""
    for instrument in book.instruments:
        found = coverage(
            (each.notes for each in measured(instrument_book_of(book.exercises, instrument))), instrument
        )
        say()
        say(coverage_text(found, f"{instrument.name}: what the book practises"))


def _tell(made: Plan) -> None:
    for row in remarks(made):
        say(row)
    if made.method == SIMPLE and not made.proved:
        say("--exact may find a better plan.")
    say()
    for row in cautions(made):
        say(row)


def _bounds(option: str, number: int, most: int) -> None:
    if not 1 <= number <= most:
        raise WrongUse(f"{option} {number} is out of bounds: ask for 1 to {most}")


def _last_day(start: date | None, days: int) -> None:
    if start is not None and (date.max - start).days < days:
        raise WrongUse(f"--from {start} --days {days} goes beyond the calendar's last day; start earlier")


def _within(each: Measured, instrument: Instrument, level: str) -> bool:
    """Whether every note lies in the reach of a player of that level, grace notes and trills too."""
    return instrument.at_level(level).compass.prefers(each.lowest, each.highest)
