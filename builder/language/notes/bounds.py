"""Bounds of an exercise: far above any warm-up, and low enough that reading takes no noticeable time.

They are checked before anything is read, and again when a generator adds notes.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache

from ...music.figures import FIGURES
from ..faults import Fault
from ..fields import FieldText, Source
from ..namings import Naming
from ..trade_words import plain_word

MOST_NOTES = 1_000
"""The most notes, grace notes and rests of one exercise, its music rising and falling added up."""

MOST_BARS = 400
"""The most bars of one exercise, its music rising and falling added up."""

MOST_WORDS = 10_000
"""The most words and signs in the music of one exercise."""

MOST_SIGNS = 20
"""The most marks, dynamics and words on one note."""

DEEPEST = 8
"""The most groups that may stand one inside another."""

_SHORTER = "divide it into several exercises"


@cache
def _word(naming: Naming) -> re.Pattern[str]:
    return re.compile(
        r'"[^"\n]*"'
        rf"|(?P<note>(?:{naming.pitch_pattern}|[+-](?:P|M|m|AA|A|dd|d)\d{{1,2}}|rest)(?![\w(-]))"
        r"|(?P<line>\|\||\|:|:\||\|\.|\|)"
        r"|(?P<figure>[a-z][a-z-]*)\("
        r"|[^\s()|,\"]+|\S"
    )


class BeyondBounds(Exception):
    """Raised if an exercise goes beyond a bound; `what` says which."""

    def __init__(self, what: str) -> None:
        super().__init__(what)
        self.what = what

    def fault(self, source: Source, line: int, column: int) -> Fault:
        """The fault at a place of a file."""
        return source.fault(line, column, self.what, _SHORTER)


class Bounds:
    """Counts what an exercise holds. Each method raises BeyondBounds if its bound is exceeded."""

    def __init__(self) -> None:
        self.notes = self.bars = self.words = 0

    def add_notes(self, count: int) -> None:
        """Count this many more notes, grace notes or rests."""
        self.notes += count
        if self.notes > MOST_NOTES:
            raise BeyondBounds(f"the exercise has more than {MOST_NOTES:,} notes and rests")

    def add_bar(self) -> None:
        """Count one more bar."""
        self.bars += 1
        if self.bars > MOST_BARS:
            raise BeyondBounds(f"the exercise has more than {MOST_BARS:,} bars")

    def add_word(self) -> None:
        """Count one more word or sign."""
        self.words += 1
        if self.words > MOST_WORDS:
            raise BeyondBounds(f"the exercise has more than {MOST_WORDS:,} words and signs")


def too_much(source: Source, fields: Iterable[FieldText]) -> Fault | None:
    """The fault at the first word of the music beyond a bound, or None. It runs no generator."""
    room = Bounds()
    word = _word(source.naming)
    for field in fields:
        in_bar = False
        for match in word.finditer(field.text):
            try:
                room.add_word()
                if match["note"]:
                    room.add_notes(1)
                if (match["note"] or plain_word(match["figure"] or "") in FIGURES) and not in_bar:
                    room.add_bar()
                    in_bar = True
            except BeyondBounds as found:
                start = match.start()
                line = field.line + field.text.count("\n", 0, start)
                return found.fault(source, line, start - field.text.rfind("\n", 0, start))
            in_bar = in_bar and not match["line"]
    return None
