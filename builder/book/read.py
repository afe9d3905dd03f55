"""A book on disk: its settings in mkdocs.yml and its exercises, read and checked as a whole."""

from __future__ import annotations

import os
import stat
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from ..language.faults import BookFaults, Fault, shown
from ..language.fields import MAX_BYTES, Source
from ..language.namings import ENGLISH as ENGLISH_NAMES
from ..language.namings import NAMINGS, Naming
from ..language.read import SUFFIX, Reading, read
from ..music.exercise import Exercise, KeySequence, VariationRequest
from ..music.pitch import A4_HERTZ
from ..music.settings.transpositions import settings_of
from ..music.sounding.timing import BREATH_SECONDS
from ..music.winds.instruments import INSTRUMENTS, Instrument
from ..translation.catalog import ENGLISH, Translation, translation_to
from ..variations import Unsuitable, meaning
from ..variations.conflicts import contradiction
from ..variations.passes import pass_problem, played_twice
from ..visible import visible
from .book_language import language_of
from .chart_faults import chart_faults
from .config import CONFIG, Config, read_config_file
from .contents import Contents, absent, arrange, exercises_in, page_names, with_only
from .instruments_file import FILE as OWN_INSTRUMENTS
from .instruments_file import read_own
from .links import check_links
from .options import (
    PAPERS,
    Options,
    exercises_folder,
    option_faults,
    plugin_faults,
    read_options,
    text_faults,
    variation_problem,
)
from .own_pages import OwnPage, pages_in, read_own_page
from .page_words import PageWords
from .plain_files import read_plain_file
from .sorting import title_order


class BookProblem(Exception):
    """Raised where a book cannot be read at all; the text says what, where and how to mend it."""


@dataclass(frozen=True, slots=True)
class Book:
    """Every exercise of a book in its order, and the instruments it is for.

    `contents` is the order that the author gives, with her chapters and pages; it is empty where she gives
    none, and the exercises are sorted by their titles. `pages` is the folder of her pages. `papers` are those
    that the site has PDFs for, `paper`, the book's own, among them. `language` is that of the book's own
    words, and `notes` how its exercises name their notes, by the name in NAMINGS.
    """

    name: str
    exercises: tuple[Exercise, ...]
    instruments: tuple[Instrument, ...]
    paper: str = "a4"
    papers: tuple[str, ...] = PAPERS
    breath_seconds: float = BREATH_SECONDS
    a4: float = A4_HERTZ
    contents: Contents = ()
    pages: Path = Path("docs")
    language: str = ENGLISH
    notes: str = ENGLISH_NAMES.name

    @property
    def naming(self) -> Naming:
        """How the exercises name their notes, unless one says it itself."""
        return NAMINGS[self.notes]

    @property
    def page_words(self) -> PageWords:
        """The words on its scores."""
        return PageWords(self.language, self.notes)

    @property
    def translation(self) -> Translation:
        """What says the book's own words in its language."""
        return translation_to(self.language)

    @property
    def published(self) -> tuple[Exercise, ...]:
        """The exercises whose rights let them be published."""
        return tuple(exercise for exercise in self.exercises if exercise.publishable)

    @property
    def published_contents(self) -> Contents:
        """The author's order without the exercises that are not published."""
        return with_only(self.contents, {exercise.slug for exercise in self.published})

    @property
    def withheld(self) -> tuple[str, ...]:
        """A plain sentence for each exercise that stays out of the site."""
        return tuple(
            f"{exercise.slug}: left out of the site, because "
            + ("its rights say private" if exercise.rights else "it states no rights")
            for exercise in self.exercises
            if not exercise.publishable
        )


def read_config(folder: Path, name: str = CONFIG) -> Config:
    """The book's mkdocs.yml, or the file of another name that stands for it.

    Raises BookProblem where there is none, or BookFaults where it cannot be read or names no book.
    """
    path = folder / name
    try:
        config = read_config_file(path)
    except (FileNotFoundError, NotADirectoryError):
        mend = "`stavewright init` begins one, or name its folder with --book"
        raise BookProblem(f"{visible(path)}: there is no book here; {mend}") from None
    except OSError as error:
        raise BookProblem(f"{visible(path)}: cannot be read: {error.strerror}") from None
    if faults := plugin_faults(config) + text_faults(config):
        raise BookFaults(faults)
    return config


def open_book(folder: Path) -> Book:
    """The book in a folder. Raises BookProblem, or BookFaults with every fault of every exercise."""
    return book_of(folder, read_config(folder))


def book_of(folder: Path, config: Config) -> Book:
    """The book that a configuration is of, its links checked. Raises as `read_book` does."""
    options = config.options()
    check_links(folder, [pages_folder(folder, config), *sources(folder, options)], options)
    return read_book(folder, config.text("site_name") or "A book of exercises", options, config)


def read_book(folder: Path, name: str, options: Mapping[str, Any], config: Config | None = None) -> Book:
    """The book in a folder by its plugin options: `exercises`, `instruments`, `tops`, `paper`, and so on.

    `config` knows where the options stand. The caller has checked the links among its `sources`. Raises
    BookProblem, or BookFaults with every fault of the options and of every exercise.
    """
    config = config or Config()
    known, faults = known_instruments(folder)
    given, problems = read_options(options, known)
    wrong = option_faults(config, problems)
    paths = _exercises(folder, given.exercises, wrong)
    readings = [_read(path, Path(os.path.relpath(path, folder)).as_posix(), given.naming) for path in paths]
    faults += [fault for reading in readings for fault in reading.faults]
    faults += _names_twice(readings)
    for number, reading in enumerate(readings):
        readings[number], unknown = with_variations(reading, given.variations)
        faults += unknown
        faults += chart_faults(reading, given.instruments)
    home = pages_folder(folder, config)
    slugs = {path.name.removesuffix(SUFFIX) for path in paths}
    own_pages, wrong_pages = _own_pages(folder, home, given, config, slugs)
    if faults := faults + wrong + wrong_pages:
        raise BookFaults(faults)
    read_well = [reading.exercise for reading in readings if reading.exercise is not None]
    exercises = {each.slug: replace(each, courtesy=given.courtesy) for each in read_well}
    in_order = sorted(exercises, key=lambda slug: (title_order(exercises[slug].title), slug))
    contents = arrange(given.contents, in_order, own_pages)
    return Book(
        name=name,
        exercises=tuple(exercises[slug] for slug in exercises_in(contents) or in_order),
        instruments=given.instruments,
        paper=given.paper,
        papers=given.papers,
        breath_seconds=given.breath_seconds,
        a4=given.a4,
        contents=contents,
        pages=home,
        language=language_of(config),
        notes=given.naming.name,
    )


def pages_folder(folder: Path, config: Config) -> Path:
    """The folder of the author's own pages; it need not be there."""
    return folder / (config.text("docs_dir") or "docs")


def _own_pages(
    folder: Path, home: Path, given: Options, config: Config, slugs: Collection[str]
) -> tuple[dict[str, OwnPage], list[Fault]]:
    """The pages that the book's order names, and the faults of what it names in vain."""
    if not given.contents:
        return {}, []
    names = pages_in(home)
    problems = absent(given.contents, slugs, names)
    found: dict[str, OwnPage] = {}
    faults = option_faults(config, problems)
    for name in set(page_names(given.contents)).intersection(names):
        shown_as = Path(os.path.relpath(home / name, folder)).as_posix()
        page = read_own_page(home, name, shown_as)
        if isinstance(page, OwnPage):
            found[name] = page
        else:
            faults.append(page)
    return found, faults


def sources(folder: Path, options: Mapping[str, Any]) -> tuple[Path, Path]:
    """The folder of a book's exercises, and the file of the studio's own instruments."""
    return folder / exercises_folder(options), folder / OWN_INSTRUMENTS


def _exercises(folder: Path, name: str, wrong: list[Fault]) -> list[Path]:
    """Every exercise's file.

    Raises BookProblem where there is none, or BookFaults with what is wrong already, for a wrong option may
    be the reason.
    """
    home = folder / name
    problem = ""
    paths: list[Path] = []
    try:
        if stat.S_ISDIR(home.stat().st_mode):
            paths = sorted(home.rglob(f"*{SUFFIX}"))
            mend = "`stavewright new NAME` writes one to start from"
            problem = "" if paths else f"{visible(home)}: no exercises here; {mend}"
        else:
            problem = f"{visible(home)}: this is not a folder; put the exercises into one, as NAME{SUFFIX}"
    except (FileNotFoundError, NotADirectoryError):
        problem = f"{visible(home)}: there is no such folder; put the exercises there, as NAME{SUFFIX}"
    except OSError as error:
        problem = f"exercises: {shown(name)} cannot be read: {error.strerror}; name a folder in the book"
    if problem and wrong:
        raise BookFaults(wrong)
    if problem:
        raise BookProblem(problem)
    return paths


def known_instruments(folder: Path) -> tuple[dict[str, Instrument], list[Fault]]:
    """Every instrument a book can name, the studio's own among them, and the faults of the studio's file."""
    try:
        data = read_plain_file(folder / OWN_INSTRUMENTS, MAX_BYTES + 1)
    except FileNotFoundError:
        return INSTRUMENTS, []
    except OSError as error:
        return INSTRUMENTS, [_unreadable(OWN_INSTRUMENTS, error)]
    own, faults = read_own(data, INSTRUMENTS)
    return {**INSTRUMENTS, **own}, faults


_read_once = lru_cache(maxsize=4096)(read)


def _read(path: Path, name: str, naming: Naming) -> Reading:
    try:
        # One byte more than an exercise may have is enough to know that it is too large. While a book is
        # served it is read at every change; a text that is as it was is not read anew.
        return _read_once(name, read_plain_file(path, MAX_BYTES + 1), path.stat().st_size, naming)
    except OSError as error:
        return Reading(Source(name, ()), None, (_unreadable(name, error),), {})


def _unreadable(name: str, error: OSError) -> Fault:
    what = f"this cannot be read: {error.strerror}"
    return Source(name, ()).fault(1, 1, what, "put a file of text here that you may read, or take it away")


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


def with_variations(reading: Reading, named: Mapping[str, tuple[str, ...]]) -> tuple[Reading, list[Fault]]:
    """The reading with every variation in its plain names, and the faults of those that are none."""
    exercise = reading.exercise
    if exercise is None:
        return reading, []
    known = dict(named)
    wanted: list[VariationRequest] = []
    faults: list[Fault] = []
    for wish in (*exercise.wanted, *exercise.passes):
        names = meaning(wish.names, known)
        called = wish.called or (wish.label if len(wish.names) == 1 and names != wish.names else "")
        if wish.called:
            known[wish.called] = names
        wanted.append(replace(wish, names=names, called=called))
        problems = [problem for name in names if (problem := variation_problem(name))]
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
    for setting in settings_of(replace(exercise, travel=KeySequence()), INSTRUMENTS["flute"]):
        try:
            played_twice(setting.score(), first, second)
        except Unsuitable as reason:
            return f"one of the two times cannot be played: {reason}", "choose another way of playing"
    return None
