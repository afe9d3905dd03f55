"""Variations that contradict each other, and what was probably meant."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, pairwise

from . import find
from .registry import Variation
from .swells import SILENCE, levels_of

_THINGS = {
    "attacks": "how notes begin and join",
    "dynamics": "how loud each breath is",
    "octaves": "the octave it begins in",
    "rhythm": "the rhythm of pairs",
    "vibrato": "the vibrato",
}
_MOST_LEVELS = 5


def contradiction(names: Sequence[str]) -> tuple[str, str] | None:
    """The contradiction among variations joined by `+`, and how to mend it; None if there is none.

    Each name must be one that `find` knows.
    """
    for one, other in combinations(names, 2):
        (first, words), (second, more) = find(one), find(other)
        if one == other:
            return f"{one!r} is there twice", "keep one"
        # A variation of a single note takes over its note from one of all notes that stands before it.
        for_another_note = more.startswith("on ") and more != words
        if not first.shapes or first.shapes != second.shapes or for_another_note:
            continue
        what = f"{one!r} and {other!r} contradict each other: both say {_THINGS[first.shapes]}"
        return what, _meant(one, other, first)
    return None


def _meant(one: str, other: str, variation: Variation) -> str:
    apart = f"write `{one}, {other}` to have each by itself"
    if variation.shapes == "dynamics":
        levels = [*levels_of(one), *levels_of(other)]
        joined = [level for before, level in pairwise(["", *levels]) if level != before]
        through_silence = SILENCE in joined[1:-1]
        if levels_of(one) and levels_of(other) and not through_silence and 1 < len(joined) <= _MOST_LEVELS:
            return f"write `swell from {' to '.join(joined)}`, or {apart.removeprefix('write ')}"
    if variation.shapes == "vibrato":
        return (
            f"{apart}, or say in the fields `first time: {one}` and `second time: {other}` what each time has"
        )
    return apart
