"""Who a book is for: the instruments that mkdocs.yml names, at its level and in its pitch.

instruments: [flute, clarinet-b-flat]   which, in the order of the site
level: developing                       for all, or {flute: advanced, clarinet-b-flat: beginning}
tops: {flute: A6}                       the highest note to prefer, where a level's is not wanted
concert: true                           exercises are read as concert pitch, so that all sound together
a4: 440                                 the pitch that drones and tables are reckoned from, in hertz
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from builder.language.faults import did_you_mean, shown
from builder.music.instrument import LEVEL, LEVELS, Instrument
from builder.music.pitch import A4_HERTZ, Pitch

A4_LOW, A4_HIGH = 415, 466
"""The tuning pitches a book may name, in hertz: from today's low pitch to the old high one."""


def players(
    options: Mapping[str, Any], known: Mapping[str, Instrument]
) -> tuple[tuple[Instrument, ...], list[str]]:
    """The instruments of a book's options, and every problem in those options as `what; how to mend it`."""
    problems: list[str] = []
    names = _names(options.get("instruments"), known, problems)
    levels = _levels(options.get("level"), names, known, problems)
    tops = _tops(options.get("tops"), names, known, problems)
    concert = options.get("concert") or False
    if not isinstance(concert, bool):
        problems.append(f"concert: {shown(str(concert))} is neither yes nor no; write true or false")
    chosen = []
    for name in names:
        found = replace(known[name].at_level(levels.get(name, LEVEL)), concert=concert is True)
        top = tops.get(name)
        if top is not None:
            if not found.compass.easy_low.midi < top.midi <= found.compass.high.midi:
                low, high = found.compass.easy_low, found.compass.high
                problems.append(f"tops: {name}: {top} is out of place; choose one above {low}, up to {high}")
            found = replace(found, compass=replace(found.compass, easy_high=top))
        chosen.append(found)
    return tuple(chosen), problems


def tuning_pitch(given: Any) -> tuple[float, list[str]]:
    """A4 in hertz from the option `a4`, and what is wrong with it."""
    if given is None:
        return A4_HERTZ, []
    if isinstance(given, bool) or not isinstance(given, (int, float)) or not A4_LOW <= given <= A4_HIGH:
        what = f"a4: {shown(str(given))} is no tuning pitch"
        return A4_HERTZ, [f"{what}; give hertz from {A4_LOW} to {A4_HIGH}, such as 440"]
    return float(given), []


def unknown_instrument(name: str, known: Mapping[str, Instrument]) -> str:
    """What to say of an instrument that there is not."""
    mend = did_you_mean(name, known, f"there are: {', '.join(known)}")
    return f"there is no instrument {shown(name)}; {mend}"


def _names(given: Any, known: Mapping[str, Instrument], problems: list[str]) -> tuple[str, ...]:
    if given is None:
        return ("flute",)
    if isinstance(given, str):
        given = [given]
    if not isinstance(given, list) or not given:
        problems.append("instruments: this is not a list; write it as in [flute, clarinet-b-flat]")
        return ()
    names = []
    for each in map(str, given):
        if each not in known:
            problems.append(unknown_instrument(each, known))
        elif each in names:
            problems.append(f"instruments: {each} is named twice; name it once")
        else:
            names.append(each)
    return tuple(names)


def _levels(
    given: Any, names: tuple[str, ...], known: Mapping[str, Instrument], problems: list[str]
) -> dict[str, str]:
    if given is None:
        return {}
    if isinstance(given, str):
        # With no instrument named right, the word itself is still looked at.
        given = dict.fromkeys(names or list(known)[:1], given)
    if not isinstance(given, dict):
        problems.append(f"level: write one of {', '.join(LEVELS)}, or one for each as in {{flute: advanced}}")
        return {}
    levels = {}
    for name, level in given.items():
        if str(name) not in known:
            problems.append(f"level: {unknown_instrument(str(name), known)}")
        elif level not in LEVELS:
            mend = did_you_mean(str(level), LEVELS, f"the levels are {', '.join(LEVELS)}")
            problems.append(f"level: there is no level {shown(str(level))}; {mend}")
        else:
            levels[str(name)] = str(level)
    return levels


def _tops(
    given: Any, names: tuple[str, ...], known: Mapping[str, Instrument], problems: list[str]
) -> dict[str, Pitch]:
    if given is None:
        return {}
    if not isinstance(given, dict):
        problems.append("tops: this names no instruments; write it as in {flute: A6}")
        return {}
    tops = {}
    for name, top in given.items():
        if str(name) not in known:
            problems.append(f"tops: {unknown_instrument(str(name), known)}")
            continue
        try:
            tops[str(name)] = Pitch.parse(str(top))
        except ValueError as error:
            problems.append(f"tops: {name}: {error}")
    return tops
