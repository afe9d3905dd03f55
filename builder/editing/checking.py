"""The faults of an exercise as it is typed, with the settings of the book that it lies in."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from ..book.config import CONFIG
from ..book.options import read_options
from ..book.read import BookProblem, known_instruments, read_config, with_variations
from ..language.faults import BookFaults, Fault
from ..language.read import read

Named = Mapping[str, tuple[str, ...]]
"""A book's own ways of playing, each with what it means."""

_END = re.compile(r"[\s(),|]|$")


def faults_in(file: str, text: str, named: Named) -> tuple[Fault, ...]:
    """Every fault of an exercise's text; `file` is its name, of which the last part gives the address."""
    reading = read(file, text.encode("utf-8", "surrogatepass"))
    _, unknown = with_variations(reading, named)
    return (*reading.faults, *unknown)


def end_of(fault: Fault) -> int:
    """The column, from 1, at which the word ends that a fault points at; it is one character at least."""
    found = _END.search(fault.text, fault.column)
    return max(found.start() if found else 0, fault.column) + 1


def find_book(path: Path) -> Path | None:
    """The folder of the book that a file lies in: the nearest above it that has a mkdocs.yml."""
    return next((folder for folder in path.parents if (folder / CONFIG).is_file()), None)


def named_in(folder: Path) -> Named:
    """The ways of playing that a book names; none where its settings cannot be read, which `check` tells."""
    try:
        known, _ = known_instruments(folder)
        return read_options(read_config(folder).options(), known)[0].variations
    except (BookProblem, BookFaults, OSError):
        return {}
