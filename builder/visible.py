"""A text of somebody else's in a message: shown, never obeyed.

A terminal obeys control characters: they clear it, name it, or turn what follows round. Whatever is quoted
from a file, a name or an argument passes `visible` or `shown`; what is written to the terminal as a whole
passes `visible_rows` besides.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

_HIDDEN = frozenset({"Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp"})
"""General categories of Unicode that are no ink: controls, formats (directions among them), characters that
are not assigned, private or half of a pair, and separators of lines and paragraphs."""

_NO_INK = frozenset("\u034f\u115f\u1160\u17b4\u17b5\u180b\u180c\u180d\u180f\u2800\u3164\uffa0")
"""Letters and marks that show nothing (Unicode, Default_Ignorable_Code_Point, and the empty braille cell)."""

_NAMED = {"\t": "\\t", "\n": "\\n", "\r": "\\r"}
_ASCII = re.compile(r"[ -~]*")


@lru_cache(maxsize=4096)
def _character(character: str) -> str:
    if character in _NAMED:
        return _NAMED[character]
    if unicodedata.category(character) not in _HIDDEN and character not in _NO_INK:
        return character
    code = ord(character)
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{{{code:04X}}}"


def visible(said: object) -> str:
    """A text or a path on one line; each character without ink is an escape, `\\x1b` or `\\u{202E}`."""
    text = str(said)
    return text if _ASCII.fullmatch(text) else "".join(map(_character, text))


def visible_rows(text: str) -> str:
    """A message of several lines, each made visible."""
    return "\n".join(map(visible, text.split("\n")))


def shown(text: str, limit: int = 40) -> str:
    """A text made visible, quoted, and cut after `limit` characters."""
    cut = text[:limit]
    quote = '"' if "'" in cut and '"' not in cut else "'"
    return f"{quote}{visible(cut)}{'...' * (len(text) > limit)}{quote}"


def columns(text: str) -> int:
    """How many columns of a terminal a visible text takes.

    A combining mark takes none, a wide or full-width letter two (Unicode, UAX 11), every other one.
    """
    if text.isascii():
        return len(text)
    return sum(map(_columns, text))


def _columns(character: str) -> int:
    if unicodedata.category(character) in ("Mn", "Me"):
        return 0
    return 2 if unicodedata.east_asian_width(character) in "WF" else 1
