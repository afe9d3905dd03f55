"""What is wrong in a book, where, and how to mend it."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, replace

from ..plurals import plural
from ..visible import columns, shown, visible

__all__ = ["MOST_FAULTS", "BookFaults", "Fault", "did_you_mean", "few", "nearest", "shown"]


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """One fault; `line` and `column` count from 1. `text` is the source line, for the caret."""

    file: str
    line: int
    column: int
    what: str
    mend: str
    text: str = ""

    def __str__(self) -> str:
        return f"{visible(self.file)}:{self.line}:{self.column}: {visible(self.what)}; {visible(self.mend)}"

    def excerpt(self) -> str:
        """The source line with a caret under the place, or an empty string where there is none."""
        if not self.text.strip():
            return ""
        start, place = max(0, self.column - 60), self.column - 1
        before, after = (
            visible(part.replace("\t", " "))
            for part in (self.text[start:place], self.text[place : start + 100])
        )
        return f"    {before}{after}\n    {' ' * columns(before)}^"


MOST_FAULTS = 100
"""The most faults that are reported of one file."""

LONGEST_GUESSED = 60
"""Letters: a longer word is compared with no known word."""


def few(faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """The faults of one file; if there are too many, the first ones and a line that counts the others."""
    every = tuple(faults)
    if len(every) <= MOST_FAULTS:
        return every
    told = sorted(set(every), key=lambda fault: (fault.line, fault.column, fault.what, fault.mend))
    rest = len(told) - MOST_FAULTS
    if rest <= 0:
        return tuple(told)
    what = f"and {rest:,} more {plural(rest, 'fault')} in this file"
    return (*told[:MOST_FAULTS], replace(told[MOST_FAULTS], what=what, mend="mend these first"))


class BookFaults(Exception):
    """Raised with every fault of every file at once."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(sorted(set(faults)))
        super().__init__(self.report())

    def report(self) -> str:
        """Every fault on a line, each with its excerpt below."""
        rows = (row for fault in self.faults for row in (str(fault), fault.excerpt()))
        return "\n".join(filter(None, rows))


def nearest(word: str, known: Iterable[str]) -> str:
    """The known word most like this one, or an empty string if none is similar."""
    if len(word) > LONGEST_GUESSED:
        return ""
    found = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return found[0] if found else ""


def did_you_mean(word: str, known: Iterable[str], otherwise: str, any_case: bool = False) -> str:
    """How to mend an unknown word: by the most similar known word, or else by other advice.

    It never advises the word itself. With `any_case`, capital letters count as small ones.
    """
    guess = nearest(word.lower() if any_case else word, known)
    return f"did you mean {shown(guess)}?" if guess and guess != word else otherwise
