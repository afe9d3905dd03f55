"""The first heading of a page of the author's."""

from __future__ import annotations

import html
import re

_FIRST = re.compile(r"\s*<h1\b[^>]*>(.*?)</h1>\s*", re.DOTALL)
_TAG = re.compile(r"<[^>]*>")


def split_heading(page: str) -> tuple[str, str]:
    """A page's first heading in plain words, and the page without it; empty where it begins with none.

    Only a heading of the highest level counts, for the page's title has that level too.
    """
    found = _FIRST.match(page)
    if found is None:
        return "", page
    return " ".join(html.unescape(_TAG.sub("", found[1])).split()), page[found.end() :]
