"""What is wrong with a book, as MkDocs has it told: by exceptions that end its command."""

from __future__ import annotations

from typing import Any

from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import Abort, MkDocsException, PluginError

from ..book.config import Config
from ..book.read import BookProblem
from ..engrave.lilypond import EngraverMissing
from ..language.faults import BookFaults
from .settings import said_for_site
from .staging import NoPlace, WrongPlace


def config_for_site(config: MkDocsConfig, options: dict[str, Any] | None = None) -> Config:
    """What mkdocs.yml says. Raises PluginError where any command would refuse it.

    `options` are the book's as MkDocs has them, for a hook may have changed them.
    """
    try:
        return said_for_site(config.config_file_path, config.theme.name, options)
    except (BookFaults, BookProblem) as problem:
        raise PluginError(words_of(problem)) from None


class WrongUse(Abort):
    """Ends `mkdocs build` with the status of wrong use."""

    code = exit_code = 2


def refusal(problem: NoPlace) -> MkDocsException:
    """What ends a build whose site has no place."""
    return WrongUse(str(problem)) if isinstance(problem, WrongPlace) else PluginError(str(problem))


def words_of(problem: BookFaults | BookProblem | EngraverMissing) -> str:
    """What to tell of a book that cannot be built."""
    if isinstance(problem, BookFaults):
        return f"the book has faults; the earlier site is left as it was\n{problem.report()}"
    return str(problem)
