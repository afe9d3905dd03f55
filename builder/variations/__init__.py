"""Written variations: small functions from a score to a score.

A new variation is one function under `@variation` in any module of this folder; nothing else changes.
"""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache, reduce

from builder.music.score import Score

from .registry import Unsuitable, Variation, registered

__all__ = ["Unsuitable", "Variation", "apply", "find", "variations"]


@cache
def variations() -> dict[str, Variation]:
    """Every variation by its name, in the order of the modules' names and their places in them."""
    for module in pkgutil.iter_modules(__path__):
        importlib.import_module(f"{__name__}.{module.name}")
    return registered()


def find(wish: str) -> tuple[Variation, str]:
    """The variation that a wish names, and the rest of its words, for variations that take any.

    Raises KeyError where no variation has that name.
    """
    known = variations()
    if wish in known:
        return known[wish], ""
    for variation in known.values():
        if variation.takes and wish.startswith(f"{variation.name} "):
            return variation, wish.removeprefix(f"{variation.name} ")
    raise KeyError(wish)


def apply(score: Score, wishes: tuple[str, ...]) -> Score:
    """A score with variations applied from left to right.

    Raises Unsuitable, with the reason as its text, where one makes no sense for this score.
    """

    def step(current: Score, wish: str) -> Score:
        variation, words = find(wish)
        return variation.change(current, words)

    return reduce(step, wishes, score)
