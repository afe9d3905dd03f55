"""Written variations: small functions from a score to a score.

A new variation is one function under `@variation` in any module of this folder; nothing else changes.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping, Sequence
from functools import cache, reduce

from ..music.score import Score
from ..translation.said import phrase
from .duets import in_both_parts, keeping_chords, keeping_notes
from .equal_names import plain_name
from .registry import Unsuitable, Variation, leading_name, registered

__all__ = ["Unsuitable", "Variation", "apply", "find", "meaning", "variations"]


@cache
def variations() -> dict[str, Variation]:
    """Every variation by its name, in the order of the modules' names and their places in them."""
    for module in pkgutil.iter_modules(__path__):
        importlib.import_module(f"{__name__}.{module.name}")
    return registered()


def find(wish: str) -> tuple[Variation, str]:
    """The variation that a wish names, and the words after its name.

    Raises KeyError if no variation has that name, and ValueError (with a clause for a message) if it does not
    understand the words.
    """
    known = variations()
    name = leading_name(wish, known)
    if name is None:
        raise KeyError(wish)
    chosen = known[name]
    words = wish.removeprefix(name).strip()
    if not chosen.understands(words):
        example = f"{chosen.name} {chosen.takes}".strip()
        raise ValueError(f"{chosen.name!r} is written `{example}`")
    return chosen, words


def meaning(wishes: Sequence[str], named: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    """Wishes with the names of a book or an exercise, and equal names, replaced by what they mean."""
    return tuple(plain for wish in wishes for plain in named.get(wish) or (plain_name(wish),))


MOST_EVENTS = 4_000
"""Notes and rests of a piece; a variation that repeats or divides the music may be joined with itself."""


def apply(score: Score, wishes: tuple[str, ...]) -> Score:
    """A score with variations applied from left to right; those marked `last` come at the end.

    Raises Unsuitable, with the reason as its text, if one makes no sense for this score.
    """

    found = sorted(map(find, wishes), key=lambda pair: pair[0].last)
    return reduce(_changed, found, score)


def _changed(score: Score, chosen: tuple[Variation, str]) -> Score:
    if score.second:
        kept = keeping_chords if score.second.chords else keeping_notes
        return in_both_parts(score, lambda part: kept(part, _changed(part, chosen)))
    variation, words = chosen
    result = variation.change(score, words)
    if sum(len(bar.events) for bar in result.line.bars) > MOST_EVENTS:
        raise Unsuitable(phrase("it would have more than {count} notes", count=f"{MOST_EVENTS:,}"))
    return result
