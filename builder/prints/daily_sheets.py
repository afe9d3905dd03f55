"""Daily sets on paper: each day's pages for the stand, with the music in the order played."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from ..book.read import Book
from ..daily.plan import Plan
from ..engrave.scheduler import Pool
from ..jobs.progress import Progress
from ..music.instrument import Instrument
from ..paper.compose import Printed
from ..paper.page_format import PageFormat


@dataclass(frozen=True, slots=True)
class StudentPlan:
    """A plan to print: for an instrument, from a date on if one is known, and for whom if a name is given."""

    instrument: Instrument
    plan: Plan
    start: date | None = None
    student: str = ""


def daily_sheets(
    book: Book,
    plans: Sequence[StudentPlan],
    form: PageFormat,
    pool: Pool | None = None,
    progress: Progress | None = None,
) -> Printed:
    """Each student's plan as sheets with their music, one student after another.

    Raises NothingToPrint where they hold more music than a print may, and EngraverMissing.
    """
    raise NotImplementedError
