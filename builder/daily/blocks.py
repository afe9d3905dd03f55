"""Divides a book into blocks: an exercise over a few neighbouring keys, as written and then in one way.

An exercise is first divided into portions: runs of neighbouring settings in the order of travel, of about
equal size, so that one portion fills about the same part of a sitting whatever the exercise. One that goes by
start pitch is divided at its turn and between registers too, where a register has enough keys. Every way of
playing an exercise has the same portions, so that a portion which has come has been covered, in whatever way.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from statistics import median

from ..book.pieces import AS_WRITTEN
from .choices import Choice

MOST_KEYS = 6
"""The most keys of a block. Common practice, no source: three or four, five or six on a full day."""

_TOO_LONG = 1.5
"""A block that takes this many times its share has no first pass as written."""


@dataclass(frozen=True, slots=True)
class Portion:
    """A run of neighbouring settings of an exercise, by their places in the order of travel.

    `register` is where most of them lie. `number` counts the exercise's portions from 0.
    """

    exercise: str
    number: int
    register: str
    direction: str
    settings: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Block:
    """A portion played as written and then in one way.

    `items` are its pieces in the order played. A block whose `way` is AS_WRITTEN is played once.
    """

    portion: Portion
    way: str
    items: tuple[Choice, ...]

    @property
    def seconds(self) -> int:
        """Its length with a short rest after each piece."""
        return sum(item.whole for item in self.items)

    @property
    def exercise(self) -> str:
        """The exercise's address."""
        return self.portion.exercise

    @property
    def work(self) -> tuple[str, str]:
        """The exercise in its way."""
        return self.portion.exercise, self.way

    @property
    def keys(self) -> tuple[Choice, ...]:
        """One piece for each of its keys, in the order of travel."""
        return tuple({item.number: item for item in self.items}.values())

    @property
    def plain_first(self) -> bool:
        """Whether it is played as written and then in another way."""
        return self.way != AS_WRITTEN and self.items[0].variation == AS_WRITTEN

    @property
    def grade(self) -> int:
        """The highest grade of its pieces."""
        return max(item.grade for item in self.items)

    @property
    def tongued(self) -> bool:
        """Whether it has syllables for the tongue."""
        return any(item.tongued for item in self.items)


def blocks_of(
    choices: Sequence[Choice], ways: Sequence[str], registers: Sequence[str], share: int, longest: int
) -> tuple[Block, ...]:
    """Every block of a book.

    `ways` are the variations that may be used, none for all. `share` is how many seconds a block is to last,
    and none lasts more than `longest`. `registers` stand in the order of a day.
    """
    found: list[Block] = []
    for _, group in groupby(sorted(choices, key=lambda item: item.exercise), lambda item: item.exercise):
        found += _blocks_of_exercise(tuple(group), ways, registers, share, longest)
    return tuple(found)


def _blocks_of_exercise(
    choices: tuple[Choice, ...], ways: Sequence[str], registers: Sequence[str], share: int, longest: int
) -> Iterator[Block]:
    plain = {item.number: item for item in choices if item.variation == AS_WRITTEN}
    varied: dict[str, dict[int, Choice]] = {}
    for item in choices:
        if item.variation != AS_WRITTEN and item.number in plain and (not ways or item.variation in ways):
            varied.setdefault(item.variation, {})[item.number] = item
    if not ways or AS_WRITTEN in ways:
        varied[AS_WRITTEN] = plain
    if not varied:
        return
    per_key = median(item.whole for item in plain.values())
    others = [item.whole for way, each in varied.items() if way != AS_WRITTEN for item in each.values()]
    if others:
        per_key += median(others)
    for portion in _portions(
        sorted(plain.values(), key=lambda item: item.number), registers, share / per_key
    ):
        for way, pieces in varied.items():
            if block := _block(portion, way, plain, pieces, share, longest):
                yield block


def _portions(run: Sequence[Choice], registers: Sequence[str], fits: float) -> Iterator[Portion]:
    """An exercise's portions; about `fits` keys last as long as a block is to last."""
    most = min(MOST_KEYS, max(1, round(fits)))
    number = 0
    for stretch in _stretches(run, most):
        for part in evenly(stretch, most):
            yield Portion(
                part[0].exercise,
                number,
                _main(part, registers),
                part[0].direction if part[0].by_pitch else "",
                tuple(item.number for item in part),
            )
            number += 1


def _stretches(run: Sequence[Choice], most: int) -> list[tuple[Choice, ...]]:
    """A run divided at its turn and between registers, if it goes by start pitch.

    A register with less than half a block's keys stays with its neighbour before it, or the one after it.
    """
    if not run[0].by_pitch:
        return [tuple(run)]
    found: list[tuple[Choice, ...]] = []
    for _, group in groupby(run, lambda item: item.direction):
        parts = [tuple(part) for _, part in groupby(group, lambda item: item.register)]
        joined = parts[:1]
        for part in parts[1:]:
            if min(len(part), len(joined[-1])) * 2 < most:
                joined[-1] += part
            else:
                joined.append(part)
        found += joined
    return found


def evenly(run: Sequence[Choice], most: int) -> Iterator[tuple[Choice, ...]]:
    """A run in as few parts of at most `most` as it takes, none more than one longer than another."""
    parts = -(-len(run) // most)
    start = 0
    for part in range(parts):
        end = start + (len(run) - start) // (parts - part) + bool((len(run) - start) % (parts - part))
        yield tuple(run[start:end])
        start = end


def _main(part: Iterable[Choice], registers: Sequence[str]) -> str:
    """The register with most of a run's settings; of equal ones the first in the order of a day."""
    inside = [item.register for item in part]
    return max(registers, key=inside.count, default="")


def _block(
    portion: Portion,
    way: str,
    plain: dict[int, Choice],
    pieces: dict[int, Choice],
    share: int,
    longest: int,
) -> Block | None:
    """The portion in that way, as written before it where the time allows; None where it does not fit."""
    run = tuple(pieces[number] for number in portion.settings if number in pieces)
    if not run:
        return None
    found = Block(portion, way, run)
    if way != AS_WRITTEN:
        both = Block(portion, way, (*(plain[number] for number in portion.settings), *run))
        if both.seconds <= min(_TOO_LONG * share, longest):
            found = both
    if len(found.keys) < len(portion.settings) or found.seconds > longest:
        # Where the way is left out in some keys, they are played as written only, if there is time for it.
        return None
    return found
