"""The exact method: the problem of stavewright.daily.plan as a model for the CP-SAT solver of OR-Tools.

The solver is a large library and an optional part: `pip install 'stavewright[daily]'`. It runs without a
clock, by its own count of work done, so that equal seeds give equal plans with equal versions of it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from .blocks import Block
from .plan import (
    BETWEEN,
    CARRIED,
    CARRIED_DAYS,
    EXERCISES,
    MOST_COUNTED,
    REGISTERS,
    SECOND_BLOCK,
    Days,
    Problem,
    portion_points,
    work_points,
)

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

EFFORT = 10.0
"""How long the solver may work, in its own units: some 15 seconds on one core."""


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
    model = _Model(task, cp_model.CpModel())
    model.state_rules()
    model.state_worth()
    if start is not None:
        model.hint(start)
    solver = cp_model.CpSolver()
    solver.parameters.random_seed = task.wish.seed % 2**31
    solver.parameters.num_workers = 8
    solver.parameters.interleave_search = True
    solver.parameters.max_deterministic_time = effort
    status = solver.solve(model.model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Solved(None, 0, status == cp_model.INFEASIBLE)
    taken = {place for place, take in model.takes.items() if solver.boolean_value(take)}
    return Solved(model.days(taken), int(solver.best_objective_bound + 1e-6), False)


class _Model:
    """The problem in the solver's terms: `takes[block, sitting]` says whether a sitting has a block."""

    def __init__(self, task: Problem, model: cp_model.CpModel) -> None:
        self.task = task
        self.model = model
        self.blocks = range(len(task.blocks))
        self.sittings = range(task.wish.days * task.sittings)
        self.takes = {
            (block, sitting): model.new_bool_var(f"{block}/{sitting}")
            for block in self.blocks
            for sitting in self.sittings
        }
        self.gains: list[Any] = []

    def of_day(self, blocks: Iterable[int], day: int) -> list[Any]:
        """Whether each of some blocks comes in each sitting of a day."""
        first = day * self.task.sittings
        return [
            self.takes[block, sitting]
            for block in blocks
            for sitting in range(first, first + self.task.sittings)
        ]

    def grouped(self, kind: str) -> dict[Any, list[int]]:
        """The blocks by their portion, their work, their exercise or by what changes from day to day."""
        found: dict[Any, list[int]] = defaultdict(list)
        for number, block in enumerate(self.task.blocks):
            key = {
                "portion": block.portion,
                "work": block.work,
                "exercise": block.exercise,
                "change": self.task.changes(block),
            }[kind]
            if key is not None:
                found[key].append(number)
        return found

    def state_rules(self) -> None:
        """Add the rules at the head of stavewright.daily.plan."""
        task, model, takes = self.task, self.model, self.takes
        days = range(task.wish.days)
        for sitting in self.sittings:
            inside = [takes[block, sitting] for block in self.blocks]
            lengths = [
                (task.blocks[block].seconds + BETWEEN) * takes[block, sitting] for block in self.blocks
            ]
            model.add(sum(lengths) <= task.budget + BETWEEN)
            if sitting % task.sittings == 0:
                model.add(sum(inside) >= 1)
            model.add(sum(inside) <= task.most)
            tongued = [takes[block, sitting] for block in self.blocks if task.blocks[block].tongued]
            if (sitting + 1) % task.sittings:
                model.add(sum(tongued) == 0)
            else:
                model.add_at_most_one(tongued)
            for blocks in self.grouped("exercise").values():
                self._one_exercise(blocks, sitting)
        for blocks in self.grouped("portion").values():
            for day in days:
                model.add_at_most_one(self.of_day(blocks, day))
        for blocks in self.grouped("change").values():
            for pair in task.next_days():
                model.add_at_most_one(take for day in pair for take in self.of_day(blocks, day))
        for day in days:
            for wanted in self._fixed():
                first = day * task.sittings
                if wanted is not task.openings:
                    model.add_bool_or(self.of_day(self._numbers(wanted), day))
                else:
                    model.add_bool_or(takes[block, first] for block in self._numbers(wanted))
        if task.wish.complete:
            for blocks in self.grouped("portion").values():
                model.add_bool_or(take for day in days for take in self.of_day(blocks, day))

    def _fixed(self) -> list[frozenset[Block]]:
        """What each day must hold: of each of these a block."""
        always = [
            frozenset(block for block in self.task.blocks if block.exercise == name)
            for name in self.task.wish.always
        ]
        return [each for each in (self.task.openings, self.task.asked_ways) if each] + always

    def _numbers(self, wanted: frozenset[Block]) -> list[int]:
        return [number for number in self.blocks if self.task.blocks[number] in wanted]

    def _one_exercise(self, blocks: list[int], sitting: int) -> None:
        """One way, and one portion in each register; only one portion if it does not go by start pitch."""
        model, takes = self.model, self.takes
        first = self.task.blocks[blocks[0]]
        if not first.items[0].by_pitch:
            model.add_at_most_one(takes[block, sitting] for block in blocks)
            return
        by_register: dict[str, list[Any]] = defaultdict(list)
        ways: dict[str, Any] = {}
        for number in blocks:
            block = self.task.blocks[number]
            by_register[block.portion.register].append(takes[number, sitting])
            if block.way not in ways:
                ways[block.way] = model.new_bool_var(f"{block.exercise}/{block.way}/{sitting}")
            model.add_implication(takes[number, sitting], ways[block.way])
        for inside in by_register.values():
            model.add_at_most_one(inside)
        model.add_at_most_one(ways.values())

    def state_worth(self) -> None:
        """Add the points of stavewright.daily.plan.Worth."""
        task = self.task
        for portion, blocks in self.grouped("portion").items():
            self._count(blocks, portion_points(task, portion))
        works = self.grouped("work")
        for work, blocks in works.items():
            self._count(blocks, work_points(task, work))
        for (block, _), take in self.takes.items():
            self.gains.append(task.blocks[block].seconds // 10 * take)
        for sitting in self.sittings:
            self._sitting(sitting)
        self._carried(works)
        self.model.maximize(sum(self.gains))

    def _count(self, blocks: list[int], points: tuple[int, ...]) -> None:
        """Points for each time that one of some blocks comes."""
        every = [self.takes[block, sitting] for block in blocks for sitting in self.sittings]
        counted = [self.model.new_bool_var("") for _ in points]
        self.model.add(sum(counted) <= sum(every))
        self.gains += [point * count for point, count in zip(points, counted, strict=True)]

    def _sitting(self, sitting: int) -> None:
        """Points for a second block, for other exercises, and for the registers of one exercise."""
        model, takes = self.model, self.takes
        second_block = model.new_bool_var("")
        model.add(sum(takes[block, sitting] for block in self.blocks) >= 2).only_enforce_if(second_block)
        self.gains.append(SECOND_BLOCK * second_block)
        there = []
        for blocks in self.grouped("exercise").values():
            inside = [takes[block, sitting] for block in blocks]
            here = model.new_bool_var("")
            model.add_max_equality(here, inside)
            there.append(here)
            more = model.new_int_var(0, MOST_COUNTED - 1, "")
            model.add(more <= sum(inside) - here)
            self.gains.append(REGISTERS * more)
        others = model.new_int_var(0, MOST_COUNTED - 1, "")
        some = model.new_bool_var("")
        model.add_max_equality(some, there)
        model.add(others <= sum(there) - some)
        self.gains.append(EXERCISES * others)

    def _carried(self, works: dict[Any, list[int]]) -> None:
        """Points for what comes again in the same way the next day; the rule of how long it may."""
        task, model = self.task, self.model
        there: dict[tuple[Any, int], Any] = {}
        for work, blocks in works.items():
            for day in range(task.wish.days):
                there[work, day] = model.new_bool_var("")
                model.add_max_equality(there[work, day], self.of_day(blocks, day))
        for run in task.runs():
            for work in works:
                if task.carries(work):
                    model.add(sum(there[work, day] for day in run) <= CARRIED_DAYS)
        most = max(1, task.most * task.sittings - 1)
        for one, other in task.next_days():
            both = []
            for work in works:
                again = model.new_bool_var("")
                model.add_implication(again, there[work, one])
                model.add_implication(again, there[work, other])
                both.append(again)
            counted = model.new_int_var(0, most, "")
            model.add(counted <= sum(both))
            self.gains.append(CARRIED * counted)

    def hint(self, start: Days) -> None:
        """Tell the solver of a plan from which it may go on."""
        sittings = [set(sitting) for day in start for sitting in day]
        for (block, sitting), take in self.takes.items():
            self.model.add_hint(take, self.task.blocks[block] in sittings[sitting])

    def days(self, taken: set[tuple[int, int]]) -> Days:
        """The days of what the solver took."""
        task = self.task

        def sitting(place: int) -> tuple[Block, ...]:
            blocks = (task.blocks[block] for block in self.blocks if (block, place) in taken)
            return task.ordered(blocks, first=place % task.sittings == 0)

        return tuple(
            tuple(sitting(day * task.sittings + number) for number in range(task.sittings))
            for day in range(task.wish.days)
        )
