"""The files of a new book, from what a teacher chooses for it. It writes nothing to disk."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from importlib.resources import files
from string import Template

import yaml

from .. import templates
from ..music.winds.instrument import Instrument
from ..music.winds.instruments import INSTRUMENTS
from .config import CONFIG
from .options import is_unprintable

DEFAULT_TITLE = "A book of exercises"

MOST_LETTERS = 200
"""The longest title of a new book."""

EXERCISE = "exercises/open-window.warmup"
WORKFLOW = ".github/workflows/publish.yml"

TEMPLATES = {
    ".gitignore": "gitignore",
    WORKFLOW: "publish.yml",
    EXERCISE: "open-window.warmup",
    "pages/preface.md": "preface.md",
    CONFIG: "mkdocs.yml",
}
"""The files of a new book by their paths from its folder, each with its template.

mkdocs.yml comes last: while it is missing, the folder is no book.
"""

_PROGRAM = "\n  STAVEWRIGHT: stavewright\n"
"""The line of the workflow that names what pip installs."""

_COLUMNS = 110


@dataclass(frozen=True, slots=True)
class NewBook:
    """What a teacher chooses for a new book.

    `instruments` has one at least. `program` is what pip installs to publish the book: `stavewright==1.0`.
    """

    title: str
    instruments: tuple[Instrument, ...]
    paper: str
    program: str


def tidy_title(text: str) -> str:
    """A title on one line, without spaces around it. Raises ValueError, which says how to mend it."""
    title = " ".join(text.split())
    if not title:
        raise ValueError("the title is empty; write one such as The book of our studio")
    if len(title) > MOST_LETTERS:
        raise ValueError(f"the title is longer than {MOST_LETTERS} letters; shorten it")
    if any(map(is_unprintable, title)):
        raise ValueError("the title contains an invisible character; retype it without it")
    return title


def new_book_files(book: NewBook) -> dict[str, str]:
    """The text of each file, by its path from the book's folder, in the order of `TEMPLATES`."""
    made = {path: _template(name) for path, name in TEMPLATES.items()}
    made[WORKFLOW] = made[WORKFLOW].replace(_PROGRAM, f"\n  STAVEWRIGHT: {_in_yaml(book.program)}\n")
    made[CONFIG] = Template(made[CONFIG]).substitute(
        title=_in_yaml(book.title),
        known=_remark(f"{', '.join(INSTRUMENTS)}."),
        instruments=", ".join(each.slug for each in book.instruments),
        paper=book.paper,
        first=book.instruments[0].slug,
        top=book.instruments[0].compass.easy_high,
    )
    return made


def _remark(text: str) -> str:
    """A text as remarks among the plugin's options."""
    sign = "      # "
    return textwrap.fill(text, _COLUMNS, initial_indent=sign, subsequent_indent=sign, break_on_hyphens=False)


def _template(name: str) -> str:
    return files(templates).joinpath(name).read_text(encoding="utf-8")


def _in_yaml(text: str) -> str:
    """A text as YAML reads it back, in double quotes on one line."""
    written = yaml.safe_dump(text, default_style='"', allow_unicode=True, width=float("inf"))
    return str(written).rstrip("\n")
