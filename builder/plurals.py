"""Counts in words."""


def plural(count: float, word: str) -> str:
    """`page` for 1, else `pages`; for words that take an s."""
    return word if count == 1 else f"{word}s"


def count_of(count: int, word: str) -> str:
    """`1 day`, `14 days`."""
    return f"{count} {plural(count, word)}"
