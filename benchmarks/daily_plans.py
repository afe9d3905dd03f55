"""Ten plans of daily sets for three abilities, as docs/daily-sets.md prints them.

    python benchmarks/daily_plans.py [FOLDER]

Each is the first days of a plan for a fortnight from the book's first instrument, by the simple method.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

from stavewright.book.pieces import instrument_book_of
from stavewright.book.read import open_book
from stavewright.daily.choices import Measured, measured
from stavewright.daily.measure import register_order
from stavewright.daily.plan import Promise
from stavewright.daily.planner import coverage_remark, plan
from stavewright.daily.sets import block_how, block_keys, block_title, clock_time, days
from stavewright.music.winds.instrument import Instrument

PLANS = (
    ("beginner", 5, 3),
    ("beginner", 10, 3),
    ("beginner", 15, 2),
    ("intermediate", 5, 3),
    ("intermediate", 12, 3),
    ("intermediate", 20, 2),
    ("intermediate", 40, 1),
    ("advanced", 3, 3),
    ("advanced", 15, 3),
    ("advanced", 60, 1),
)
"""Ability, minutes a day, and how many days are printed."""

_LEVELS = {"beginner": "beginning", "intermediate": "developing", "advanced": "advanced"}


def rows(pieces: Sequence[Measured], instrument: Instrument) -> Iterator[str]:
    """The plans as lines of Markdown."""
    for ability, minutes, shown in PLANS:
        choices = [each.choice for each in pieces if each.suits(instrument, _LEVELS[ability])]
        made = plan(Promise(minutes, 14), choices, register_order(instrument))
        yield f"### {ability.capitalize()}, {minutes} minutes"
        yield ""
        for day in days(made)[:shown]:
            yield f"{day.name} ({clock_time(day.seconds)})"
            yield ""
            number = 0
            for place, sitting in enumerate(day.sittings):
                for block in sitting:
                    number += 1
                    paused = "after a pause of five minutes: " if place and block is sitting[0] else ""
                    yield (
                        f"{number}. {paused}{block_title(block)}, {block_keys(block)}: {block_how(block)} "
                        f"({clock_time(block.seconds)})"
                    )
            yield ""
        yield coverage_remark(made)
        yield ""


def main(folder: Path) -> None:
    """Print the plans."""
    book = open_book(folder)
    instrument = book.instruments[0]
    pieces = list(measured(instrument_book_of(book.exercises, instrument)))
    print("\n".join(rows(pieces, instrument)).rstrip())


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path())
