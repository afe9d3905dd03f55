"""Writes music that is played twice in two ways as one repeat on one staff."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ..music.event import DynamicMark, Event
from ..music.score import Score
from ..translation.said import Said, joined, noted, term
from . import apply, find
from .duets import in_both_parts
from .vibrato import DIRECTIONS, WAVED

_LEVEL = "level"
_ORDINALS = (noted("1st time"), noted("2nd time"))
_AS_MARKED = term("vibrato as marked")


def pass_problem(first: Sequence[str], second: Sequence[str]) -> tuple[str, str] | None:
    """Why two ways of playing do not fit on one staff, and how to mend it; None if they do.

    Each name must be one that `find` knows.
    """
    for name in (*first, *second):
        variation, _ = find(name)
        if variation.shapes != "vibrato" and variation.name != _LEVEL:
            mend = "use a variation of vibrato or `level`; put others under `variations`"
            return f"{name!r} cannot be read from the same staff as another way", mend
    waves = [[name for name in names if find(name)[0].name in WAVED] for names in (first, second)]
    if all(waves) and waves[0] != waves[1]:
        mend = "give one of the two times `without vibrato` or `with vibrato`"
        return "both times have vibrato of their own in the notes, and one staff shows one", mend
    levels = [any(find(name)[0].name == _LEVEL for name in names) for names in (first, second)]
    if levels[0] != levels[1]:
        return (
            "one time has a dynamic and the other has not",
            "give both a dynamic, such as `level p` and `level f`",
        )
    if list(first) == list(second):
        return "both times are played alike", "take the two fields out, and write `|:` and `:|` in the music"
    return None


def played_twice(score: Score, first: tuple[str, ...], second: tuple[str, ...]) -> Score:
    """The score as a repeat: the first time with some variations, the second time with others.

    The words above the first note say which variation belongs to which time; only one time may have signs of
    vibrato. Raises Unsuitable if a variation makes no sense for the score, and ValueError if `pass_problem`
    finds something.
    """
    problem = pass_problem(first, second)
    if problem:
        raise ValueError(problem[0])
    if score.second:
        return in_both_parts(score, lambda part: played_twice(part, first, second))
    ways = [apply(score, names) for names in (first, second)]
    staves = zip(score.line.events(), *(way.line.events() for way in ways), strict=True)
    merged = iter([_merged(*events) for events in staves])
    bars = [replace(bar, events=tuple(next(merged) for _ in bar.events)) for bar in score.line.bars]
    times = zip(_ORDINALS, (first, second), strict=True)
    words = joined((joined((term(time), _words_above(names))) for time, names in times), ", ")
    opening = bars[0].events
    place = next((place for place, event in enumerate(opening) if event.pitch), 0)
    named = replace(opening[place], above=joined((words, opening[place].above), "; "))
    bars[0] = replace(bars[0], events=(*opening[:place], named, *opening[place + 1 :]), opens_repeat=True)
    bars[-1] = replace(bars[-1], end=":|")
    return score.with_bars(tuple(bars))


def replaces_passes(names: Sequence[str]) -> bool:
    """Whether variations shape what the two times shape, so that the music is played only once."""
    return any(find(name)[0].shapes in ("vibrato", "dynamics") for name in names)


def _words_above(names: tuple[str, ...]) -> Said:
    """A way of playing in a few words, for above the staff."""
    found: list[str] = []
    for name in names:
        variation, words = find(name)
        if variation.name in WAVED:
            found.append(_AS_MARKED)
        else:
            found.append(words if variation.name == _LEVEL else DIRECTIONS[variation.name])
    return joined(dict.fromkeys(found))


def _merged(plain: Event, one: Event, other: Event) -> Event:
    """An event with the signs of both times; signs that differ are marked with their time."""
    return replace(
        plain,
        dynamic_marks=_of_times(one.dynamic_marks, other.dynamic_marks),
        vibrato=_of_times(one.vibrato, other.vibrato),
    )


def _of_times(first: tuple[DynamicMark, ...], second: tuple[DynamicMark, ...]) -> tuple[DynamicMark, ...]:
    if first == second:
        return first
    shades = [replace(shade, time=time) for time, each in ((1, first), (2, second)) for shade in each]
    return tuple(sorted(shades, key=lambda shade: shade.at))
