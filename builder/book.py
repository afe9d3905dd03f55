"""A book on disk: its settings in mkdocs.yml and its exercises, read and checked as a whole."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import yaml

from builder.language.faults import BookFaults, Fault, did_you_mean, nearest
from builder.language.read import SUFFIX, Reading, read
from builder.music.exercise import Exercise
from builder.music.instruments import INSTRUMENTS, Instrument
from builder.music.pitch import Pitch
from builder.variations import find, variations

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
        raise BookProblem(f"{path}: there is no book here; name its folder with --book") from None
    except (OSError, UnicodeDecodeError, yaml.YAMLError) as error:
        raise BookProblem(f"{path}: cannot be read: {error}") from error
    return loaded if isinstance(loaded, dict) else {}


def open_book(folder: Path) -> Book:
    """The book in a folder. Raises BookProblem, or BookFaults with every fault of every exercise."""
    config = read_config(folder)
    options = options_in(config)
    return read_book(folder, str(config.get("site_name") or "A book of exercises"), options)


def read_book(folder: Path, name: str, options: dict[str, Any]) -> Book:
    """The book in a folder by its plugin options: `exercises`, `instruments`, `tops`, `paper`.

    Raises BookProblem, or BookFaults with every fault of every exercise.
    """
    home = folder / str(options.get("exercises") or "exercises")
    if not home.is_dir():
        raise BookProblem(f"{home}: there is no such folder; put the exercises there, as NAME{SUFFIX}")
    paths = sorted(path for path in home.rglob(f"*{SUFFIX}") if path.is_file())
    if not paths:
        raise BookProblem(f"{home}: no exercises here; `stavewright new NAME` writes one to start from")
    readings = [read(path.relative_to(folder).as_posix(), _bytes(path)) for path in paths]
    faults = [fault for reading in readings for fault in reading.faults]
    faults += _names_twice(readings)
    faults += [fault for reading in readings for fault in _unknown_variations(reading)]
    if faults:
        raise BookFaults(faults)
    exercises = [reading.exercise for reading in readings if reading.exercise is not None]
    return Book(
        name=name,
        exercises=tuple(sorted(exercises, key=lambda exercise: (exercise.title.casefold(), exercise.slug))),
        instruments=_instruments(options),
        paper=str(options.get("paper") or "a4"),
    )


def _bytes(path: Path) -> bytes:
    from builder.language.fields import MAX_BYTES

    with path.open("rb") as file:
        # One byte more than allowed is enough to know; the size in the message comes from the file system.
        data = file.read(MAX_BYTES + 1)
    return data if len(data) <= MAX_BYTES else data + bytes(max(0, path.stat().st_size - len(data)))


def _instruments(options: dict[str, Any]) -> tuple[Instrument, ...]:
    names = options.get("instruments") or ["flute"]
    chosen = []
    for name in [names] if isinstance(names, str) else names:
        found = instrument(str(name))
        top = (options.get("tops") or {}).get(found.slug)
        if top is not None:
            try:
                pitch = Pitch.parse(str(top))
            except ValueError as error:
                raise BookProblem(f"{CONFIG}: tops: {found.slug}: {error}") from None
            found = replace(found, compass=replace(found.compass, easy_high=pitch))
        chosen.append(found)
    return tuple(chosen)


def instrument(name: str) -> Instrument:
    """An instrument by its address. Raises BookProblem with those there are."""
    if name not in INSTRUMENTS:
        known = ", ".join(INSTRUMENTS)
        guess = nearest(name, INSTRUMENTS)
        mend = f"did you mean {guess!r}? " if guess else ""
        raise BookProblem(f"{CONFIG}: there is no instrument {name!r}; {mend}there are: {known}")
    return INSTRUMENTS[name]


def _names_twice(readings: Iterable[Reading]) -> list[Fault]:
    faults: list[Fault] = []
    slugs: dict[str, str] = {}
    titles: dict[str, str] = {}
    for reading in readings:
        exercise, file = reading.exercise, reading.source.file
        if exercise is None:
            continue
        if exercise.slug in slugs:
            what = f"the name {exercise.slug!r} is taken by {slugs[exercise.slug]}"
            faults.append(reading.source.fault(1, 1, what, "give one of the two files another name"))
        slugs.setdefault(exercise.slug, file)
        title = exercise.title.casefold()
        if title in titles:
            place = reading.places["title"]
            what = f"the title {exercise.title!r} is taken by {titles[title]}"
            faults.append(reading.source.fault(place.line, place.column, what, "give one of them another"))
        titles.setdefault(title, file)
    return faults


def _unknown_variations(reading: Reading) -> Iterable[Fault]:
    for wanted in reading.exercise.wanted if reading.exercise else ():
        for wish in wanted.names:
            try:
                find(wish)
            except KeyError:
                known = variations()
                mend = did_you_mean(wish, known, f"there are: {', '.join(known)}")
                what = f"there is no variation {wish[:60]!r}"
            except ValueError as error:
                what, mend = f"{wish[:60]!r} cannot be read", str(error)
            else:
                continue
            yield reading.source.fault(wanted.place.line, wanted.place.column, what, mend)
