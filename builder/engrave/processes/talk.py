"""What an engraver says about a piece, within bounds: one that never ends must not fill the memory."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable

MOST_SAID = 1024**2
"""Bytes that an engraver may say about one piece before it is stopped; a few hundred are usual."""

ROW = 4096
"""Bytes of one line that are looked at."""

_ROWS = 50
"""Lines that are kept from the beginning, and as many from the end."""


class Talk:
    """An engraver's first and last lines about a piece; an error that stands between them is kept too."""

    def __init__(self) -> None:
        self._first: list[str] = []
        self._last: deque[str] = deque(maxlen=_ROWS)
        self._error = ""

    def add(self, row: str) -> None:
        """Take in the next line."""
        if len(self._first) < _ROWS:
            self._first.append(row)
            return
        if len(self._last) == _ROWS and not self._error and is_error(self._last[0]):
            self._error = self._last[0]
        self._last.append(row)

    @property
    def rows(self) -> list[str]:
        """What is kept, in its order."""
        return [*self._first, *filter(None, [self._error]), *self._last]


def telling(said: Iterable[str]) -> str:
    """The line that says most about why an engraver failed; empty where it said nothing."""
    rows = list(said)
    errors = (row for row in rows if is_error(row))
    return next(errors, rows[-1] if rows else "")


def is_error(row: str) -> bool:
    """Whether a line of the engraver means that the piece has failed, and not only a warning of its own."""
    return "error:" in row and "programming error:" not in row
