"""The rules of stavewright.daily.plan: which problem a promise makes of a book, and what days break.

Whatever method made a plan, `violations` looks at it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from math import ceil

from ..plurals import count_of, listed
from .blocks import Block, Portion, blocks_of
from .choices import Choice
from .plan import (
    BETWEEN,
    CARRIED,
    CARRIED_DAYS,
    EXERCISES,
    MOST_COUNTED,
    MOST_DAYS,
    MOST_MINUTES,
    REGISTERS,
    SECOND_BLOCK,
    Days,
    NoPlan,
    Problem,
    Promise,
    Sitting,
    block_share,
    portion_points,
    sitting_seconds,
    whole_seconds,
    work_points,
)


def problem_of(wish: Promise, choices: Sequence[Choice], registers: Sequence[str]) -> Problem:
    """The problem of a promise: the blocks that its sittings have room for.

    Raises NoPlan if no block is left or a fixed part has none, and ValueError if the promise is out of
    bounds.
    """
    if not 1 <= wish.minutes <= MOST_MINUTES or not 1 <= wish.days <= MOST_DAYS:
        raise ValueError(f"{wish} is outside what can be asked")
    offered = sorted(
        (choice for choice in choices if choice.register),
        key=lambda choice: (choice.exercise, choice.number, choice.name),
    )
    if not offered:
        raise NoPlan(("The book has no exercise that a player of this ability can play on this instrument.",))
    seconds = sitting_seconds(wish.minutes)
    blocks = blocks_of(offered, wish.ways, registers, block_share(seconds), seconds)
    if not blocks:
        least = min(choice.whole for choice in offered)
        raise NoPlan(
            (f"Nothing in the book is short enough for {count_of(wish.minutes, 'minute')}.",),
            (f"The shortest takes {count_of(ceil(least / 60), 'minute')}, with the rest after it.",),
        )
    found = Problem(wish, blocks, tuple(name for name in registers if name in _registers(blocks)))
    if reasons := tuple(_missing(found)):
        raise NoPlan(reasons)
    return found


def _registers(blocks: Sequence[Block]) -> set[str]:
    return {block.portion.register for block in blocks}


def _missing(task: Problem) -> Iterator[str]:
    """What a promise fixes and the book does not have."""
    exercises = {block.exercise for block in task.blocks}
    span = count_of(task.wish.minutes, "minute")
    for name in dict.fromkeys((*filter(None, [task.wish.opening]), *task.wish.always)):
        if name not in exercises:
            yield f"{name} is fixed for each day, and no part of it can be played in {span}."
    if task.wish.each_day and not task.asked_ways:
        yield f"No part of an exercise with {listed(task.wish.each_day)} can be played in {span}."
    fixed = {*filter(None, [task.wish.opening]), *task.wish.always}
    if len(fixed) > (room := task.most * task.sittings):
        yield f"{count_of(len(fixed), 'exercise')} are fixed for each day, and {span} hold {room} blocks."


def violations(task: Problem, days: Days) -> tuple[str, ...]:
    """The rules that days break, as sentences; empty if they are a plan."""
    found: list[str] = []
    for number, day in enumerate(days):
        name = f"Day {number + 1}"
        if any(block.tongued for sitting in day[:-1] for block in sitting):
            found.append(f"{name} exercises the tongue before its last sitting.")
        if not day[0]:
            found.append(f"{name} has nothing to play.")
        for sitting in day:
            found += [f"{name} {said}" for said in _sitting_faults(task, sitting)]
        blocks = [block for sitting in day for block in sitting]
        twice = [block for block in blocks if sum(block.portion == other.portion for other in blocks) > 1]
        found += [f"{name} plays {block.items[0].title} twice in the same keys." for block in twice[:1]]
        opening = next(iter(day[0]), None)
        if task.openings and opening not in task.openings:
            found.append(f"{name} does not begin as it should.")
        for exercise in task.wish.always:
            if all(block.exercise != exercise for block in blocks):
                found.append(f"{name} lacks {exercise}.")
        if task.wish.each_day and not task.asked_ways.intersection(blocks):
            found.append(f"{name} has no {listed(task.wish.each_day)}.")
    of_days = [[block for sitting in day for block in sitting] for day in days]
    for one, other in task.next_days():
        changing = [{task.changes(block) for block in of_days[day]} - {None} for day in (one, other)]
        if changing[0] & changing[1]:
            found.append(f"Day {other + 1} repeats a block of day {one + 1}.")
    for run in task.runs():
        carried = set.intersection(*({block.work for block in of_days[day]} for day in run))
        for exercise, way in sorted(work for work in carried if task.carries(work)):
            found.append(
                f"{exercise} comes {way} on more than {CARRIED_DAYS} days running, from day {run[0] + 1}."
            )
    if task.wish.complete:
        met = {block.portion for day in of_days for block in day}
        missing = Counter(portion.exercise for portion in task.portions if portion not in met)
        if missing:
            found.append(
                "Not every key comes: "
                + listed([f"{count_of(count, 'run')} of keys of {name}" for name, count in missing.items()])
                + f" {'is' if missing.total() == 1 else 'are'} missing."
            )
    return tuple(found)


def _sitting_faults(task: Problem, sitting: Sitting) -> Iterator[str]:
    if whole_seconds(sitting) > task.budget:
        yield f"is longer than {count_of(task.wish.minutes, 'minute')}."
    if len(sitting) > task.most:
        yield f"has more than {count_of(task.most, 'block')} at a sitting."
    if sum(block.tongued for block in sitting) > 1:
        yield "exercises the tongue twice at a sitting."
    for exercise, count in Counter(block.exercise for block in sitting).items():
        inside = [block for block in sitting if block.exercise == exercise]
        if count > 1 and not fits_together(inside):
            yield f"does not play {exercise} in one way through its registers."


def fits_together(blocks: Sequence[Block]) -> bool:
    """Whether one sitting may hold these blocks of one exercise: one way, each in a register of its own."""
    return (
        len({block.way for block in blocks}) == 1
        and len({block.portion.register for block in blocks}) == len(blocks)
        and (len(blocks) == 1 or blocks[0].items[0].by_pitch)
    )


def needed_seconds(task: Problem) -> int:
    """Seconds that every portion takes once, in its shortest block, with the rests between blocks."""
    shortest: dict[Portion, int] = {}
    for block in task.blocks:
        shortest[block.portion] = min(block.seconds, shortest.get(block.portion, block.seconds))
    return sum(shortest.values()) + BETWEEN * max(0, len(shortest) - task.wish.days * task.sittings)


def simple_bound(task: Problem) -> int:
    """An upper bound of any plan's worth, by counting: each sitting is full and has all it can have."""
    sittings = task.wish.days * task.sittings
    shortest = sorted(block.seconds for block in task.blocks)
    a_sitting = min(task.most, (task.budget + BETWEEN) // (shortest[0] + BETWEEN))
    blocks = sittings * a_sitting

    def most(points: Sequence[tuple[int, ...]]) -> int:
        return sum(sorted((step for steps in points for step in steps), reverse=True)[:blocks])

    by_pitch = any(block.items[0].by_pitch for block in task.blocks)
    exercises = min(MOST_COUNTED, a_sitting, len(task.portions_of))
    together = EXERCISES * (exercises - 1)
    if by_pitch:
        # A block is another exercise or another register of one.
        together = max(together, max(EXERCISES, REGISTERS) * (a_sitting - 1))
    filled = min(task.budget, sum(shortest[-a_sitting:])) // 10
    carried = CARRIED * max(1, task.most * task.sittings - 1) * len(task.next_days())
    return (
        most([portion_points(task, portion) for portion in task.portions])
        + most([work_points(task, work) for work in task.works])
        + carried
        + sittings * (SECOND_BLOCK * (a_sitting > 1) + together + filled)
    )
