"""What mkdocs.yml must be for a site: all that MkDocs or the book's plugin would refuse, told beforehand.

MkDocs's own rules are asked, but nothing that mkdocs.yml names is run: of hooks, other plugins and extensions
of Markdown it is only asked whether they are there.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator, Mapping
from importlib.metadata import entry_points
from importlib.util import find_spec
from pathlib import Path
from typing import Any, TypeVar, cast

from mkdocs.config import base, config_options
from mkdocs.config.base import ValidationError
from mkdocs.config.defaults import MkDocsConfig, get_schema
from mkdocs.plugins import get_plugins

from ..book.config import PLUGIN, Config, Foreign, Steps
from ..book.links import check_links
from ..book.options import DEFAULTS, option_faults, read_options
from ..book.read import Book, BookProblem, book_of, known_instruments, read_config, sources
from ..language.faults import BookFaults, Fault, did_you_mean, nearest, shown

THEME = "stavewright"

PLAIN_THEMES = ("mkdocs", "readthedocs")
"""MkDocs's own themes, which show the bodies of the book's pages."""

WRONG_THEME = (
    f"theme: the pages of a book are made with the theme {THEME}",
    f"write `theme: {{name: {THEME}}}`",
)
"""What is wrong with another theme, and how to mend it."""

_MENDS = {
    "dev_addr": "write it as in `dev_addr: 127.0.0.1:8000`",
    "docs_dir": "make it, or name the folder of your own pages, as in `docs_dir: exercises`",
    "hooks": "name files that are there, or take it out",
    "nav": "write a list of pages, or take it out",
    "site_dir": "name a folder for the site alone, as in `site_dir: site`",
    "strict": "write true or false",
    "use_directory_urls": "write true or false",
}
_MEND = "write it as MkDocs's guide of its settings has it, or take it out"

_ELSEWHERE = {"site_name", "site_description", "site_url", "plugins", "theme", "markdown_extensions", "hooks"}
"""Settings that are looked at here or by every command, and not by MkDocs's own rule."""


_T = TypeVar("_T")


class _Given(base.BaseConfigOption[_T]):
    """An option as it is written; `stavewright.book.options` says what it may be, for every command."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self.default = DEFAULTS[name]

    def run_validation(self, value: object) -> _T:
        """The value, or where none is given the default."""
        return cast(_T, self.default if value is None else value)


class PluginConfig(base.Config):
    """The plugin's options in mkdocs.yml."""

    exercises = _Given[str]("exercises")
    instruments = _Given[list[str]]("instruments")
    tops = _Given[dict[str, str]]("tops")
    level = _Given[str | dict[str, str] | None]("level")
    concert = _Given[bool]("concert")
    a4 = _Given[float]("a4")
    breath_seconds = _Given[float]("breath_seconds")
    variations = _Given[dict[str, str]]("variations")
    paper = _Given[str]("paper")
    papers = _Given[list[str]]("papers")
    courtesy = _Given[str]("courtesy")
    notes = _Given[str]("notes")
    jobs = _Given[int | None]("jobs")
    links = _Given[list[str]]("links")
    contents = _Given[list[Any]]("contents")
    search_engines = _Given[bool]("search_engines")


def said_for_site(file: str, theme: str | None, options: Mapping[str, Any] | None) -> Config:
    """What a mkdocs.yml says, where it is that of a site; nothing where MkDocs was given no file.

    `theme` is the theme's name and `options` are the book's options, both as MkDocs has them, who may have
    changed what the file says. Raises BookProblem, or BookFaults.
    """
    if not file:
        return Config()
    path = Path(file)
    config = read_config(path.parent, path.name)
    check_links(path.parent, sources(path.parent, config.options()), config.options())
    known, _ = known_instruments(path.parent)
    _, problems = read_options(config.options(), known)
    if options is not None and not problems:
        _, problems = read_options(options, known)
    faults = [*site_faults(path.parent, config), *option_faults(config, problems)]
    if theme not in (THEME, *PLAIN_THEMES) and not faults:
        faults = [config.fault(("theme",), *WRONG_THEME)]
    if faults:
        raise BookFaults(faults)
    return config


def open_publishable(folder: Path) -> tuple[Config, Book]:
    """A book's configuration and the book, where it can be published.

    Raises BookProblem, or BookFaults with every fault of the settings, the options and the exercises.
    """
    config = read_config(folder)
    faults = site_faults(folder, config)
    try:
        book = book_of(folder, config)
    except BookFaults as found:
        raise BookFaults([*faults, *found.faults]) from None
    except BookProblem as problem:
        raise BookProblem("\n".join([str(problem), *map(str, faults)])) from None
    if faults:
        raise BookFaults(faults)
    return config, book


def site_faults(folder: Path, config: Config) -> list[Fault]:
    """What keeps a configuration from being that of a site."""
    return [
        *_name_missing(config),
        *_theme_faults(config),
        *_settings_faults(folder, config),
        *_misspelled(config),
        *_plugin_faults(folder, config),
        *_extension_faults(config),
    ]


def theme_named(given: Any) -> str:
    """The theme's name in the setting `theme`."""
    name = given.get("name") if isinstance(given, Mapping) else given
    return name if isinstance(name, str) else ""


def _name_missing(config: Config) -> Iterator[Fault]:
    if config.values.get("site_name") in (None, ""):
        mend = "add a line such as `site_name: The book of our studio`"
        yield config.fault(("site_name",), "site_name: the book has no name", mend)


def _theme_faults(config: Config) -> Iterator[Fault]:
    given = config.values.get("theme")
    if theme_named(given) not in (THEME, *PLAIN_THEMES):
        yield config.fault(("theme",), *WRONG_THEME)


def _settings_faults(folder: Path, config: Config) -> Iterator[Fault]:
    """What MkDocs's own rules say of its settings."""
    values = {
        name: copy.deepcopy(value)
        for name, value in config.values.items()
        if name not in _ELSEWHERE - {"site_name", "site_url", "theme"} and not _is_foreign(value)
    }
    if theme_named(values.get("theme")) != THEME:
        values["theme"] = THEME
    try:
        tried = MkDocsConfig(config_file_path=str(folder.absolute() / config.file))
        tried.load_dict(values)
    except ValidationError as error:
        yield config.fault(("config_file_path",), _said(error), "take it out", at_name=True)
        return
    rules = [(name, rule) for name, rule in get_schema() if name not in _ELSEWHERE - {"theme"}]
    found: dict[str, str] = {}

    def ask(name: str, question: Callable[[], Any]) -> None:
        try:
            question()
        except ValidationError as error:
            found.setdefault(name, _said(error))
        except (TypeError, ValueError, AttributeError, LookupError, OSError):
            found.setdefault(name, "this cannot be read")

    def validate(name: str, rule: Any) -> None:
        tried[name] = rule.validate(tried.get(name))

    for name, rule in rules:
        ask(name, lambda rule=rule, name=name: rule.pre_validation(tried, key_name=name))  # type: ignore[misc]
    for name, rule in rules:
        ask(name, lambda rule=rule, name=name: validate(name, rule))  # type: ignore[misc]
    for name, rule in rules if not found else ():
        ask(name, lambda rule=rule, name=name: rule.post_validation(tried, key_name=name))  # type: ignore[misc]
    for _, rule in rules:
        rule.reset_warnings()
    for name, said in found.items():
        yield config.fault((name,), f"{name}: {said}", _MENDS.get(name, _MEND))


def _is_foreign(value: Any) -> bool:
    """Whether a setting holds a tag that only MkDocs's own commands obey, and so can only be read there."""
    if isinstance(value, Mapping):
        return any(map(_is_foreign, value.values()))
    return any(map(_is_foreign, value)) if isinstance(value, list) else isinstance(value, Foreign)


def _said(error: Exception) -> str:
    """MkDocs's own words, on one line and as the middle of a sentence."""
    said = " ".join(str(error).split())[:300].rstrip(".")
    return said[:1].lower() + said[1:]


def _misspelled(config: Config) -> Iterator[Fault]:
    """Names that MkDocs has no setting for: it passes them over, so only what looks misspelled is a fault."""
    known = dict(get_schema())
    for name in config.values:
        if name in known:
            continue
        guess = nearest(str(name), known)
        if guess or config.values.get("strict") is True:
            mend = f"did you mean {shown(guess)}?" if guess else "take it out, or put it under `extra:`"
            what = f"MkDocs has no setting {shown(str(name))}"
            yield config.fault((str(name),), what, mend, at_name=True)


def _plugin_faults(folder: Path, config: Config) -> Iterator[Fault]:
    """Plugins and hooks that are not there."""
    installed = get_plugins()
    for steps, name, options in config.plugins():
        if not isinstance(name, str) or name.removeprefix("/") == PLUGIN:
            continue
        if name.removeprefix("/") not in installed:
            mend = did_you_mean(name, installed, "install it, or take it out")
            yield config.fault(steps, f"plugins: {shown(name)} is not installed", mend, at_name=True)
        elif options is not None and not isinstance(options, (Mapping, Foreign)):
            what = f"plugins: {name}: these are no options"
            yield config.fault(steps, what, "write them one a line below it, set in")
        elif name.removeprefix("/") == "rss" and not (
            isinstance(options, Mapping) and "match_path" in options
        ):
            what = "plugins: rss: it dates pages by their files, and the pages of exercises have none"
            mend = "add the folder of your own news to its options, as in `match_path: news/.*`"
            yield config.fault(steps, what, mend, at_name=True)
    hooks = config.values.get("hooks")
    if hooks is not None and not _is_foreign(hooks):
        tried = MkDocsConfig(config_file_path=str(folder.absolute() / config.file))
        rule = config_options.ListOfItems(config_options.File(exists=True))
        try:
            rule.pre_validation(tried, "hooks")
            rule.validate(hooks)
        except ValidationError as error:
            yield config.fault(("hooks",), f"hooks: {_said(error)}", _MENDS["hooks"])


def _extension_faults(config: Config) -> Iterator[Fault]:
    """Extensions of Markdown that are not there."""
    given = config.values.get("markdown_extensions")
    rows: list[tuple[Steps, Any]] = []
    if isinstance(given, Mapping):
        rows = [(("markdown_extensions", str(name)), name) for name in given]
    elif isinstance(given, list):
        for number, entry in enumerate(given):
            single = isinstance(entry, Mapping) and len(entry) == 1
            rows.append((("markdown_extensions", number), next(iter(entry)) if single else entry))
    elif given is not None:
        rows = [(("markdown_extensions",), None)]
    known = {entry.name for entry in entry_points(group="markdown.extensions")} if rows else set()
    for steps, name in rows:
        if not isinstance(name, str):
            what, mend = "markdown_extensions: this names no extension", "write one name an entry"
            yield config.fault(steps, what, mend)
        elif name not in known and not _is_module(name):
            mend = did_you_mean(name, known, "install it, or take it out")
            yield config.fault(steps, f"markdown_extensions: {shown(name)} is not installed", mend)


def _is_module(name: str) -> bool:
    """Whether an extension may be a module, its class behind a colon; what it holds is not looked at."""
    top = name.partition(":")[0].partition(".")[0]
    try:
        return top.isidentifier() and find_spec(top) is not None
    except (ImportError, ValueError):
        return False
