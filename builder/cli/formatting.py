"""`stavewright format`: the exercises in one style."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

from ..book.config import CONFIG
from ..book.options import naming_in, read_options
from ..book.plain_files import read_plain_file
from ..book.read import BookProblem, read_config
from ..language.faults import BookFaults, Fault
from ..language.fields import MAX_BYTES
from ..language.format import formatted
from ..language.namings import ENGLISH, Naming
from ..language.read import SUFFIX
from ..music.winds.instruments import INSTRUMENTS
from ..plurals import count_of
from ..visible import visible
from .output_file import EXERCISE, fresh_file, put_in_place
from .saying import say, short
from .selectors import WrongUse


def formatting(book: Path, files: Sequence[Path], only_check: bool) -> int:
    """Format the files, or all exercises of the book; 1 where one has faults, or would change under --check.

    2 where a file cannot be read.
    """
    try:
        changed, faults = _formatted(files or _exercises(book), book, only_check)
    except WrongUse as wrong:
        say(wrong, sys.stderr)
        return 2
    if faults:
        raise BookFaults(faults)
    return 1 if changed and only_check else 0


def _exercises(book: Path) -> list[Path]:
    options, _ = read_options(read_config(book).options(), INSTRUMENTS)
    found = sorted((book / options.exercises).rglob(f"*{SUFFIX}"))
    if not found:
        raise BookProblem(f"{visible(book / options.exercises)}: no exercises here; name files to format")
    return found


def _naming(book: Path) -> Naming:
    """How a book names notes; English where there is none, for a file may lie outside of any book."""
    return naming_in(read_config(book)) if (book / CONFIG).exists() else ENGLISH


def _formatted(paths: Sequence[Path], book: Path, only_check: bool) -> tuple[int, list[Fault]]:
    """How many files change, and the faults of those that are left as they are."""
    changed, faults = 0, list[Fault]()
    naming = _naming(book)
    for path in paths:
        try:
            data = read_plain_file(path, MAX_BYTES + 1)
        except OSError as error:
            raise WrongUse(f"{short(path)}: cannot be read: {error.strerror}; name an exercise") from None
        text = formatted(str(path), data, naming)
        if not isinstance(text, str):
            faults += text
        elif text.encode() != data:
            changed += 1
            say(f"{visible(path)}: {'would change' if only_check else 'formatted'}")
            if not only_check:
                with fresh_file(path, EXERCISE) as fresh:
                    fresh.write_bytes(text.encode())
                    put_in_place(fresh, path, EXERCISE)
    rest = len(paths) - changed
    did = "would change" if only_check else "formatted"
    say(f"{count_of(changed, 'exercise')} {did}, {rest} left as {'it is' if rest == 1 else 'they are'}.")
    return changed, faults
