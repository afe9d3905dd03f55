"""States the problem of daily sets: what is asked, what a plan must hold, and what it is worth.

A plan gives each day some choices. It must:

1. keep each day within its minutes, rests and pauses counted;
2. never bring an exercise in a key that was played the day before, nor bring it twice a day;
3. go, each day, through every register that the book has enough for, with several keys in each;
4. bring every key, every register and every chosen variation at least once within its days.

The best of these plans is worth most. Worth is counted in seconds. The filled time of each day counts. Every
key in every register adds a minute the first time and half as much each further time, up to the fourth, so a
plan that evens out keys is worth more. Every exercise in every variation adds half a minute in the same way.
Within a day the order is fixed: the registers in their order, in each the exercises one after another, the
one with the easiest piece first. An exercise comes as written before it is varied, and each variation goes
through its keys in the order of travel. What exercises the tongue comes after all tone of its register.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import ceil

from ..book.pieces import AS_WRITTEN
from ..music.keys import KEY_SLUGS
from ..plurals import count_of
from .choices import Choice

MOST_MINUTES = 240
MOST_DAYS = 120
PAIR_WORTH = (60, 30, 15, 7)
WORK_WORTH = (30, 15, 7, 3)
STRETCH_MINUTES = 25
PAUSE_MINUTES = 5
"""A pause of five minutes for twenty-five of playing, so ten in an hour: see stavewright.daily.cautions."""


class NoPlan(Exception):
    """Raised if there is no plan. `reasons` are sentences, and `nearest` says what could be done instead."""

    def __init__(self, reasons: Sequence[str], nearest: Sequence[str] = ()) -> None:
        self.reasons, self.nearest = tuple(reasons), tuple(nearest)
        super().__init__("\n".join((*self.reasons, *self.nearest)))


@dataclass(frozen=True, slots=True)
class Promise:
    """What a player asks for.

    `minutes` a day (1 to MOST_MINUTES) for `days` days (1 to MOST_DAYS); `variations` by their labels, or all
    of the book if empty; `keys` is how many keys a register holds each day (1 or more); `seed` is any
    whole number, and equal seeds give equal plans. A `round` begins again after its last day, so its
    first day counts as the day after.
    """

    minutes: int
    days: int
    variations: tuple[str, ...] = ()
    keys: int = 2
    seed: int = 0
    round: bool = False


def pauses(minutes: int) -> int:
    """How many pauses a set of this many minutes has: at most 25 minutes lie between two."""
    return max(0, ceil((minutes - STRETCH_MINUTES) / (STRETCH_MINUTES + PAUSE_MINUTES)))


def pauses_in(day: Sequence[Choice]) -> int:
    """How many pauses the playing of a day needs, at most as many as its minutes allow."""
    return max(0, ceil(sum(item.whole for item in day) / (60 * STRETCH_MINUTES)) - 1)


@dataclass(frozen=True)
class Problem:
    """A wish for a book: `choices` by their names, `registers` in the order of a set."""

    wish: Promise
    choices: tuple[Choice, ...]
    registers: tuple[str, ...]

    @cached_property
    def budget(self) -> int:
        """The seconds of each day that may be filled: its minutes less its pauses."""
        return 60 * (self.wish.minutes - PAUSE_MINUTES * pauses(self.wish.minutes))

    @cached_property
    def keys(self) -> tuple[str, ...]:
        """Every key to cover."""
        return tuple(dict.fromkeys(choice.key for choice in self.choices))

    @cached_property
    def variations(self) -> tuple[str, ...]:
        """Every variation to cover."""
        return tuple(dict.fromkeys(choice.variation for choice in self.choices))

    @cached_property
    def least(self) -> dict[str, int]:
        """How many keys each register must hold each day: the wish, or as many as the book can vary.

        What was played yesterday may not come today, so a day has at most half of the exercises in their
        keys.
        """
        found = {}
        for register in self.registers:
            inside = [choice for choice in self.choices if choice.register == register]
            topics = len({choice.topic for choice in inside})
            if self.wish.days > 1 or self.wish.round:
                topics //= 2
            found[register] = min(self.wish.keys, topics, len({choice.key for choice in inside}))
        return found

    def follows(self, day: int) -> tuple[int, ...]:
        """The days, counted from 0, that may share no exercise in its key with a day."""
        days = self.wish.days
        near = [day - 1, day + 1]
        if self.wish.round:
            near = [other % days for other in near]
        return tuple(sorted({other for other in near if 0 <= other < days and other != day}))

    def ordered(self, items: Iterable[Choice]) -> tuple[Choice, ...]:
        """A day's choices in the order they are played."""
        found = list(items)
        place = {register: number for number, register in enumerate(self.registers)}
        easiest: dict[tuple[str, bool, str], int] = {}
        for item in found:
            group = item.register, item.tongued, item.exercise
            easiest[group] = min(easiest.get(group, item.difficulty), item.difficulty)

        def order(item: Choice) -> tuple[object, ...]:
            group = item.register, item.tongued, item.exercise
            return (
                place[item.register],
                item.tongued,
                easiest[group],
                item.exercise,
                item.variation != AS_WRITTEN,
                item.variation,
                item.number,
                item.name,
            )

        return tuple(sorted(found, key=order))


def problem_of(wish: Promise, choices: Sequence[Choice], registers: Sequence[str]) -> Problem:
    """The problem of a wish, without the choices that it does not ask for or that no day is long enough for.

    Raises NoPlan if no choice is left, and ValueError if the wish is out of bounds.
    """
    if not 1 <= wish.minutes <= MOST_MINUTES or not 1 <= wish.days <= MOST_DAYS or wish.keys < 1:
        raise ValueError(f"{wish} is outside what can be asked")
    offered = tuple(sorted((c for c in choices if c.register), key=lambda choice: choice.name))
    if not offered:
        raise NoPlan(("The book has no exercise that a player of this ability can play on this instrument.",))
    if wish.variations:
        offered = tuple(choice for choice in offered if choice.variation in wish.variations)
    found = Problem(wish, offered, tuple(r for r in registers if any(c.register == r for c in offered)))
    short = tuple(choice for choice in offered if choice.whole <= found.budget)
    if not short:
        least = min((choice.whole for choice in offered), default=0)
        takes = count_of(ceil(least / 60), "minute")
        shortest = (f"The shortest takes {takes}, with the rest after it.",) if least else ()
        raise NoPlan(
            (f"Nothing in the book is short enough for {count_of(wish.minutes, 'minute')}.",),
            shortest,
        )
    return Problem(wish, short, tuple(r for r in found.registers if any(c.register == r for c in short)))


def _name_in_words(name: str) -> str:
    """A key page's address in words: `E flat` for `e-flat`; other names stay as they are."""
    return name[0].upper() + name[1:].replace("-", " ") if name in KEY_SLUGS else name


Days = tuple[tuple[Choice, ...], ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """Days of choices in the order they are played.

    `worth` is the plan's worth and `bound` an upper bound of any plan's, both in seconds as the head of this
    module counts them. `proved` says whether the plan is known to be the best.
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


def objective(days: Sequence[Sequence[Choice]]) -> int:
    """What a plan of these days is worth, in seconds."""
    items = [item for day in days for item in day]
    pairs = Counter(item.pair for item in items)
    works = Counter(item.work for item in items)
    return (
        sum(item.whole for item in items)
        + sum(sum(PAIR_WORTH[:count]) for count in pairs.values())
        + sum(sum(WORK_WORTH[:count]) for count in works.values())
    )


def simple_bound(task: Problem) -> int:
    """An upper bound of any plan's worth, by counting: every day is full, with as many pieces as fit."""
    topics: dict[tuple[str, str], list[int]] = {}
    for choice in task.choices:
        topics.setdefault(choice.topic, []).append(choice.whole)
    count, used = 0, 0
    for whole in sorted(map(min, topics.values())):
        used += whole
        if used > task.budget:
            break
        count += 1
    longest = sum(map(max, topics.values()))
    # Two days one after the other share nothing, so together they hold no more than the book has.
    pairs_of_days, odd = divmod(task.wish.days, 2)
    pieces = pairs_of_days * min(2 * count, len(topics)) + odd * count
    full = pairs_of_days * min(2 * task.budget, longest) + odd * min(task.budget, longest)

    def most(steps: tuple[int, ...], kinds: int) -> int:
        return sum(sorted((step for step in steps for _ in range(kinds)), reverse=True)[:pieces])

    pairs = len({choice.pair for choice in task.choices})
    works = len({choice.work for choice in task.choices})
    return full + most(PAIR_WORTH, pairs) + most(WORK_WORTH, works)


def violations(task: Problem, days: Sequence[Sequence[Choice]]) -> tuple[str, ...]:
    """The conditions that days break, as sentences; empty if they are a plan."""
    found = []
    for number, day in enumerate(days):
        name = f"Day {number + 1}"
        if sum(item.whole for item in day) > task.budget:
            found.append(f"{name} is longer than {count_of(task.wish.minutes, 'minute')}.")
        topics = Counter(item.topic for item in day)
        found += [f"{name} has {key} twice." for key, count in topics.items() if count > 1]
        for other in task.follows(number):
            if other < len(days) and topics.keys() & {item.topic for item in days[other]}:
                found.append(f"{name} repeats something of the day beside it.")
        for register, least in task.least.items():
            keys = {item.key for item in day if item.register == register}
            if len(keys) < least:
                found.append(f"{name} has {len(keys)} of {least} keys in the {register} register.")
    items = [item for day in days for item in day]
    for what, all_of, met in (
        ("Keys", task.keys, {item.key for item in items}),
        ("Registers", task.registers, {item.register for item in items}),
        ("Variations", task.variations, {item.variation for item in items}),
    ):
        missing = [_name_in_words(name) for name in all_of if name not in met]
        if missing:
            found.append(f"{what} that do not come: {', '.join(missing)}.")
    return tuple(found)


def same_choices(choice: Choice) -> tuple[object, ...]:
    """All of a choice that a plan's worth and conditions depend on; choices of one kind are equal in it."""
    return choice.topic, choice.register, choice.variation, choice.whole


def kinds(task: Problem) -> list[tuple[Choice, ...]]:
    """The choices by kind; rising and falling from one pitch, for instance, are of one kind."""
    found: dict[tuple[object, ...], list[Choice]] = {}
    for choice in task.choices:
        found.setdefault(same_choices(choice), []).append(choice)
    return [tuple(group) for group in found.values()]


def one_of(kind: tuple[Choice, ...], turn: int) -> Choice:
    """One choice of a kind; another turn gives another choice."""
    return kind[turn % len(kind)]


def needed_seconds(task: Problem) -> int:
    """The shortest time in which one day goes through every register; shorter days are impossible."""
    whole = 0
    for register, least in task.least.items():
        keys: dict[str, int] = {}
        for choice in task.choices:
            if choice.register == register:
                keys[choice.key] = min(keys.get(choice.key, choice.whole), choice.whole)
        whole += sum(sorted(keys.values())[:least])
    return whole
