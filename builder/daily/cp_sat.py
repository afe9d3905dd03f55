"""The exact method: the problem of stavewright.daily.plan as a model for the CP-SAT solver of OR-Tools.

The solver is a large library and an optional part: `pip install 'stavewright[daily]'`. It runs without a
clock, by its own count of work done, so that equal seeds give equal plans with equal versions of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from .choices import Choice
from .plan import PAIR_WORTH, WORK_WORTH, Days, Problem, one_of, same_choices
from .plan import kinds as kinds_of

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

EFFORT = 4.0
"""How long the solver may work, in its own units: some seconds on one core."""


class SolverMissing(Exception):
    """Raised if the optional solver is not installed; its text says how to install it."""


@dataclass(frozen=True, slots=True)
class Solved:
    """The solver's result: days (None if it found none), and an upper bound of any plan's worth.

    `impossible` is true if it proved that there is no plan.
    """

    days: Days | None
    bound: int
    impossible: bool


def exact_days(task: Problem, start: Days | None = None, effort: float = EFFORT) -> Solved:
    """Solve a problem, starting from a known plan if one is given. Raises SolverMissing."""
    try:
        from ortools.sat.python import cp_model
    except ImportError:
        raise SolverMissing(
            "The exact method needs the solver: pip install 'stavewright[daily]'. "
            "The simple method needs none: leave out --exact."
        ) from None
    model = cp_model.CpModel()
    kinds = kinds_of(task)
    days = range(task.wish.days)
    takes = {(kind, day): model.new_bool_var(f"{kind}/{day}") for kind in range(len(kinds)) for day in days}
    _constrain(model, task, kinds, takes, start)
    gains = [kinds[kind][0].whole * take for (kind, _), take in takes.items()]
    for number, (steps, by) in enumerate(((PAIR_WORTH, _pair), (WORK_WORTH, _work))):
        for name in dict.fromkeys(by(kind[0]) for kind in kinds):
            inside = [take for (kind, _), take in takes.items() if by(kinds[kind][0]) == name]
            counted = [model.new_bool_var(f"{number}/{name}/{step}") for step in range(len(steps))]
            model.add(sum(counted) <= sum(inside))
            gains += [step * count for step, count in zip(steps, counted, strict=True)]
            if start is not None:
                times = sum(by(item) == name for day in start for item in day)
                for step, count in enumerate(counted):
                    model.add_hint(count, step < times)
    model.maximize(sum(gains))
    if start is not None:
        chosen = [{same_choices(item) for item in day} for day in start]
        for (kind, day), take in takes.items():
            model.add_hint(take, same_choices(kinds[kind][0]) in chosen[day])
    solver = cp_model.CpSolver()
    solver.parameters.random_seed = task.wish.seed % 2**31
    solver.parameters.num_workers = 8
    solver.parameters.interleave_search = True
    solver.parameters.max_deterministic_time = effort
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Solved(None, 0, status == cp_model.INFEASIBLE)
    found = tuple(
        task.ordered(
            one_of(kinds[kind], task.wish.seed + day)
            for kind in range(len(kinds))
            if solver.boolean_value(takes[kind, day])
        )
        for day in days
    )
    return Solved(found, int(solver.best_objective_bound + 1e-6), False)


def _pair(choice: Choice) -> tuple[str, str]:
    return choice.pair


def _work(choice: Choice) -> tuple[str, str]:
    return choice.work


def _constrain(
    model: cp_model.CpModel,
    task: Problem,
    kinds: list[tuple[Choice, ...]],
    takes: dict[tuple[int, int], Any],
    start: Days | None,
) -> None:
    """Add the four conditions at the head of stavewright.daily.plan to the model."""
    days = range(task.wish.days)
    numbers = range(len(kinds))
    topics: dict[tuple[str, str], list[int]] = {}
    for number in numbers:
        topics.setdefault(kinds[number][0].topic, []).append(number)
    for day in days:
        model.add(sum(kinds[number][0].whole * takes[number, day] for number in numbers) <= task.budget)
        for inside in topics.values():
            model.add_at_most_one(takes[number, day] for number in inside)
            for other in task.follows(day):
                if other > day:
                    model.add_at_most_one(takes[number, both] for number in inside for both in (day, other))
        for register, least in task.least.items():
            if not least:
                continue
            by_key: dict[str, list[Any]] = {}
            for number in numbers:
                if kinds[number][0].register == register:
                    by_key.setdefault(kinds[number][0].key, []).append(takes[number, day])
            visits = []
            for key, inside_key in by_key.items():
                visit = model.new_bool_var(f"{register}/{key}/{day}")
                model.add(visit <= sum(inside_key))
                visits.append(visit)
                if start is not None:
                    model.add_hint(visit, any(item.pair == (key, register) for item in start[day]))
            model.add(sum(visits) >= least)
    for names, name_of in ((task.keys, _key), (task.registers, _register), (task.variations, _variation)):
        for name in names:
            model.add_bool_or(take for (kind, _), take in takes.items() if name_of(kinds[kind][0]) == name)


def _key(choice: Choice) -> str:
    return choice.key


def _register(choice: Choice) -> str:
    return choice.register


def _variation(choice: Choice) -> str:
    return choice.variation
