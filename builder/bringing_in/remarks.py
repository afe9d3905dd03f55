"""What a melody loses on its way into the language, each said once with its bars."""

from __future__ import annotations

from ..visible import visible

_MOST_BARS = 12
"""The most bars that one remark names."""


class Remarks:
    """Collects remarks in the order in which they first came up."""

    def __init__(self) -> None:
        self._bars: dict[str, list[int]] = {}

    def add(self, what: str, bar: int = 0) -> None:
        """Note a remark, on a bar (counted from 1, a pick-up too) or on the whole."""
        bars = self._bars.setdefault(what, [])
        if bar and bar not in bars:
            bars.append(bar)

    def sentences(self) -> tuple[str, ...]:
        """Each remark as a sentence."""
        return tuple(_sentence(what, sorted(bars)) for what, bars in self._bars.items())


def _sentence(what: str, bars: list[int]) -> str:
    if not bars:
        return f"{what[0].upper()}{what[1:]}."
    named = ", ".join(map(str, bars[:_MOST_BARS]))
    more = f" and {len(bars) - _MOST_BARS} more" if len(bars) > _MOST_BARS else ""
    return f"{'Bar' if len(bars) == 1 else 'Bars'} {named}{more}: {what}."


def plain(text: object, limit: int) -> str:
    """A text of the file on one line, without what shows no ink, and cut to a limit."""
    words = " ".join(str(text).split())
    inked = "".join(character for character in words if visible(character) == character)
    return inked if len(inked) <= limit else f"{inked[: limit - 3].rstrip()}..."
