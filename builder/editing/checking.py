"""The faults of an exercise as it is typed, with the settings of the book that it lies in."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from ..book.config import CONFIG
from ..book.options import read_options
from ..book.read import BookProblem, known_instruments, read_config, with_variations
from ..language.faults import BookFaults, Fault
from ..language.namings import ENGLISH, Naming
from ..language.read import read


@dataclass(frozen=True, slots=True)
class BookWords:
    """What a book adds to the language: its own ways of playing, each with its meaning, and its naming."""

    named: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    naming: Naming = ENGLISH


_END = re.compile(r"[\s(),|]|$")


def faults_in(file: str, text: str, words: BookWords) -> tuple[Fault, ...]:
    """Every fault of an exercise's text; `file` is its name, of which the last part gives the address."""
    reading = read(file, text.encode("utf-8", "surrogatepass"), naming=words.naming)
    _, unknown = with_variations(reading, words.named)
    return (*reading.faults, *unknown)


def end_of(fault: Fault) -> int:
    """The column, from 1, at which the word ends that a fault points at; it is one character at least."""
    found = _END.search(fault.text, fault.column)
    return max(found.start() if found else 0, fault.column) + 1


def find_book(path: Path) -> Path | None:
    """The folder of the book that a file lies in: the nearest above it that has a mkdocs.yml."""
    return next((folder for folder in path.parents if (folder / CONFIG).is_file()), None)


def words_of(folder: Path) -> BookWords:
    """What a book adds to the language; nothing where its settings cannot be read, which `check` tells."""
    try:
        known, _ = known_instruments(folder)
        options, _ = read_options(read_config(folder).options(), known)
    except (BookProblem, BookFaults, OSError):
        return BookWords()
    return BookWords(options.variations, options.naming)
