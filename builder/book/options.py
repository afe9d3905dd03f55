"""The book's options in mkdocs.yml: the one list of them, and what each may be.

Every command reads them here, also where MkDocs starts the book's plugin.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

from ..language.faults import Fault, did_you_mean, nearest
from ..language.namings import ENGLISH, NAMINGS, Naming
from ..music.accidentals import COURTESIES, PLAIN
from ..music.pitch import A4_HERTZ
from ..music.sounding.timing import BREATH_SECONDS
from ..music.winds.instrument import Instrument
from ..variations import find, meaning, variations
from ..variations.conflicts import contradiction
from ..variations.equal_names import NAME_HINTS
from ..visible import shown
from .config import PLUGIN, Config, Foreign, Steps
from .contents import OPTION as CONTENTS
from .contents import Entries, read_contents
from .links import OPTION as LINKS
from .players import PlayersProblem, players, tuning_pitch

PAPERS = ("a4", "letter")

MOST_JOBS = 1000

DEFAULTS: Mapping[str, Any] = {
    "exercises": "exercises",
    "instruments": ["flute"],
    "tops": {},
    "level": None,
    "concert": False,
    "a4": A4_HERTZ,
    "breath_seconds": BREATH_SECONDS,
    "variations": {},
    "paper": PAPERS[0],
    "papers": list(PAPERS),
    "courtesy": PLAIN,
    "notes": ENGLISH.name,
    "jobs": None,
    LINKS: [],
    CONTENTS: [],
    "search_engines": True,
}
"""Every option with what it is where it is not given."""


@dataclass(frozen=True, slots=True)
class Options:
    """The book's options, each of them right."""

    exercises: str = DEFAULTS["exercises"]
    instruments: tuple[Instrument, ...] = ()
    a4: float = A4_HERTZ
    breath_seconds: float = BREATH_SECONDS
    variations: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    paper: str = PAPERS[0]
    papers: tuple[str, ...] = PAPERS
    courtesy: str = PLAIN
    jobs: int | None = None
    contents: Entries = ()
    search_engines: bool = True
    naming: Naming = ENGLISH


def read_options(
    given: Mapping[str, Any], known: Mapping[str, Instrument]
) -> tuple[Options, tuple[PlayersProblem, ...]]:
    """The options, and every problem in them; what has a problem is as if it were not given.

    `known` are the instruments that a book may name.
    """
    problems: list[PlayersProblem] = []
    right: dict[str, Any] = {}
    for name, value in given.items():
        if name not in DEFAULTS and (name, value) != ("enabled", True):
            problems.append(_unknown(name))
        elif foreign := _foreign_in(value, (name,)):
            problems.append(foreign)
        elif value is not None:
            right[name] = value
    paper = _paper(right, problems)
    naming = _naming(right, problems)
    instruments, wrong = players(right, known, naming)
    a4, wrong_pitch = tuning_pitch(right.get("a4"))
    named, wrong_names = _named_variations(right.get("variations"))
    contents, wrong_contents = read_contents(right.get(CONTENTS))
    options = Options(
        _folder(right, problems),
        instruments,
        a4,
        _breath_seconds(right, problems),
        named,
        paper,
        _papers(right, paper, problems),
        _courtesy(right, problems),
        _jobs(right, problems),
        contents,
        _search_engines(right, problems),
        naming,
    )
    _look_at_links(right, problems)
    return options, (*problems, *wrong, *wrong_pitch, *wrong_names, *wrong_contents)


def exercises_folder(given: Mapping[str, Any]) -> str:
    """The folder that the options name, or where they name none, the usual one."""
    return _folder(given, [])


def plugin_faults(config: Config) -> list[Fault]:
    """What is wrong with how mkdocs.yml names the book's plugin."""
    listed = config.values.get("plugins")
    written = f"write it as in `plugins: [{PLUGIN}]`"
    if listed is not None and not isinstance(listed, (list, Mapping)):
        return [config.fault(("plugins",), f"plugins: {_shown(listed)} is not a list", written)]
    faults: list[Fault] = []
    found: list[str] = []
    for steps, name, options in config.plugins():
        if not isinstance(name, str):
            what = "plugins: this entry names no plugin"
            mend = "write one name an entry, its options set in below it"
            faults.append(config.fault(steps, what, mend))
        elif name.removeprefix("/") == PLUGIN:
            if found:
                what = f"plugins: {PLUGIN} is named twice"
                faults.append(config.fault(steps, what, "keep one", at_name=True))
            found.append(name)
            if options is not None and not isinstance(options, Mapping):
                what = f"{PLUGIN}: {_shown(options)} is not a list of options"
                mend = "write them one a line below it, set in, such as `instruments: [flute]`"
                faults.append(config.fault(steps, what, mend))
    if not found and not faults:
        what = f"the plugin {PLUGIN} is not listed, so this is not a book"
        faults.append(config.fault(("plugins",), what, f"add it, as in `plugins: [{PLUGIN}]`"))
    return faults


def text_faults(config: Config) -> list[Fault]:
    """What is wrong with the settings of MkDocs that the pages of a book repeat."""
    faults = []
    for name in ("site_name", "site_description", "site_url"):
        given = config.values.get(name)
        if given is not None and not isinstance(given, str):
            mend = "write it in quotation marks"
            faults.append(config.fault((name,), f"{name}: {_shown(given)} is not text", mend))
        elif given and any(is_unprintable(sign) for sign in given):
            mend = "retype it without it"
            faults.append(config.fault((name,), f"{name}: it contains an invisible character", mend))
        elif given and name == "site_url" and not _is_address(given):
            mend = "write it as in `site_url: https://example.org/book/`"
            faults.append(config.fault((name,), f"site_url: {shown(given)} is not an address", mend))
    return faults


def is_unprintable(sign: str) -> bool:
    """Whether a character is a control other than a tab or an end of line, or half of a pair."""
    return sign not in "\n\t" and unicodedata.category(sign) in ("Cc", "Cs")


def _is_address(text: str) -> bool:
    try:
        parts = urlsplit(text)
    except ValueError:
        return False
    return bool(parts.scheme and parts.netloc) and not any(sign.isspace() for sign in text)


def _shown(value: Any) -> str:
    """A value of any kind, cut for a message; what is large is not written out."""
    return shown(str(value)) if isinstance(value, (str, int, float, bool)) or value is None else "this"


def _unknown(name: Any) -> PlayersProblem:
    mend = did_you_mean(str(name), DEFAULTS, f"the options are {', '.join(DEFAULTS)}")
    return PlayersProblem((str(name),), f"unknown option {shown(str(name))}", mend, at_name=True)


def _foreign_in(value: Any, steps: Steps) -> PlayersProblem | None:
    if isinstance(value, Foreign):
        what = f"{steps[0]}: the tag `{value.tag[:40]}` is not obeyed here"
        return PlayersProblem(steps, what, "write the value plainly")
    rows: Iterator[tuple[Any, Any]] = iter(())
    if isinstance(value, Mapping):
        rows = iter(value.items())
    elif isinstance(value, list):
        rows = enumerate(value)
    found = (_foreign_in(each, (*steps, name if isinstance(name, int) else str(name))) for name, each in rows)
    return next(filter(None, found), None)


def _folder(given: Mapping[str, Any], problems: list[PlayersProblem]) -> str:
    name = given.get("exercises", DEFAULTS["exercises"])
    if isinstance(name, str) and name.strip() and not any(map(is_unprintable, name)):
        return name
    mend = "name a folder in the book, such as `exercises`"
    problems.append(PlayersProblem(("exercises",), f"exercises: {_shown(name)} is not a folder's name", mend))
    return str(DEFAULTS["exercises"])


def _paper(given: Mapping[str, Any], problems: list[PlayersProblem]) -> str:
    paper = given.get("paper", PAPERS[0])
    if isinstance(paper, str) and paper.lower() in PAPERS:
        return paper.lower()
    guess = nearest(paper.lower(), PAPERS) if isinstance(paper, str) else ""
    mend = f"did you mean {shown(guess)}?" if guess else f"write {' or '.join(PAPERS)}"
    problems.append(PlayersProblem(("paper",), f"paper: unknown paper {_shown(paper)}", mend))
    return PAPERS[0]


def _papers(given: Mapping[str, Any], own: str, problems: list[PlayersProblem]) -> tuple[str, ...]:
    """The papers that the site's PDFs are made for, the book's own first."""
    papers = given.get("papers", list(PAPERS))
    papers = [papers] if isinstance(papers, str) else papers
    written = f"write a list of {' and '.join(PAPERS)}, as in `papers: [{own}]`"
    if not isinstance(papers, list) or not papers:
        what = f"papers: {_shown(papers)} is not a list of papers"
        problems.append(PlayersProblem(("papers",), what, written))
        return PAPERS
    small = [each.lower() if isinstance(each, str) else each for each in papers]
    for number, each in enumerate(small):
        if each not in PAPERS:
            what = f"papers: unknown paper {_shown(papers[number])}"
            steps: Steps = ("papers", number) if isinstance(given["papers"], list) else ("papers",)
            problems.append(PlayersProblem(steps, what, written))
            return PAPERS
    if own not in small:
        what = f"papers: the book's own paper, {own}, is missing"
        problems.append(PlayersProblem(("papers",), what, f"add it, as in `papers: [{own}]`"))
    return own, *(each for each in PAPERS if each != own and each in small)


def _courtesy(given: Mapping[str, Any], problems: list[PlayersProblem]) -> str:
    courtesy = given.get("courtesy", PLAIN)
    if courtesy in COURTESIES:
        return str(courtesy)
    what = f"courtesy: {_shown(courtesy)} is not a way to print courtesy accidentals"
    problems.append(PlayersProblem(("courtesy",), what, f"write one of {', '.join(COURTESIES)}"))
    return PLAIN


def _naming(given: Mapping[str, Any], problems: list[PlayersProblem]) -> Naming:
    """How the exercises name their notes."""
    name = given.get("notes", ENGLISH.name)
    if isinstance(name, str) and name in NAMINGS:
        return NAMINGS[name]
    mend = f"write one of {', '.join(NAMINGS)}"
    mend = did_you_mean(name, NAMINGS, mend, any_case=True) if isinstance(name, str) else mend
    problems.append(PlayersProblem(("notes",), f"notes: {_shown(name)} is no naming of notes", mend))
    return ENGLISH


def naming_in(config: Config) -> Naming:
    """How the exercises of a book name their notes; English where its option is wrong."""
    return _naming({name: value for name, value in config.options().items() if value is not None}, [])


def _look_at_links(given: Mapping[str, Any], problems: list[PlayersProblem]) -> None:
    links = given.get(LINKS, [])
    if not isinstance(links, list) or not all(isinstance(each, str) for each in links):
        what = f"{LINKS}: this is not a list of names"
        problems.append(PlayersProblem((LINKS,), what, f"write it as in `{LINKS}: [exercises/shared]`"))


def _search_engines(given: Mapping[str, Any], problems: list[PlayersProblem]) -> bool:
    wanted = given.get("search_engines", True)
    if isinstance(wanted, bool):
        return wanted
    what = f"search_engines: {_shown(wanted)} is neither true nor false"
    problems.append(PlayersProblem(("search_engines",), what, "write true or false"))
    return True


def _jobs(given: Mapping[str, Any], problems: list[PlayersProblem]) -> int | None:
    jobs = given.get("jobs")
    if jobs is None or (isinstance(jobs, int) and not isinstance(jobs, bool) and 1 <= jobs <= MOST_JOBS):
        return jobs
    what = f"jobs: {_shown(jobs)} is not a number of engravers"
    problems.append(PlayersProblem(("jobs",), what, f"give a whole number from 1 to {MOST_JOBS}"))
    return None


def _breath_seconds(options: Mapping[str, Any], problems: list[PlayersProblem]) -> float:
    given = options.get("breath_seconds", BREATH_SECONDS)
    if isinstance(given, bool) or not isinstance(given, (int, float)) or not 1 <= given <= 120:
        what = f"breath_seconds: {_shown(given)} is not a length of a breath"
        mend = f"give seconds from 1 to 120, such as {BREATH_SECONDS:g}"
        problems.append(PlayersProblem(("breath_seconds",), what, mend))
        return BREATH_SECONDS
    return float(given)


def _named_variations(given: Any) -> tuple[dict[str, tuple[str, ...]], list[PlayersProblem]]:
    """The variations that mkdocs.yml gives names to, and the problems of those that are none."""
    named: dict[str, tuple[str, ...]] = {}
    mend = "give each a name, as in `evening: slurred + swell up`"
    if given is None:
        return named, []
    if not isinstance(given, Mapping):
        return named, [PlayersProblem(("variations",), f"variations: {_shown(given)} has no names", mend)]
    problems = []
    for name, wishes in given.items():
        steps = ("variations", str(name))
        if not isinstance(wishes, str):
            problems.append(PlayersProblem(steps, f"variations: {shown(str(name))} names no variation", mend))
            continue
        found = meaning([wish.strip() for wish in wishes.split("+")], named)
        wrong = [problem for wish in found if (problem := variation_problem(wish))]
        if not wrong and (contradicts := contradiction(found)):
            wrong = [contradicts]
        problems += [PlayersProblem(steps, f"variations: {name}: {what}", how) for what, how in wrong]
        if not wrong:
            named[str(name)] = found
    return named, problems


def variation_problem(wish: str) -> tuple[str, str] | None:
    """What is wrong with a variation's name and words, and how to mend it."""
    try:
        find(wish)
    except KeyError:
        known = variations()
        mend = NAME_HINTS.get(wish) or did_you_mean(wish, known, f"there are: {', '.join(known)}")
        return f"unknown variation {shown(wish, 60)}", mend
    except ValueError as error:
        return f"{shown(wish, 60)} cannot be read", str(error)
    return None


def option_faults(config: Config, problems: Sequence[PlayersProblem]) -> list[Fault]:
    """Problems of the options as faults at their places."""
    steps, _ = config.book_plugin()
    return [
        config.fault((*steps, *problem.steps), problem.what, problem.mend, at_name=problem.at_name)
        for problem in problems
    ]
