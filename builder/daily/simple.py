"""The simple method: it fills one sitting after another with what is worth most, then exchanges blocks.

It needs no library. It tries several times with other ways of settling ties, and keeps the best plan.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from random import Random

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
    objective,
    portion_points,
    work_points,
)
from .rules import violations

TRIES = 3
_ROUNDS = 2
"""How often each block is looked at for an exchange."""

_LOOKED_AT = 60
"""So many of the blocks that are worth most by themselves are looked at for a place."""

_FIRSTS = 8
"""From so many first blocks a sitting is filled anew."""

_MISSING = 1000
"""Points that a portion counts more as long as it is missing from a plan that must have every one."""

_AHEAD = SECOND_BLOCK + EXERCISES + REGISTERS + 2 * CARRIED
"""No block is worth more points than these for what stands beside it."""


def simple_days(task: Problem, tries: int = TRIES, quick: bool = False) -> tuple[Days, tuple[str, ...]]:
    """The best days of several tries, and the rules that they break; none if they are a plan.

    A `quick` try exchanges single blocks only, and fills no sitting anew: it takes a fifth of the time.
    """
    random = Random(task.wish.seed)
    kept: tuple[Days, tuple[str, ...]] = ((), ())
    best: tuple[int, int] | None = None
    facts = tuple(_facts(task))
    for _ in range(tries):
        draft = _Draft(task, facts, random, quick)
        draft.fill()
        draft.exchange()
        days = draft.days()
        faults = violations(task, days)
        value = -len(faults), objective(task, days).total
        if best is None or value > best:
            best, kept = value, (days, faults)
    return kept


@dataclass(frozen=True, slots=True)
class _Facts:
    """What the method looks at of a block, as numbers; `change` is -1 where it may come each day."""

    number: int
    seconds: int
    exercise: int
    register: str
    way: str
    by_pitch: bool
    tongued: bool
    portion: int
    work: int
    change: int
    carries: bool


def _facts(task: Problem) -> Iterator[_Facts]:
    portions = {portion: number for number, portion in enumerate(task.portions)}
    works = {work: number for number, work in enumerate(task.works)}
    exercises = {name: number for number, name in enumerate(task.portions_of)}
    changes: dict[object, int] = {}
    for number, block in enumerate(task.blocks):
        kind = task.changes(block)
        yield _Facts(
            number,
            block.seconds,
            exercises[block.exercise],
            block.portion.register,
            block.way,
            block.items[0].by_pitch,
            block.tongued,
            portions[block.portion],
            works[block.work],
            -1 if kind is None else changes.setdefault(kind, len(changes)),
            task.carries(block.work),
        )


class _Draft:
    """Days in the making: the blocks of each sitting, and how often each portion and each way has come."""

    def __init__(self, task: Problem, facts: tuple[_Facts, ...], random: Random, quick: bool) -> None:
        self.task = task
        self.quick = quick
        self.facts = facts
        self.portion_points = [(*portion_points(task, portion), 0) for portion in task.portions]
        self.work_points = [(*work_points(task, work), 0) for work in task.works]
        self.portion_count = [0] * len(task.portions)
        self.work_count = [0] * len(task.works)
        self.alike: dict[tuple[str, int], list[int]] = defaultdict(list)
        for block in facts:
            self.alike["portion", block.portion].append(block.number)
            self.alike["work", block.work].append(block.number)
        # Ties are settled by chance; the seed decides.
        self.chance = [random.random() for _ in facts]
        self.alone = [0.0] * len(facts)
        for block in facts:
            self._value(block)
        self.openings = {number for number, block in enumerate(task.blocks) if block in task.openings}
        self.asked = {number for number, block in enumerate(task.blocks) if block in task.asked_ways}
        self.always = [
            {number for number, block in enumerate(task.blocks) if block.exercise == exercise}
            for exercise in task.wish.always
        ]
        self.sittings: list[list[_Facts]] = [[] for _ in range(task.wish.days * task.sittings)]
        self.works: list[Counter[int]] = [Counter() for _ in range(task.wish.days)]
        self.changes: list[Counter[int]] = [Counter() for _ in range(task.wish.days)]
        self.portions: list[set[int]] = [set() for _ in range(task.wish.days)]
        self.beside: dict[int, list[int]] = defaultdict(list)
        for one, other in task.next_days():
            self.beside[one].append(other)
            self.beside[other].append(one)
        self.runs_with: dict[int, list[list[int]]] = defaultdict(list)
        for run in task.runs():
            for day in run:
                self.runs_with[day].append([other for other in run if other != day])
        self.most_carried = max(1, task.most * task.sittings - 1)

    # -- what a block is worth in a place ------------------------------------------------------------

    def _value(self, block: _Facts) -> None:
        """Reckon the points of one more such block for its portion, its way and its length."""
        self.alone[block.number] = (
            self.portion_points[block.portion][min(4, self.portion_count[block.portion])]
            + self.work_points[block.work][min(4, self.work_count[block.work])]
            + block.seconds // 10
            + self.chance[block.number]
            + _MISSING * (self.task.wish.complete and not self.portion_count[block.portion])
        )

    def together(self, block: _Facts, place: int) -> int:
        """The points of one more block in a sitting for what is beside it."""
        inside = self.sittings[place]
        day = place // self.task.sittings
        found = SECOND_BLOCK * (len(inside) == 1)
        same = sum(other.exercise == block.exercise for other in inside)
        if same:
            found += REGISTERS * (same < MOST_COUNTED)
        elif inside:
            found += EXERCISES * (len({other.exercise for other in inside}) < MOST_COUNTED)
        work, own = block.work, self.works[day]
        if work not in own:
            for other in self.beside[day]:
                if work in self.works[other]:
                    found += CARRIED * (len(own.keys() & self.works[other].keys()) < self.most_carried)
        return found

    def fits(self, block: _Facts, place: int) -> bool:
        """Whether a block may stand in a sitting beside what is there."""
        task = self.task
        day = place // task.sittings
        inside = self.sittings[place]
        if len(inside) >= task.most or block.portion in self.portions[day]:
            return False
        if block.tongued and (place + 1) % task.sittings:
            return False
        # Plain loops: this is asked some hundred thousand times for a book.
        seconds = block.seconds
        for other in inside:
            seconds += other.seconds + BETWEEN
            if block.tongued and other.tongued:
                return False
            if other.exercise == block.exercise and (
                not block.by_pitch or other.way != block.way or other.register == block.register
            ):
                return False
        if seconds > task.budget:
            return False
        if block.change >= 0:
            for beside in self.beside[day]:
                if block.change in self.changes[beside]:
                    return False
        if block.carries:
            for run in self.runs_with[day]:
                carried = 0
                for day_of_run in run:
                    carried += block.work in self.works[day_of_run]
                if carried >= CARRIED_DAYS:
                    return False
        return True

    def add(self, block: _Facts, place: int) -> None:
        """Put a block into a sitting."""
        self.sittings[place].append(block)
        self.portions[place // self.task.sittings].add(block.portion)
        self._count(block, place // self.task.sittings, 1)

    def remove(self, block: _Facts, place: int) -> None:
        """Take a block out of a sitting."""
        self.sittings[place].remove(block)
        self.portions[place // self.task.sittings].discard(block.portion)
        self._count(block, place // self.task.sittings, -1)

    def _count(self, block: _Facts, day: int, by: int) -> None:
        self.portion_count[block.portion] += by
        self.work_count[block.work] += by
        for counter, key in ((self.works[day], block.work), (self.changes[day], block.change)):
            counter[key] += by
            if not counter[key]:
                del counter[key]
        for number in {*self.alike["portion", block.portion], *self.alike["work", block.work]}:
            self._value(self.facts[number])

    # -- making days -----------------------------------------------------------------------------------

    def best(self, place: int, among: set[int] | None = None, by_second: bool = False) -> _Facts | None:
        """The block that adds most to a sitting, or most for each second; None if none fits.

        `among` limits the choice.
        """
        if len(self.sittings[place]) >= self.task.most:
            return None
        alone = self.alone
        ranked = sorted(range(len(alone)) if among is None else among, key=alone.__getitem__, reverse=True)
        best, points, looked_at = None, -1.0, 0
        for number in ranked:
            if best is not None and (alone[number] + _AHEAD <= points or looked_at >= _LOOKED_AT):
                break
            block = self.facts[number]
            if self.fits(block, place):
                looked_at += 1
                value = alone[number] + self.together(block, place)
                if by_second:
                    value *= self.task.budget / (block.seconds + BETWEEN)
                if value > points:
                    best, points = block, value
        return best

    def wanted(self, place: int) -> list[set[int]]:
        """What a sitting must hold: of each of these sets a block."""
        if place % self.task.sittings:
            return []
        return [each for each in (self.openings, *self.always, self.asked) if each]

    def fill(self) -> None:
        """Fill the sittings: first what each must hold, so that nothing takes its place, then the rest."""
        for place in range(len(self.sittings)):
            self.hold_wanted(place)
        for place in range(len(self.sittings)):
            self.top_up(place)

    def hold_wanted(self, place: int) -> None:
        """Add to a sitting what it must hold and does not."""
        wanted = self.wanted(place)
        for among in wanted:
            inside = {block.number for block in self.sittings[place]}
            if among & inside:
                continue
            # A block that gives two things at once leaves room, and no other way to contradict it.
            both = [among & other for other in wanted if other is not among and not other & inside]
            for chosen in (*filter(None, both), among):
                if (found := self.best(place, chosen)) is not None:
                    self.add(found, place)
                    break

    def top_up(self, place: int, by_second: bool = False) -> bool:
        """Add to a sitting as long as something fits; whether something did."""
        before = len(self.sittings[place])
        while (found := self.best(place, by_second=by_second)) is not None:
            self.add(found, place)
        return len(self.sittings[place]) > before

    def clear(self, place: int) -> tuple[float, tuple[_Facts, ...]]:
        """Empty a sitting; its points, and what stood in it."""
        blocks = tuple(self.sittings[place])
        points = 0.0
        for block in reversed(blocks):
            self.remove(block, place)
            points += self.alone[block.number] + self.together(block, place)
        return points, blocks

    def rebuild(self, place: int) -> bool:
        """Fill a sitting anew from several first blocks; whether it gained."""
        points, best = self.clear(place)
        before = points
        needed = self.wanted(place)
        firsts = sorted(
            needed[0] if needed else range(len(self.facts)), key=self.alone.__getitem__, reverse=True
        )
        for number in [n for n in firsts[:_LOOKED_AT] if self.fits(self.facts[n], place)][:_FIRSTS]:
            for by_second in (False, True):
                self.add(self.facts[number], place)
                self.hold_wanted(place)
                self.top_up(place, by_second)
                value, blocks = self.clear(place)
                inside = {block.number for block in blocks}
                if value >= points + 1 and all(among & inside for among in needed):
                    points, best = value, blocks
        for block in best:
            self.add(block, place)
        return points > before

    def exchange(self) -> None:
        """Exchange one block after another for a better one, as long as the plan gains."""
        for _ in range(_ROUNDS):
            gained = False
            for place, sitting in enumerate(self.sittings):
                for block in tuple(sitting):
                    among = self.may_replace(block, place)
                    self.remove(block, place)
                    before = self.alone[block.number] + self.together(block, place)
                    other = self.best(place, among)
                    if other and self.alone[other.number] + self.together(other, place) >= before + 1:
                        block, gained = other, True
                    self.add(block, place)
                gained |= self.top_up(place) or (not self.quick and self.rebuild(place))
            if not gained:
                break

    def may_replace(self, block: _Facts, place: int) -> set[int] | None:
        """The blocks of which one must stand where a block stands, for what the sitting must hold."""
        found: set[int] | None = None
        inside = {other.number for other in self.sittings[place]}
        for among in self.wanted(place):
            if among & inside == {block.number}:
                found = among if found is None else found & among
        return found

    def days(self) -> Days:
        """The days in the order they are played."""
        task = self.task

        def sitting(place: int) -> tuple[Block, ...]:
            blocks = (task.blocks[block.number] for block in self.sittings[place])
            return task.ordered(blocks, first=place % task.sittings == 0)

        return tuple(
            tuple(sitting(day * task.sittings + number) for number in range(task.sittings))
            for day in range(task.wish.days)
        )
