"""A book on disk: its settings in mkdocs.yml and its exercises, read and checked as a whole."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import yaml

from builder.language.faults import BookFaults, Fault, did_you_mean
from builder.language.fields import MAX_BYTES
from builder.language.read import SUFFIX, Reading, read
from builder.music.accidentals import COURTESIES, PLAIN
from builder.music.exercise import Exercise, Travel, Wanted
from builder.music.instruments import INSTRUMENTS, Instrument
from builder.music.pitch import A4_HERTZ
from builder.music.settings import settings
from builder.music.timing import BREATH_SECONDS
from builder.own_instruments import FILE as OWN_INSTRUMENTS
from builder.own_instruments import read_own
from builder.players import players, tuning_pitch
from builder.variations import Unsuitable, find, meaning, variations
from builder.variations.conflicts import contradiction
from builder.variations.passes import pass_problem, played_twice
from builder.visible import shown, visible, visible_rows

CONFIG = "mkdocs.yml"


class BookProblem(Exception):
    """Raised where a book cannot be read at all; the text says what, where and how to mend it."""


@dataclass(frozen=True, slots=True)
class Book:
    """Every exercise of a book, in the order of their titles, and the instruments it is for."""

    name: str
    exercises: tuple[Exercise, ...]
    instruments: tuple[Instrument, ...]
    paper: str = "a4"
    breath_seconds: float = BREATH_SECONDS
    a4: float = A4_HERTZ

    @property
    def published(self) -> tuple[Exercise, ...]:
        """The exercises whose rights let them be published."""
        return tuple(exercise for exercise in self.exercises if exercise.publishable)

    @property
    def withheld(self) -> tuple[str, ...]:
        """A plain sentence for each exercise that stays out of the site."""
        return tuple(
            f"{exercise.slug}: left out of the site, because "
            + ("its rights say private" if exercise.rights else "it states no rights")
            for exercise in self.exercises
            if not exercise.publishable
        )


class _Loader(yaml.SafeLoader):
    """mkdocs.yml may hold tags of other plugins; they are no concern of ours."""


_Loader.add_multi_constructor("!", lambda loader, suffix, node: None)
_Loader.add_multi_constructor("tag:", lambda loader, suffix, node: None)


def options_in(config: dict[str, Any]) -> dict[str, Any]:
    """The stavewright plugin's options in a loaded mkdocs.yml."""
    plugins = config.get("plugins") or []
    rows = (
        plugins.items()
        if isinstance(plugins, dict)
        else [
            row
            for entry in plugins
            for row in (entry.items() if isinstance(entry, dict) else [(entry, None)])
        ]
    )
    for name, options in rows:
        if name == "stavewright":
            return dict(options or {})
    return {}


def read_config(folder: Path) -> dict[str, Any]:
    """The book's mkdocs.yml. Raises BookProblem where there is none or it cannot be read."""
    path = folder / CONFIG
    try:
        loaded = yaml.load(path.read_text(encoding="utf-8"), Loader=_Loader)
    except FileNotFoundError:
        raise BookProblem(f"{visible(path)}: there is no book here; name its folder with --book") from None
    except (OSError, UnicodeDecodeError, yaml.YAMLError) as error:
        raise BookProblem(f"{visible(path)}: cannot be read: {visible_rows(str(error))}") from error
    return loaded if isinstance(loaded, dict) else {}


def open_book(folder: Path) -> Book:
    """The book in a folder. Raises BookProblem, or BookFaults with every fault of every exercise."""
    config = read_config(folder)
    options = options_in(config)
    return read_book(folder, str(config.get("site_name") or "A book of exercises"), options)


def read_book(folder: Path, name: str, options: dict[str, Any]) -> Book:
    """The book in a folder by its plugin options: `exercises`, `instruments`, `tops`, `paper`, and so on.

    Raises BookProblem, or BookFaults with every fault of every exercise.
    """
    home = folder / str(options.get("exercises") or "exercises")
    if not home.is_dir():
        raise BookProblem(
            f"{visible(home)}: there is no such folder; put the exercises there, as NAME{SUFFIX}"
        )
    paths = sorted(path for path in home.rglob(f"*{SUFFIX}") if path.is_file())
    if not paths:
        raise BookProblem(
            f"{visible(home)}: no exercises here; `stavewright new NAME` writes one to start from"
        )
    readings = [_read(path, path.relative_to(folder).as_posix()) for path in paths]
    known, faults = known_instruments(folder)
    faults += [fault for reading in readings for fault in reading.faults]
    faults += _names_twice(readings)
    named = _named(options)
    for number, reading in enumerate(readings):
        readings[number], unknown = _with_variations(reading, named)
        faults += unknown
    if faults:
        raise BookFaults(faults)
    courtesy = _courtesy(options)
    exercises = [replace(r.exercise, courtesy=courtesy) for r in readings if r.exercise is not None]
    instruments, problems = players(options, known)
    a4, wrong = tuning_pitch(options.get("a4"))
    if problems + wrong:
        raise BookProblem("\n".join(f"{CONFIG}: {problem}" for problem in problems + wrong))
    return Book(
        name=name,
        exercises=tuple(sorted(exercises, key=lambda exercise: (exercise.title.casefold(), exercise.slug))),
        instruments=instruments,
        paper=str(options.get("paper") or "a4"),
        breath_seconds=_breath_seconds(options),
        a4=a4,
    )


def known_instruments(folder: Path) -> tuple[dict[str, Instrument], list[Fault]]:
    """Every instrument a book can name, the studio's own among them, and the faults of the studio's file."""
    path = folder / OWN_INSTRUMENTS
    if not path.is_file():
        return INSTRUMENTS, []
    with path.open("rb") as file:
        own, faults = read_own(file.read(MAX_BYTES + 1), INSTRUMENTS)
    return {**INSTRUMENTS, **own}, faults


def _breath_seconds(options: dict[str, Any]) -> float:
    given = options.get("breath_seconds", BREATH_SECONDS)
    if isinstance(given, bool) or not isinstance(given, (int, float)) or not 1 <= given <= 120:
        what = f"breath_seconds: {shown(str(given))} is no length of a breath"
        raise BookProblem(f"{CONFIG}: {what}; give seconds from 1 to 120, such as {BREATH_SECONDS:g}")
    return float(given)


def _courtesy(options: dict[str, Any]) -> str:
    given = options.get("courtesy", PLAIN)
    if given not in COURTESIES:
        what = f"courtesy: {given!r} is no way to print courtesy accidentals"
        raise BookProblem(f"{CONFIG}: {what}; write one of {', '.join(COURTESIES)}")
    return str(given)


_read_once = lru_cache(maxsize=4096)(read)


def _read(path: Path, name: str) -> Reading:
    with path.open("rb") as file:
        # One byte more than an exercise may have is enough to know that it is too large. While a book is
        # served it is read at every change; a text that is as it was is not read anew.
        return _read_once(name, file.read(MAX_BYTES + 1), path.stat().st_size)


def _names_twice(readings: Iterable[Reading]) -> list[Fault]:
    faults: list[Fault] = []
    slugs: dict[str, str] = {}
    titles: dict[str, str] = {}
    for reading in readings:
        exercise, file = reading.exercise, reading.source.file
        if exercise is None:
            continue
        if exercise.slug in slugs:
            what = f"the name {shown(exercise.slug)} is taken by {visible(slugs[exercise.slug])}"
            faults.append(reading.source.fault(1, 1, what, "give one of the two files another name"))
        slugs.setdefault(exercise.slug, file)
        title = exercise.title.casefold()
        if title in titles:
            place = reading.places["title"]
            what = f"the title {shown(exercise.title, 120)} is taken by {visible(titles[title])}"
            faults.append(reading.source.fault(place.line, place.column, what, "give one of them another"))
        titles.setdefault(title, file)
    return faults


def _named(options: dict[str, Any]) -> dict[str, tuple[str, ...]]:
    """The variations that mkdocs.yml gives names to. Raises BookProblem on one that is no variation."""
    named: dict[str, tuple[str, ...]] = {}
    given = options.get("variations") or {}
    if not isinstance(given, dict):
        raise BookProblem(f"{CONFIG}: variations: give each a name, as in `evening: slurred + swell up`")
    for name, wishes in given.items():
        found = meaning([wish.strip() for wish in str(wishes).split("+")], named)
        problems = filter(None, map(_problem, found))
        if problem := next(problems, None) or contradiction(found):
            raise BookProblem(f"{CONFIG}: variations: {visible(name)}: {problem[0]}; {problem[1]}")
        named[str(name)] = found
    return named


def _problem(wish: str) -> tuple[str, str] | None:
    """What is wrong with a variation's name and words, and how to mend it."""
    try:
        find(wish)
    except KeyError:
        known = variations()
        mend = did_you_mean(wish, known, f"there are: {', '.join(known)}")
        return f"there is no variation {shown(wish, 60)}", mend
    except ValueError as error:
        return f"{shown(wish, 60)} cannot be read", str(error)
    return None


def _with_variations(reading: Reading, named: dict[str, tuple[str, ...]]) -> tuple[Reading, list[Fault]]:
    """The reading with every variation in its plain names, and the faults of those that are none."""
    exercise = reading.exercise
    if exercise is None:
        return reading, []
    known = dict(named)
    wanted: list[Wanted] = []
    faults: list[Fault] = []
    for wish in (*exercise.wanted, *exercise.passes):
        names = meaning(wish.names, known)
        called = wish.called or (wish.label if wish.label in known else "")
        if wish.called:
            known[wish.called] = names
        wanted.append(replace(wish, names=names, called=called))
        problems = [problem for name in names if (problem := _problem(name))]
        if not problems and (contradicts := contradiction(names)):
            problems = [contradicts]
        faults += [reading.source.fault(wish.place.line, wish.place.column, *problem) for problem in problems]
    count = len(exercise.wanted)
    exercise = replace(exercise, wanted=tuple(wanted[:count]), passes=tuple(wanted[count:]))
    if exercise.passes and not faults and (problem := _pass_problem(exercise)):
        line, column = exercise.passes[0].place.line, exercise.passes[0].place.column
        faults.append(reading.source.fault(line, column, *problem))
    return replace(reading, exercise=exercise), faults


def _pass_problem(exercise: Exercise) -> tuple[str, str] | None:
    """What is wrong with how the two times are to be played, and how to mend it."""
    first, second = (each.names for each in exercise.passes)
    if problem := pass_problem(first, second):
        return problem
    for setting in settings(replace(exercise, travel=Travel()), INSTRUMENTS["flute"]):
        try:
            played_twice(setting.score(), first, second)
        except Unsuitable as reason:
            return f"one of the two times cannot be played: {reason}", "choose another way of playing"
    return None
