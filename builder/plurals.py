"""Counts and lists in words."""

from __future__ import annotations

from collections.abc import Sequence


def plural(count: float, word: str) -> str:
    """`page` for 1, else `pages`; for words that take an s."""
    return word if count == 1 else f"{word}s"


def count_of(count: int, word: str) -> str:
    """`1 day`, `14 days`."""
    return f"{count} {plural(count, word)}"


def listed(names: Sequence[str], last: str = " and ") -> str:
    """`slurred, detached and swell up`; empty for none. `last` stands before the last name."""
    return last.join(filter(None, (", ".join(names[:-1]), *names[-1:])))
