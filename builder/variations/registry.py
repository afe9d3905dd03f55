"""How a variation makes itself known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from builder.music.score import Score

Change = Callable[[Score, str], Score]


class Unsuitable(Exception):
    """Raised where a variation makes no sense for a score; the text says why, as a clause."""


@dataclass(frozen=True, slots=True)
class Variation:
    """A named change. `means` tells the player what to do; `takes` says which words may follow the name."""

    name: str
    means: str
    change: Change
    takes: str = ""


_REGISTERED: dict[str, Variation] = {}


def registered() -> dict[str, Variation]:
    """What has been registered so far."""
    return dict(_REGISTERED)


def variation(name: str, means: str, takes: str = "") -> Callable[[Change], Change]:
    """Register a function as the variation of that name."""

    def register(change: Change) -> Change:
        _REGISTERED[name] = Variation(name, means, change, takes)
        return change

    return register
