"""`stavewright daily`: what to play, day by day, as text, as JSON, as sheets with music and as a calendar."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from contextlib import ExitStack, closing
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from ..book.pieces import instrument_book_of
from ..book.read import Book, book_of, read_config
from ..daily.cautions import cautions
from ..daily.choices import Measured, measured
from ..daily.coverage import as_json, coverage, coverage_text
from ..daily.cp_sat import SolverMissing
from ..daily.measure import register_order
from ..daily.plan import MOST_DAYS, MOST_MINUTES, NoPlan, Plan, Promise
from ..daily.planner import SIMPLE, plan, quality_remark, remarks
from ..daily.sets import plan_json, plan_text
from ..jobs.progress import progress
from ..language.faults import BookFaults
from ..language.fields import MAX_BYTES
from ..language.read_students import read_students
from ..language.students import KnownBook, Student
from ..music.instrument import ABILITIES, LEVELS, Instrument
from ..paper.page_format import PAPERS, PageFormat
from ..plurals import count_of
from ..prints.choice import NothingToPrint, labels
from ..variations.printed_names import by_printed_name
from ..visible import visible
from .output_file import CALENDAR, PDF, fresh_file, put_in_place
from .saying import say, say_json
from .selectors import WrongUse, known, paper_wish, variations_wish


@dataclass(frozen=True, slots=True)
class Planned:
    """A student's plan, for an instrument and a level of ability (empty for any)."""

    student: str
    instrument: Instrument
    level: str
    plan: Plan


def daily(arguments: argparse.Namespace) -> int:
    """Plan and write; 1 where a file has a fault, 2 where a wish is not clear or cannot be done."""
    try:
        return _daily(arguments)
    except (WrongUse, SolverMissing, NothingToPrint) as wrong:
        say(wrong, file=sys.stderr)
        return 2
    except NoPlan as none:
        for row in (*none.reasons, *none.nearest):
            say(row, file=sys.stderr)
        return 2


def _daily(arguments: argparse.Namespace) -> int:
    _bounds("--minutes", arguments.minutes, MOST_MINUTES)
    _bounds("--days", arguments.days, MOST_DAYS)
    if arguments.out and arguments.calendar and arguments.out.resolve() == arguments.calendar.resolve():
        raise WrongUse(
            f"{visible(arguments.out)}: is named for the pages and for the calendar; name two files"
        )
    config = read_config(arguments.book)
    book = book_of(arguments.book, config)
    paper = PAPERS[paper_wish(arguments.paper) or book.paper]
    usual = _from_options(arguments, book)
    students = _students(arguments.student, book) if arguments.student else (Student(),)
    planned = _plans(arguments, book, usual, students)
    printed = None
    with ExitStack() as stack:
        pages = stack.enter_context(fresh_file(arguments.out, PDF)) if arguments.out else None
        entries = (
            stack.enter_context(fresh_file(arguments.calendar, CALENDAR)) if arguments.calendar else None
        )
        if pages:
            from ..engrave.worker_processes import WorkerPool
            from ..prints.daily_sheets import StudentPlan, daily_sheets

            sets = [StudentPlan(each.plan, each.instrument, each.student) for each in planned]
            with closing(WorkerPool()) as pool, progress("Engraving") as report:
                printed = daily_sheets(book, sets, arguments.start, PageFormat(paper), pool, report)
            pages.write_bytes(printed.data)
        if entries:
            from ..daily.calendar import calendar

            start = arguments.start or date.today()
            plans = [(each.student, each.plan) for each in planned]
            entries.write_bytes(
                calendar(plans, book.name, start, arguments.at, config.address, book.translation)
            )
        if pages and printed:
            put_in_place(pages, arguments.out, PDF)
            # What scripts read is alone on the standard output.
            _tell_written(arguments, f"{count_of(printed.pages, 'page')}: {visible(arguments.out)}")
        if entries:
            put_in_place(entries, arguments.calendar, CALENDAR)
            count = sum(len(each.plan.days) for each in planned)
            _tell_written(arguments, f"{count} entries: {visible(arguments.calendar)}")
    for problem in printed.problems if printed else ():
        say(problem, file=sys.stderr)
    if arguments.json:
        say_json(_as_json(book, planned, arguments.start))
    else:
        _tell(planned, arguments, written=bool(pages or entries))
    return 1 if printed and printed.problems else 0


def _tell_written(arguments: argparse.Namespace, said: str) -> None:
    say(said, file=sys.stderr if arguments.json else sys.stdout)


def _from_options(arguments: argparse.Namespace, book: Book) -> Student:
    """What the command line says for every student."""
    return Student(
        minutes=arguments.minutes or 0,
        days=arguments.days,
        instrument=known("instrument", arguments.instrument, [each.slug for each in book.instruments]),
        level=known("ability", ABILITIES.get(arguments.level, arguments.level), [*LEVELS, *ABILITIES]),
        ways=variations_wish(arguments.variations, labels(book)),
    )


def _students(path: Path, book: Book) -> tuple[Student, ...]:
    """The students of a file. Raises WrongUse, or BookFaults."""
    try:
        with path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except OSError as error:
        raise WrongUse(f"{visible(path)}: cannot be read: {error.strerror}") from None
    students, faults = read_students(
        str(path),
        data,
        KnownBook(
            exercises={each.slug: each.title for each in book.exercises},
            ways=labels(book),
            printed=by_printed_name(labels(book)),
            instruments=[each.slug for each in book.instruments],
            levels={**{level: level for level in LEVELS}, **ABILITIES},
            most_minutes=MOST_MINUTES,
            most_days=MOST_DAYS,
        ),
    )
    if faults:
        raise BookFaults(faults)
    return students


def _plans(
    arguments: argparse.Namespace, book: Book, usual: Student, students: Sequence[Student]
) -> list[Planned]:
    """The plan of each student. Raises NoPlan with the student's name, where several have one."""
    offered: dict[str, tuple[Measured, ...]] = {}
    found = []
    for student in students:
        slug = student.instrument or usual.instrument
        instrument = next((each for each in book.instruments if each.slug == slug), book.instruments[0])
        if instrument.slug not in offered:
            offered[instrument.slug] = tuple(measured(instrument_book_of(book.exercises, instrument)))
        try:
            found.append(_planned(arguments, usual, student, instrument, offered[instrument.slug]))
        except NoPlan as none:
            if not student.name or len(students) == 1:
                raise
            raise NoPlan((f"{student.name}: {none.reasons[0]}", *none.reasons[1:]), none.nearest) from None
    return found


def _planned(
    arguments: argparse.Namespace,
    usual: Student,
    student: Student,
    instrument: Instrument,
    pieces: tuple[Measured, ...],
) -> Planned:
    level = student.level or usual.level
    minutes, days = student.minutes or usual.minutes, student.days or usual.days
    if not minutes:
        raise WrongUse("how long is a day? give --minutes N, or `minutes: N` in the students' file")
    _last_day(arguments.start, days)
    choices = [
        each.choice
        for each in pieces
        if (not level or each.suits(instrument, level))
        and (not student.exercises or each.choice.exercise in student.exercises)
    ]
    wish = Promise(
        minutes,
        days,
        ways=student.ways or usual.ways,
        seed=arguments.seed,
        complete=arguments.every_key,
        opening=student.opening,
        always=student.always,
        each_day=student.each_day,
        more=student.more,
        less=student.less,
    )
    try:
        made = plan(wish, choices, register_order(instrument), exact=arguments.exact)
    except NoPlan as none:
        if choices or student.exercises:
            raise
        raise NoPlan(none.reasons, _pieces_by_ability(pieces, instrument)) from None
    return Planned(student.name, instrument, level, made)


def _pieces_by_ability(pieces: Sequence[Measured], instrument: Instrument) -> list[str]:
    counts = {
        name: sum(each.suits(instrument, level) for each in pieces) for name, level in ABILITIES.items()
    }
    return [
        f"For {'a' if name[0] == 'b' else 'an'} {name} player there "
        f"{'is' if count == 1 else 'are'} {count_of(count, 'piece')}."
        for name, count in counts.items()
        if count
    ]


def _as_json(book: Book, planned: Sequence[Planned], start: date | None) -> Any:
    """One student's plan as an object, several as a list of them."""
    found = [
        {
            "book": book.name,
            "student": each.student,
            "instrument": each.instrument.slug,
            "level": each.level,
            **plan_json(each.plan, start),
            "remarks": list(remarks(each.plan)),
        }
        for each in planned
    ]
    return found[0] if len(found) == 1 else found


def tell_coverage(book: Book) -> None:
    """Say what a book practises, private exercises too, for each of its instruments."""
    for instrument in book.instruments:
        found = coverage(
            (each.notes for each in measured(instrument_book_of(book.exercises, instrument))), instrument
        )
        say()
        say(coverage_text(found, f"{instrument.name}: what the book practises"))


def coverage_json(book: Book) -> dict[str, Any]:
    """What `tell_coverage` says as JSON values, by the instrument's name on the command line."""
    return {
        instrument.slug: as_json(
            coverage(
                (each.notes for each in measured(instrument_book_of(book.exercises, instrument))), instrument
            )
        )
        for instrument in book.instruments
    }


def _tell(planned: Sequence[Planned], arguments: argparse.Namespace, written: bool) -> None:
    """Say each plan where no file was asked for, the remarks on it, and the cautions once."""
    for each in planned:
        if each.student:
            say(f"{each.student}:")
        if not written:
            say(plan_text(each.plan, arguments.start))
            say()
        for row in remarks(each.plan):
            say(row)
        if arguments.report:
            say(quality_remark(each.plan))
            if each.plan.method == SIMPLE and not each.plan.proved:
                say("--exact may find a better plan.")
        say()
    for row in dict.fromkeys(row for each in planned for row in cautions(each.plan)):
        say(row)


def _bounds(option: str, number: int | None, most: int) -> None:
    if number is not None and not 1 <= number <= most:
        raise WrongUse(f"{option} {number} is out of bounds: ask for 1 to {most}")


def _last_day(start: date | None, days: int) -> None:
    if start is not None and (date.max - start).days < days:
        raise WrongUse(f"--from {start} --days {days} goes beyond the calendar's last day; start earlier")
