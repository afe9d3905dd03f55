"""Tells the author which settings of an exercise were moved by octaves."""

from __future__ import annotations

from collections.abc import Sequence

from ...plurals import listed
from .placing import octaves_words
from .transpositions import Setting


def moves_words(found: Sequence[Setting]) -> str:
    """Which settings of an exercise for one instrument were moved by octaves, and how far; empty if none was.

    `for the flute, A and B flat stand an octave lower than the exercise asks, to stay in its range`.
    """
    fitting = [setting for setting in found if setting.fits]
    groups: dict[int, list[str]] = {}
    for setting in fitting:
        groups.setdefault(setting.shift, []).append(_name(setting))
    said = []
    for shift in sorted(groups.keys() - {0}):
        names = list(dict.fromkeys(groups[shift]))
        many = len(names) > 1
        whom = listed(names)
        if len(groups) == 1:
            whom, many = "every key" if many else whom, False
        said.append(f"{whom} stand{'' if many else 's'} {octaves_words(shift)} than the exercise asks")
    if not said:
        return ""
    return f"for the {fitting[0].instrument.said}, {'; '.join(said)}, to stay in its range"


def _name(setting: Setting) -> str:
    """What tells a setting from the others: its note, or its start where it goes from pitch to pitch."""
    if setting.exercise.travel.by_pitch:
        return setting.start.octaves(-setting.shift).spoken
    return setting.called.tonic
