"""Registers variations."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from ..music.score import Score
from ..translation.said import term

Change = Callable[[Score, str], Score]


class Unsuitable(Exception):
    """Raised if a variation makes no sense for a score; `reason` says why, as a clause."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


@dataclass(frozen=True, slots=True)
class Variation:
    """A named change.

    `means` tells the player what to do. `takes` is an example of words that may or must follow the name, and
    `pattern` is a regular expression for them; both are empty if no words may follow. One marked `last` is
    applied after all others. Two that shape the same thing (`shapes`: dynamics, vibrato ...) contradict each
    other. `grade` says how much of a player it asks for, 1 to 5; each of the words in `harder` after its name
    asks for a grade of its own.
    """

    name: str
    means: str
    change: Change
    takes: str = ""
    pattern: str = ""
    last: bool = False
    shapes: str = ""
    grade: int = 2
    harder: tuple[tuple[str, int], ...] = ()

    def grade_of(self, words: str) -> int:
        """Its grade with these words after its name."""
        said = words.split()
        return max([self.grade, *(grade for word, grade in self.harder if word in said)])

    def understands(self, words: str) -> bool:
        """Whether these words may follow its name."""
        return re.fullmatch(self.pattern, words) is not None


_REGISTERED: dict[str, Variation] = {}


def registered() -> dict[str, Variation]:
    """The variations registered so far."""
    return dict(_REGISTERED)


def variation(
    name: str,
    means: str,
    takes: str = "",
    pattern: str = "",
    last: bool = False,
    shapes: str = "",
    grade: int = 2,
    harder: tuple[tuple[str, int], ...] = (),
) -> Callable[[Change], Change]:
    """Register a function as the variation of that name."""

    def register(change: Change) -> Change:
        _REGISTERED[name] = Variation(name, term(means), change, takes, pattern, last, shapes, grade, harder)
        return change

    return register


def leading_name(wish: str, names: Iterable[str]) -> str | None:
    """The longest of some names that a wish is or begins with as whole words; None if there is none."""
    found = (name for name in names if wish == name or wish.startswith(f"{name} "))
    return max(found, key=len, default=None)
