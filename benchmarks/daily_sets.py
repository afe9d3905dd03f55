"""How good daily sets by the simple method are, and what the exact one adds, on the book in a folder.

    python benchmarks/daily_sets.py [FOLDER]

Each row is one promise for the book's first instrument: what the simple plan is worth as a share of what the
exact plan is worth, how far each is from the bound that no plan can pass, and how many times as long the
exact method took in the same run. Then the simple method plans fourteen days for larger books, made
of copies of this one, and each time stands beside that for the book itself. The exact method needs the
solver: pip install 'stavewright[daily]'.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from pathlib import Path

from stavewright.book.pieces import instrument_book_of
from stavewright.book.read import open_book
from stavewright.daily.choices import Choice, measured
from stavewright.daily.measure import register_order
from stavewright.daily.plan import Promise
from stavewright.daily.planner import plan

COPIES = (1, 4, 20)

WISHES = (Promise(5, 7), Promise(5, 14), Promise(15, 7), Promise(15, 14), Promise(25, 14), Promise(40, 14))


def main(folder: Path) -> None:
    """Print the rows."""
    book = open_book(folder)
    instrument = book.instruments[0]
    choices = [each.choice for each in measured(instrument_book_of(book.exercises, instrument))]
    registers = register_order(instrument)
    print(f"{len(choices)} pieces, {instrument.name.lower()}")
    print(
        f"{'minutes':>8} {'days':>5} {'simple/exact':>13} {'gap, simple':>12} {'gap, exact':>11} {'time':>8}"
    )
    for wish in WISHES:
        plans, times = [], []
        for exact in (False, True):
            started = time.perf_counter()
            plans.append(plan(wish, choices, registers, exact=exact))
            times.append(time.perf_counter() - started)
        simple, best = plans
        bound = min(simple.bound, best.bound)
        print(
            f"{wish.minutes:>8} {wish.days:>5} {simple.worth / best.worth:>13.4f} "
            f"{1 - simple.worth / bound:>11.2%} {1 - best.worth / bound:>10.2%} {times[1] / times[0]:>7.0f}×"
        )

    print(f"\n{'exercises':>9} {'seconds':>8} {'of the book':>12}")
    own = 0.0
    for copies in COPIES:
        many = [_copy(choice, copy) for copy in range(copies) for choice in choices]
        started = time.perf_counter()
        plan(Promise(15, 14), many, registers)
        took = time.perf_counter() - started
        own = own or took
        print(f"{len({choice.exercise for choice in many}):>9} {took:>8.2f} {took / own:>11.1f}×")


def _copy(choice: Choice, copy: int) -> Choice:
    return replace(choice, exercise=f"{choice.exercise}-{copy}", name=f"{choice.name}, copy {copy}")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path())
