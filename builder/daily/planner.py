"""Makes a plan from a promise by either method, or says why there is none and what could change."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import ceil

from ..plurals import count_of, listed
from ..translation.said import Said, counted, phrase
from .choices import Choice
from .plan import MOST_DAYS, MOST_MINUTES, NoPlan, Plan, Problem, Promise, objective
from .rules import needed_seconds, problem_of, simple_bound
from .simple import TRIES, simple_days

SIMPLE = "simple"
EXACT = "exact"


def plan(
    wish: Promise,
    choices: Sequence[Choice],
    registers: Sequence[str],
    exact: bool = False,
    tries: int = TRIES,
    quick: bool = False,
) -> Plan:
    """A plan for a promise from a book's choices; `registers` in the order of a set.

    The simple method makes several tries, or one `quick` one (see stavewright.daily.simple). Raises NoPlan,
    with what could change unless it is to be `quick`; ValueError if the promise is out of bounds; and
    SolverMissing if the exact method is wanted and its solver is not installed.
    """
    asked = problem_of(wish, choices, registers)
    days, faults = simple_days(asked, 1 if quick else tries, quick)
    bound = simple_bound(asked)

    def nearest() -> tuple[str, ...]:
        return _nearest(asked, choices, registers) if not quick else ()

    if exact:
        from .cp_sat import exact_days

        solved = exact_days(asked, None if faults else days)
        if solved.days is not None:
            bound = min(bound, solved.bound)
            if faults or objective(asked, solved.days).total > objective(asked, days).total:
                days, faults = solved.days, ()
        elif solved.impossible:
            raise NoPlan(_reasons(asked, faults, proved=True), nearest())
    if faults:
        raise NoPlan(_reasons(asked, faults, proved=False), nearest())
    return Plan(asked, days, objective(asked, days).total, bound, EXACT if exact else SIMPLE)


def _reasons(asked: Problem, faults: tuple[str, ...], proved: bool) -> tuple[str, ...]:
    """Why there is no plan, in sentences."""
    wish = asked.wish
    span = f"{count_of(wish.minutes, 'minute')} a day for {count_of(wish.days, 'day')}"
    head = f"{span} cannot hold" if proved else f"No plan was found in which {span} hold"
    return f"{head} all that is asked for. The nearest fails in this:", *faults


def _nearest(asked: Problem, choices: Sequence[Choice], registers: Sequence[str]) -> tuple[str, ...]:
    """What can be done instead; each was tried and works."""
    wish = asked.wish
    found = []

    def works(other: Promise) -> bool:
        try:
            return not simple_days(problem_of(other, choices, registers), tries=1)[1]
        except NoPlan:
            return False

    least_days = max(wish.days, _least_days(asked) - 1) if wish.complete else wish.days
    # Much larger plans take long to try, and would help nobody.
    most_days, most_minutes = min(MOST_DAYS, 2 * least_days + 7), min(MOST_MINUTES, 4 * wish.minutes)
    more = _first(least_days, most_days, lambda count: works(replace(wish, days=count)))
    if more:
        found.append(f"{count_of(wish.minutes, 'minute')} a day for {count_of(more, 'day')} is enough.")
    minutes = _first(wish.minutes, most_minutes, lambda count: works(replace(wish, minutes=count)))
    if minutes:
        found.append(f"{count_of(minutes, 'minute')} a day for {count_of(wish.days, 'day')} is enough.")
    if wish.complete and works(replace(wish, complete=False)):
        found.append("It works without the promise that every key comes.")
    for name in (wish.opening, *wish.always):
        fewer = replace(
            wish,
            opening="" if wish.opening == name else wish.opening,
            always=tuple(other for other in wish.always if other != name),
        )
        if name and works(fewer):
            found.append(f"It works where {name} is not fixed for each day.")
    if wish.each_day and works(replace(wish, each_day=())):
        found.append(f"It works where {listed(wish.each_day)} need not come each day.")
    if not found:
        found.append(f"Ask for more than {count_of(wish.minutes, 'minute')} a day, or fix less.")
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


def _least_days(asked: Problem) -> int:
    """Fewer days than these cannot bring every portion."""
    return ceil(needed_seconds(asked) / (asked.budget * asked.sittings))


def coverage_remark(made: Plan) -> Said:
    """How much of the book comes in a plan, and how many days would bring all of it."""
    asked = made.problem
    met = {block.portion for block in made.blocks}
    whole = sum(len(portion.settings) for portion in asked.portions)
    come = sum(len(portion.settings) for portion in met)
    days = _days(asked.wish.days)
    if come == whole:
        return phrase("Every exercise comes in every key and register within {days}.", days=days)
    least = max(asked.wish.days + 1, _least_days(asked))
    return phrase(
        "In {days} come {come} of the {whole} places of the book (each exercise in each key and register); "
        "all of them need {least} at least.",
        days=days,
        come=come,
        whole=whole,
        least=_days(least),
    )


def _days(count: int) -> Said:
    return counted("{count} day", "{count} days", count)


def remarks(made: Plan) -> tuple[Said, ...]:
    """Remarks on a plan for the player: what it covers, and what the book has too little of."""
    asked = made.problem
    found = [coverage_remark(made)]
    ways = {block.work for block in made.blocks}
    if len(ways) < len(asked.works):
        found.append(
            phrase(
                "{count} of the {whole} ways of playing come (each exercise in each of its ways).",
                count=len(ways),
                whole=len(asked.works),
            )
        )
    filled = sum(block.seconds for block in made.blocks) / len(made.days) / 60
    if filled < 0.7 * asked.budget * asked.sittings / 60:
        found.append(
            phrase(
                "The plan fills about {filled} of {whole} minutes a day: the book has too little that was "
                "not played the day before.",
                filled=f"{filled:.0f}",
                whole=asked.budget * asked.sittings // 60,
            )
        )
    if asked.sittings > 1:
        found.append(
            counted(
                "A day has {count} sitting, with a pause of five minutes between.",
                "A day has {count} sittings, with a pause of five minutes between.",
                asked.sittings,
            )
        )
    return tuple(found)


def quality_remark(made: Plan) -> str:
    """How good the plan is by its own measure, for the long report."""
    if made.proved:
        return f"The plan has {made.worth:,} points. No plan has more."
    return (
        f"The plan has {made.worth:,} points, and no plan can have more than {made.bound:,}: it is within "
        f"{100 * made.gap:.1f}% of the best possible plan."
    )
