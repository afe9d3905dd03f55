"""Who a book is for: the instruments that mkdocs.yml names, at its level and in its pitch.

instruments: [flute, clarinet-b-flat]   which, in the order of the site
level: developing                       for all, or {flute: advanced, clarinet-b-flat: beginner}
tops: {flute: A6}                       the highest note to prefer, where a level's is not wanted
concert: true                           exercises are read as concert pitch, so that all sound together
a4: 440                                 the pitch that drones and tables are reckoned from, in hertz
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from ..language.faults import did_you_mean, shown
from ..language.namings import ENGLISH, Naming
from ..music.pitch import A4_HERTZ, Pitch
from ..music.winds.instrument import ABILITIES, LEVEL, LEVELS, Instrument

A4_LOW, A4_HIGH = 415, 466
"""The tuning pitches a book may name, in hertz: from today's low pitch to the old high one."""


@dataclass(frozen=True, slots=True)
class PlayersProblem:
    """What is wrong with an option, and how to mend it; `steps` lead from the options to the value."""

    steps: tuple[str | int, ...]
    what: str
    mend: str
    at_name: bool = False


def players(
    options: Mapping[str, Any], known: Mapping[str, Instrument], naming: Naming = ENGLISH
) -> tuple[tuple[Instrument, ...], list[PlayersProblem]]:
    """The instruments of a book's options, whose notes have these names, and every problem in them."""
    problems: list[PlayersProblem] = []
    names = _names(options.get("instruments"), known, problems)
    levels = _levels(options.get("level"), names, known, problems)
    tops = _tops(options.get("tops"), names, known, naming, problems)
    concert = options.get("concert") or False
    if not isinstance(concert, bool):
        what = f"concert: {shown(str(concert))} is neither yes nor no"
        problems.append(PlayersProblem(("concert",), what, "write true or false"))
    chosen = []
    for name in names:
        found = replace(known[name].at_level(levels.get(name, LEVEL)), concert=concert is True)
        top = tops.get(name)
        if top is not None:
            if not found.compass.easy_low.midi < top.midi <= found.compass.high.midi:
                low, high = map(naming.pitch, (found.compass.easy_low, found.compass.high))
                what = f"tops: {name}: {naming.pitch(top)} is out of place"
                problems.append(PlayersProblem(("tops", name), what, f"choose one above {low}, up to {high}"))
            found = replace(found, compass=replace(found.compass, easy_high=top))
        chosen.append(found)
    return tuple(chosen), problems


def tuning_pitch(given: Any) -> tuple[float, list[PlayersProblem]]:
    """A4 in hertz from the option `a4`, and what is wrong with it."""
    if given is None:
        return A4_HERTZ, []
    if isinstance(given, bool) or not isinstance(given, (int, float)) or not A4_LOW <= given <= A4_HIGH:
        what = f"a4: {shown(str(given))} is not a tuning pitch"
        mend = f"give hertz from {A4_LOW} to {A4_HIGH}, such as 440"
        return A4_HERTZ, [PlayersProblem(("a4",), what, mend)]
    return float(given), []


def _unknown_instrument(
    name: Any, known: Mapping[str, Instrument], steps: tuple[str | int, ...], says: str = ""
) -> PlayersProblem:
    mend = did_you_mean(str(name), known, f"there are: {', '.join(known)}")
    return PlayersProblem(steps, f"{says}unknown instrument {shown(str(name))}", mend, at_name=bool(says))


def _names(given: Any, known: Mapping[str, Instrument], problems: list[PlayersProblem]) -> tuple[str, ...]:
    if given is None:
        return ("flute",)
    if isinstance(given, str):
        given = [given]
    if not isinstance(given, list) or not given:
        what = "instruments: this is not a list"
        problems.append(PlayersProblem(("instruments",), what, "write it as in [flute, clarinet-b-flat]"))
        return ()
    names: list[str] = []
    for number, each in enumerate(given):
        steps = ("instruments", number)
        if not isinstance(each, str) or each not in known:
            problems.append(_unknown_instrument(each, known, steps))
        elif each in names:
            problems.append(PlayersProblem(steps, f"instruments: {each} is named twice", "name it once"))
        else:
            names.append(each)
    return tuple(names)


def _levels(
    given: Any, names: tuple[str, ...], known: Mapping[str, Instrument], problems: list[PlayersProblem]
) -> dict[str, str]:
    if given is None:
        return {}
    if isinstance(given, str):
        # With no instrument named right, the word itself is still looked at.
        given = dict.fromkeys(names or list(known)[:1], given)
    if not isinstance(given, dict):
        mend = f"write one of {', '.join(ABILITIES)}, or one for each as in {{flute: advanced}}"
        problems.append(PlayersProblem(("level",), "level: this is not an ability", mend))
        return {}
    levels = {}
    for name, level in given.items():
        if str(name) not in known:
            problems.append(_unknown_instrument(name, known, ("level", str(name)), "level: "))
        elif (plain := ABILITIES.get(str(level), str(level))) not in LEVELS:
            mend = did_you_mean(str(level), [*LEVELS, *ABILITIES], f"write one of {', '.join(ABILITIES)}")
            what = f"level: unknown ability {shown(str(level))}"
            problems.append(PlayersProblem(("level", str(name)), what, mend))
        else:
            levels[str(name)] = plain
    return levels


def _tops(
    given: Any,
    names: tuple[str, ...],
    known: Mapping[str, Instrument],
    naming: Naming,
    problems: list[PlayersProblem],
) -> dict[str, Pitch]:
    if given is None:
        return {}
    if not isinstance(given, dict):
        what = "tops: this names no instruments"
        mend = f"write it as in {{flute: {naming.retold('A6')}}}"
        problems.append(PlayersProblem(("tops",), what, mend))
        return {}
    tops = {}
    for name, top in given.items():
        if str(name) not in known:
            problems.append(_unknown_instrument(name, known, ("tops", str(name)), "tops: "))
            continue
        try:
            tops[str(name)] = naming.parse(str(top))
        except ValueError as error:
            mend = f"write one as in {{flute: {naming.retold('A6')}}}"
            problems.append(PlayersProblem(("tops", str(name)), f"tops: {name}: {error}", mend))
    return tops
