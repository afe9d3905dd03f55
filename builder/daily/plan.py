"""States the problem of daily sets: what is asked, what a plan must hold, and what it is worth.

A plan gives each day blocks (see stavewright.daily.blocks): an exercise over a few neighbouring keys, as
written and then in one way. Long days have several sittings with pauses between them. A plan must:

1. keep each sitting within its seconds, all rests counted, with one to four blocks in it; a later sitting of
   a day is left out where the book has no more;
2. begin each day with a block that is easy, goes by narrow intervals, is played as written first and lies in
   the register that a set begins in, not in its upper third;
3. bring no portion twice a day, nor on two days running, in whatever way it is played;
4. play an exercise in one way a sitting, go over several portions of it only where it goes by start pitch,
   and then over one in each register; exercise the tongue in one block of its last sitting at most;
5. carry an exercise in one way on for three days running at most;
6. hold what the player or teacher has fixed: exercises for each day, ways for each day.

Rule 3 gives way where an exercise has too few blocks: one with fewer than three portions may come again in
another way, and one with fewer than three blocks as it is. Rule 2 gives way in a book with fewer than three
such portions: first its narrow intervals and the way it is played, then all of it.

The best of these plans is worth most, in the points of `Worth`. In a sitting the order is fixed: the opening
block, then the rest of its exercise, then the others from narrow to wide intervals, a melody over a drone
after them, and what exercises the tongue last; an exercise's registers in the order of a set.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import ceil

from ..book.pieces import AS_WRITTEN
from .blocks import Block, Portion

MOST_MINUTES = 240
MOST_DAYS = 120
MOST_BLOCKS = 4
STRETCH_MINUTES = 25
PAUSE_MINUTES = 5
"""A pause of five minutes for twenty-five of playing, so ten in an hour: see stavewright.daily.cautions."""

BETWEEN = 30
"""Seconds between two blocks, to rest and to turn to the next music. Common practice, no source."""

NARROW = 30
"""Tenths of a semitone: the widest mean interval of what begins a day."""

CARRIED_DAYS = 3
"""The most days running on which an exercise comes in the same way."""

ENOUGH = 3
"""So many portions let a book change from day to day, also from the last day of a round to its first."""

PORTION_WORTH = (12, 5, 2, 1)
WORK_WORTH = (30, 12, 5, 2)
SECOND_BLOCK = 100
CARRIED = 25
REGISTERS = 15
EXERCISES = 20
MOST_COUNTED = 3
"""Points, for the tables below; of exercises and registers in a sitting so many are counted."""


class NoPlan(Exception):
    """Raised if there is no plan. `reasons` are sentences, and `nearest` says what could be done instead."""

    def __init__(self, reasons: Sequence[str], nearest: Sequence[str] = ()) -> None:
        self.reasons, self.nearest = tuple(reasons), tuple(nearest)
        super().__init__("\n".join((*self.reasons, *self.nearest)))


@dataclass(frozen=True, slots=True)
class Promise:
    """What a player or a teacher asks for.

    `minutes` a day (1 to MOST_MINUTES) for `days` days (1 to MOST_DAYS); `ways` are the variations that may
    be used, all if empty. `seed` is any whole number, and equal seeds give equal plans. A `round` begins
    again after its last day, so its first day counts as the day after. A `complete` plan brings every
    portion. `opening` is the exercise that begins each day, `always` are exercises of each day and `each_day`
    ways of which one comes each day. `more` and `less` are exercises that are worth twice and half as much.
    """

    minutes: int
    days: int
    ways: tuple[str, ...] = ()
    seed: int = 0
    round: bool = False
    complete: bool = False
    opening: str = ""
    always: tuple[str, ...] = ()
    each_day: tuple[str, ...] = ()
    more: tuple[str, ...] = ()
    less: tuple[str, ...] = ()


def pauses(minutes: int) -> int:
    """How many pauses a day of this many minutes has: at most 25 minutes lie between two."""
    return max(0, ceil((minutes - STRETCH_MINUTES) / (STRETCH_MINUTES + PAUSE_MINUTES)))


def sitting_seconds(minutes: int) -> int:
    """The seconds of each sitting of a day of this many minutes."""
    count = pauses(minutes)
    return 60 * (minutes - PAUSE_MINUTES * count) // (count + 1)


def most_blocks(seconds: int) -> int:
    """How many blocks a sitting has at most: 2 in four minutes, 3 in ten, else 4."""
    return 2 if seconds <= 240 else 3 if seconds <= 600 else MOST_BLOCKS


def block_share(seconds: int) -> int:
    """How many seconds a block is to last in a sitting of so many."""
    count = most_blocks(seconds)
    return max(1, (seconds - BETWEEN * (count - 1)) // count)


def whole_seconds(sitting: Sequence[Block]) -> int:
    """The length of a sitting with its rests."""
    return sum(block.seconds for block in sitting) + BETWEEN * max(0, len(sitting) - 1)


Sitting = tuple[Block, ...]
Day = tuple[Sitting, ...]
Days = tuple[Day, ...]


@dataclass(frozen=True)
class Problem:
    """A promise for a book: its `blocks`, and its `registers` in the order of a set."""

    wish: Promise
    blocks: tuple[Block, ...]
    registers: tuple[str, ...]

    @cached_property
    def budget(self) -> int:
        """The seconds of each sitting."""
        return sitting_seconds(self.wish.minutes)

    @cached_property
    def sittings(self) -> int:
        """How many sittings each day has."""
        return pauses(self.wish.minutes) + 1

    @cached_property
    def most(self) -> int:
        """How many blocks each sitting has at most."""
        return most_blocks(self.budget)

    @cached_property
    def portions(self) -> tuple[Portion, ...]:
        """Every portion to cover."""
        return tuple(dict.fromkeys(block.portion for block in self.blocks))

    @cached_property
    def works(self) -> tuple[tuple[str, str], ...]:
        """Every exercise in every way."""
        return tuple(dict.fromkeys(block.work for block in self.blocks))

    @cached_property
    def portions_of(self) -> Counter[str]:
        """How many portions each exercise has."""
        return Counter(portion.exercise for portion in self.portions)

    @cached_property
    def ways_of(self) -> Counter[str]:
        """In how many ways each exercise comes."""
        return Counter(exercise for exercise, _ in self.works)

    @cached_property
    def openings(self) -> frozenset[Block]:
        """The blocks that may begin a day; empty where the book has too few and none is asked for."""
        inside = [block for block in self.blocks if block.portion.register == self.registers[0]]
        if self.wish.opening:
            every = [block for block in self.blocks if block.exercise == self.wish.opening]
            easy_register = [block for block in inside if block.exercise == self.wish.opening]
            inside = easy_register if _portions(easy_register) >= ENOUGH else every
        else:
            grades = {block.exercise: min(item.grade for item in block.items) for block in inside}
            easy = min(grades.values(), default=0) + 1
            inside = [block for block in inside if grades[block.exercise] <= easy and not block.tongued]
            narrow = [
                block
                for block in inside
                if block.items[0].width <= NARROW
                and not block.items[0].drone
                and block.items[0].variation == AS_WRITTEN
                and (not block.items[0].by_pitch or self._is_comfortable(block))
            ]
            # A book without such exercises begins with the easiest that it has.
            inside = max([narrow, inside], key=lambda some: _portions(some) >= ENOUGH)
            if _portions(inside) < ENOUGH:
                return frozenset()
        return frozenset(inside)

    @cached_property
    def _comfortable(self) -> dict[str, float]:
        """Of each exercise the highest start pitch of a day's first block.

        Two thirds up the range of its start pitches in the register that a set begins in.
        """
        starts: dict[str, list[int]] = {}
        for block in self.blocks:
            for item in block.items:
                if item.register == self.registers[0]:
                    starts.setdefault(block.exercise, []).append(item.height)
        return {name: min(some) + (max(some) - min(some)) * 2 / 3 for name, some in starts.items()}

    def _is_comfortable(self, block: Block) -> bool:
        return all(
            item.register == self.registers[0] and item.height <= self._comfortable[block.exercise]
            for item in block.items
        )

    @cached_property
    def asked_ways(self) -> frozenset[Block]:
        """The blocks in a way that is asked for each day."""
        return frozenset(block for block in self.blocks if block.way in self.wish.each_day)

    def changes(self, block: Block) -> object:
        """What of a block may come on one of two days running; None where it may come each day."""
        exercise = block.exercise
        if self.portions_of[exercise] >= ENOUGH:
            return block.portion
        if self.portions_of[exercise] * self.ways_of[exercise] >= ENOUGH:
            return block.portion, block.way
        return None

    def carries(self, work: tuple[str, str]) -> bool:
        """Whether rule 5 holds for an exercise in a way: where the exercise has another way."""
        return self.ways_of[work[0]] > 1

    def next_days(self) -> tuple[tuple[int, int], ...]:
        """Each day, counted from 0, with the day after it."""
        days = self.wish.days
        found = [(day, day + 1) for day in range(days - 1)]
        if self.wish.round and days > 1:
            found.append((days - 1, 0))
        return tuple(dict.fromkeys((min(pair), max(pair)) if days == 2 else pair for pair in found))

    def runs(self) -> tuple[tuple[int, ...], ...]:
        """Every run of days that is one longer than an exercise may be carried on."""
        days, size = self.wish.days, CARRIED_DAYS + 1
        starts = range(days) if self.wish.round and days > size else range(days - size + 1)
        return tuple(tuple((start + step) % days for step in range(size)) for start in starts)

    def ordered(self, blocks: Iterable[Block], first: bool = True) -> Sitting:
        """A sitting's blocks in the order they are played; the `first` of a day has an opening block."""
        blocks = tuple(blocks)
        place = {register: number for number, register in enumerate(self.registers)}
        widths: dict[str, int] = {}
        for block in blocks:
            width = block.items[0].width
            widths[block.exercise] = min(width, widths.get(block.exercise, width))

        def order(block: Block) -> tuple[object, ...]:
            item = block.items[0]
            return (
                block.tongued,
                item.drone,
                widths[block.exercise],
                block.exercise,
                place[block.portion.register],
                block.portion.number,
            )

        found = sorted(blocks, key=order)
        opening = next((block for block in found if first and block in self.openings), None)
        if opening is not None:
            found.sort(
                key=lambda block: (block is not opening, block.tongued, block.exercise != opening.exercise)
            )
        return tuple(found)

    def weighed(self, exercise: str, points: int) -> int:
        """Points for something of an exercise: twice or half of them where more or less is asked of it."""
        return (
            points * 2
            if exercise in self.wish.more
            else points // 2
            if exercise in self.wish.less
            else points
        )


def _portions(blocks: Iterable[Block]) -> int:
    return len({block.portion for block in blocks})


@dataclass(frozen=True, slots=True)
class Worth:
    """What a plan is worth, in points.

    `portions`: 12 for each key of a portion the first time it comes, then 5, 2 and 1. `works`: 30 the first
    time an exercise comes in a way, then 12, 5 and 2. `carried`: 25 for each exercise that comes in the same
    way the next day, as long as one block of a sitting is new. `sittings`: 100 for the second block of a
    sitting; 20 each for its second and third exercise; 15 for the second and third register that one exercise
    goes through. `filled`: one for each ten seconds.
    """

    portions: int
    works: int
    carried: int
    sittings: int
    filled: int

    @property
    def total(self) -> int:
        """The sum."""
        return self.portions + self.works + self.carried + self.sittings + self.filled


def sitting_worth(sitting: Sequence[Block]) -> int:
    """The points of a sitting for how its blocks go together."""
    exercises = Counter(block.exercise for block in sitting)
    return (
        SECOND_BLOCK * (len(sitting) > 1)
        + EXERCISES * (min(MOST_COUNTED, len(exercises)) - 1 if exercises else 0)
        + REGISTERS * sum(min(MOST_COUNTED, count) - 1 for count in exercises.values())
    )


def portion_points(task: Problem, portion: Portion) -> tuple[int, ...]:
    """The points of a portion for each time it comes."""
    return tuple(task.weighed(portion.exercise, len(portion.settings) * points) for points in PORTION_WORTH)


def work_points(task: Problem, work: tuple[str, str]) -> tuple[int, ...]:
    """The points of an exercise in a way for each time it comes."""
    return tuple(task.weighed(work[0], points) for points in WORK_WORTH)


def objective(task: Problem, days: Sequence[Sequence[Sequence[Block]]]) -> Worth:
    """What a plan of these days is worth."""
    blocks = [block for day in days for sitting in day for block in sitting]
    portions = Counter(block.portion for block in blocks)
    works = Counter(block.work for block in blocks)
    of_days = [{block.work for sitting in day for block in sitting} for day in days]
    most = max(1, task.most * task.sittings - 1)
    return Worth(
        portions=sum(sum(portion_points(task, name)[:count]) for name, count in portions.items()),
        works=sum(sum(work_points(task, name)[:count]) for name, count in works.items()),
        carried=CARRIED
        * sum(min(most, len(of_days[day] & of_days[after])) for day, after in task.next_days()),
        sittings=sum(sitting_worth(sitting) for day in days for sitting in day),
        filled=sum(block.seconds // 10 for block in blocks),
    )


@dataclass(frozen=True, slots=True)
class Plan:
    """Days of sittings of blocks in the order they are played.

    `worth` is the plan's worth and `bound` an upper bound of any plan's, both in points.
    """

    problem: Problem
    days: Days
    worth: int
    bound: int
    method: str

    @property
    def proved(self) -> bool:
        """Whether it is proved that no plan is worth more."""
        return self.worth >= self.bound

    @property
    def gap(self) -> float:
        """How much more the best plan could be worth at most, as a share of the bound: 0 to 1."""
        return 1 - self.worth / self.bound if self.bound else 0.0

    @property
    def blocks(self) -> tuple[Block, ...]:
        """Every block of every day."""
        return tuple(block for day in self.days for sitting in day for block in sitting)
