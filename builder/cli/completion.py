"""What a shell offers on the Tab key: commands and options, and the names that a book has.

The optional package argcomplete asks the shell and answers it; docs/scripts.md says how to switch it on.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from ..book.options import PAPERS, exercises_folder
from ..book.read import BookProblem, known_instruments, read_config
from ..language.faults import BookFaults
from ..language.read import SUFFIX
from ..music.keys import KEY_SLUGS
from ..music.winds.instrument import ABILITIES


def complete(parser: argparse.ArgumentParser) -> None:
    """Answer a shell that asks, and end the process; without argcomplete, do nothing."""
    try:
        import argcomplete
    except ImportError:
        return
    for action in _actions(parser):
        if names := _NAMES.get(action.dest):
            # Where argcomplete looks for it.
            action.completer = _completer(names)  # type: ignore[attr-defined]
    argcomplete.autocomplete(parser)


def _actions(parser: argparse.ArgumentParser) -> Iterator[argparse.Action]:
    """Every argument of a parser and of its commands."""
    for action in parser._actions:
        yield action
        if isinstance(action, argparse._SubParsersAction):
            for sub in action.choices.values():
                yield from _actions(sub)


def _completer(names: Callable[[Path], Iterable[str]]) -> Callable[..., list[str]]:
    """What argcomplete calls with what is typed so far: it completes the last name of a list with commas."""

    def offered(prefix: str, parsed_args: argparse.Namespace, **_: object) -> list[str]:
        before, comma, _typed = prefix.rpartition(",")
        try:
            return [f"{before}{comma}{name}" for name in names(getattr(parsed_args, "book", None) or Path())]
        except (BookProblem, BookFaults, OSError):
            return []

    return offered


def _exercises(book: Path) -> list[str]:
    home = book / exercises_folder(read_config(book).options())
    return sorted(path.name.removesuffix(SUFFIX) for path in home.rglob(f"*{SUFFIX}"))


def _instruments(book: Path) -> list[str]:
    return list(known_instruments(book)[0])


_NAMES: dict[str, Callable[[Path], Iterable[str]]] = {
    "exercise": _exercises,
    "instrument": _instruments,
    "instruments": _instruments,
    "key": lambda _: KEY_SLUGS,
    "level": lambda _: ABILITIES,
    "paper": lambda _: PAPERS,
}
"""By an option's name, the names that it takes, of the book in a folder."""
