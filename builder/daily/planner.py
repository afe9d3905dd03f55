"""Makes a plan from a wish by either method, or says why there is none and what could change."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from ..plurals import count_of, listed
from .choices import Choice
from .greedy import simple_days
from .plan import (
    MOST_DAYS,
    MOST_MINUTES,
    Days,
    NoPlan,
    Plan,
    Problem,
    Promise,
    needed_seconds,
    objective,
    pauses_in,
    problem_of,
    simple_bound,
)

SIMPLE = "simple"
EXACT = "exact"


def plan(wish: Promise, choices: Sequence[Choice], registers: Sequence[str], exact: bool = False) -> Plan:
    """A plan for a wish from a book's choices; `registers` in the order of a set.

    Raises NoPlan with what could change, ValueError if the wish is out of bounds, and SolverMissing if the
    exact method is wanted and its solver is not installed.
    """
    asked = problem_of(wish, choices, registers)
    days, faults = simple_days(asked)
    bound = simple_bound(asked)
    if exact:
        from .cp_sat import exact_days

        solved = exact_days(asked, None if faults else days)
        if solved.days is not None:
            bound = min(bound, solved.bound)
            if faults or objective(solved.days) > objective(days):
                days, faults = solved.days, ()
        elif solved.impossible:
            raise NoPlan(_reasons(asked, faults, proved=True), _nearest(asked, choices, registers, days))
    if faults:
        proved = needed_seconds(asked) > asked.budget
        raise NoPlan(_reasons(asked, faults, proved), _nearest(asked, choices, registers, days))
    return Plan(asked, days, objective(days), bound, EXACT if exact else SIMPLE)


def _reasons(asked: Problem, faults: tuple[str, ...], proved: bool) -> tuple[str, ...]:
    """Why there is no plan, in sentences."""
    wish = asked.wish
    span = f"{count_of(wish.minutes, 'minute')} a day for {count_of(wish.days, 'day')}"
    needed = needed_seconds(asked)
    if needed > asked.budget:
        keys = max(asked.least.values())
        return (
            f"{span} are too short: going through the registers once, with "
            f"{count_of(keys, 'key')} in each, takes {needed // 60} min {needed % 60:02d} s with short "
            f"rests, and a day has {asked.budget // 60} min.",
        )
    head = f"{span} cannot hold" if proved else f"No plan was found that fits into {span} and holds"
    return (
        f"{head} every key, every register and every variation asked for. The nearest fails in this:",
        *faults,
    )


def _nearest(
    asked: Problem, choices: Sequence[Choice], registers: Sequence[str], days: Days
) -> tuple[str, ...]:
    """What can be done instead; each was tried and works."""
    wish = asked.wish
    found = []

    def works(other: Promise) -> bool:
        try:
            return not simple_days(problem_of(other, choices, registers), tries=3)[1]
        except NoPlan:
            return False

    minutes = _first(wish.minutes, MOST_MINUTES, lambda count: works(replace(wish, minutes=count)))
    if minutes:
        found.append(f"{count_of(minutes, 'minute')} a day for {count_of(wish.days, 'day')} is enough.")
    more = _first(wish.days, MOST_DAYS, lambda count: works(replace(wish, days=count)))
    if more:
        found.append(f"{count_of(wish.minutes, 'minute')} a day for {count_of(more, 'day')} is enough.")
    if wish.keys > 1 and works(replace(wish, keys=1)):
        found.append("It works with one key in each register a day (--keys 1).")
    met = {item.variation for day in days for item in day}
    fewer = tuple(name for name in asked.variations if name in met)
    if 0 < len(fewer) < len(asked.variations) and works(replace(wish, variations=fewer)):
        left = [name for name in asked.variations if name not in met]
        found.append(f"It works without {listed(left)}.")
    if not found:
        found.append(f"Ask for more than {count_of(wish.minutes, 'minute')} a day or for fewer variations.")
    return tuple(found)


def _first(beyond: int, most: int, works: Callable[[int], bool]) -> int:
    """The first number above `beyond` that works, found in growing steps and then back; 0 if none does."""
    low, step = beyond, 1
    while low + step <= most and not works(low + step):
        low, step = low + step, step * 2
    high = low + step
    if high > most:
        return 0
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if works(middle) else (middle, high)
    return high


def remarks(made: Plan) -> tuple[str, ...]:
    """Remarks on a plan for the player: how good it is, and what the book has too little of."""
    asked = made.problem
    found = []
    pairs = {item.pair for day in made.days for item in day}
    possible = {choice.pair for choice in asked.choices}
    found.append(
        f"{len(pairs)} of the {len(possible)} combinations of key and register in the book occur in "
        f"{count_of(asked.wish.days, 'day')}."
    )
    if made.proved:
        found.append("No plan has a higher score.")
    else:
        found.append(
            f"The plan scores {made.worth:,} points, and no plan can score more than "
            f"{made.bound:,}: it is within {100 * made.gap:.1f}% of the best."
        )
    for register in asked.registers:
        least = asked.least[register]
        if least < asked.wish.keys:
            keys = len({choice.key for choice in asked.choices if choice.register == register})
            found.append(
                f"In the {register} register the book has only {count_of(keys, 'key')} to choose from, so "
                + (
                    "it does not come every day."
                    if not least
                    else f"a day has {count_of(least, 'key')} there."
                )
            )
    filled = sum(item.whole for day in made.days for item in day) / len(made.days) / 60
    if filled < 0.9 * asked.budget / 60:
        found.append(
            f"The plan fills about {filled:.0f} of the {asked.budget // 60} minutes of a day: exercises "
            "played the day before are left out in the same key, and the rest of the book is short."
        )
    if count := max(map(pauses_in, made.days)):
        found.append(f"A day has {count_of(count, 'pause')} of five minutes.")
    return tuple(found)
