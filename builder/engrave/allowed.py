"""What ink may be made of: the elements, attributes and values that music needs, and nothing else.

A page takes a drawing in as it is. So every drawing is compared with this list when it is read, from the
engraver or from the cache, and refused as a whole where anything in it is not listed: to leave a part out
would make wrong music. The names are those of SVG 2 (https://www.w3.org/TR/SVG2/). Nothing listed runs or
loads anything.
"""

from __future__ import annotations

import re

_NUMBER = r"[-+]?+[\d.]++(?:e[-+]?+\d++)?"
_NUMBERS = r"[-+\d.e, ]++"
_COLOR = r"(?:none|currentColor|#[\da-fA-F]{3,8}+|rgba?\([\d.%, ]++\))"
_MOVES = r"(?:(?:matrix|translate|scale|rotate)\([-+\d.e, ]++\) ?+)+"
_OUTLINE = r"[MLHVCSQTAZmlhvcsqtaze\d.,+\- ]*+"
_NAME = r"g[\da-f]{10}"

_VALUES = {
    "x|y|x1|y1|x2|y2|cx|cy|r|rx|ry|width|height": _NUMBER,
    "d": _OUTLINE,
    "href": f"#{_NAME}",
    "data-n": r"\d++(?: \d++)*+",
    "marker-mid": r"url\(#m[\da-f]{10}\)",
    "transform": _MOVES,
    "points|stroke-dasharray": _NUMBERS,
    "fill|stroke|color": _COLOR,
    "stroke-width|stroke-miterlimit|stroke-dashoffset|opacity|fill-opacity|stroke-opacity": _NUMBER,
    "stroke-linecap": "(?:butt|round|square)",
    "stroke-linejoin": "(?:miter|round|bevel)",
    "fill-rule": "(?:nonzero|evenodd)",
    "font-family": r"[\w ,.&#;\-]++",
    "font-size": f"{_NUMBER}(?:px)?",
    "font-style": "(?:normal|italic|oblique)",
    "font-variant": "(?:normal|small-caps)",
    "font-weight": r"(?:normal|bold|\d{3})",
    "text-anchor": "(?:start|middle|end)",
}
"""What the value of an attribute looks like, by the attributes' names."""

_SHAPES = "g|path|rect|line|polygon|polyline|circle|ellipse"
_WORDS = "text|tspan"

_ATTRIBUTES = "(?: (?:" + "|".join(f'(?:{names})="{value}"' for names, value in _VALUES.items()) + "))*"
_GLYPH = f'<use x="{_NUMBER}" y="{_NUMBER}" href="#{_NAME}"(?: data-n="\\d++")?/>'
"""What most of a drawing consists of; said first, it is found soonest."""

_BODY = re.compile(
    f"(?:{_GLYPH}|<(?:{_SHAPES}|use){_ATTRIBUTES}/?+>|<(?:{_WORDS}){_ATTRIBUTES}>[^<>]*+"
    f"|</(?:{_SHAPES}|{_WORDS})>)*"
)
_SYMBOL = re.compile(_NAME)
_PATH = re.compile(_OUTLINE)
_SHOWN = 60


class NotInk(ValueError):
    """Raised where a drawing holds what no music needs; the text quotes it."""


def check_ink(body: str, glyphs: dict[str, str]) -> None:
    """Raise NotInk where a drawing's body, or a glyph's name or outline, is not made of what is listed.

    Takes time in proportion to the text: no part of the pattern goes back on letters that it has read.
    """
    read = _BODY.match(body)
    end = read.end() if read else 0
    if end != len(body):
        raise NotInk(refusal(repr(body[end:].partition(">")[0] + ">")))
    for name, outline in glyphs.items():
        if not (_SYMBOL.fullmatch(name) and _PATH.fullmatch(outline)):
            raise NotInk(refusal(repr(f"{name}: {outline}")))


def refusal(found: str) -> str:
    """What to say of a drawing in which something was found that is not listed."""
    shown = found if len(found) <= _SHOWN else found[: _SHOWN - 1] + "…"
    return f"its drawing contains something that music does not need: {shown}"
