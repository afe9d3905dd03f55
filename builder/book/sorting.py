"""The order of titles in any alphabet.

This is no full Unicode Collation Algorithm (Unicode Technical Standard 10). The one package in pure Python
that we know of had its last release in 2017 and takes a quarter of a second to load, so Python's own
`unicodedata` serves here. For Latin alphabets the order is that of the algorithm's table, DUCET: a letter
with a sign stands beside the letter without it, and the sign decides only between equal words. Other
alphabets follow in the order of Unicode's characters. The rules of single languages are not followed: in
Swedish, a letter with a ring would stand near the end.
"""

from __future__ import annotations

import unicodedata

_LETTERS = str.maketrans(
    {"æ": "ae", "œ": "oe", "ø": "o", "đ": "d", "ð": "d", "ħ": "h", "ı": "i", "ł": "l", "ŧ": "t"}
)
"""Letters that Unicode does not take apart, and those beside which they stand in the algorithm's table."""


def title_order(title: str) -> tuple[str, str, str]:
    """What titles are sorted by: letters, then their signs, then small letters before capitals."""
    folded = unicodedata.normalize("NFKD", title.casefold())
    letters = "".join(sign for sign in folded if unicodedata.category(sign) != "Mn")
    return letters.translate(_LETTERS), folded, title.swapcase()
