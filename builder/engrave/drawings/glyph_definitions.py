"""The glyphs of a page, each shape in them once.

A clef with its key signature is one glyph of a drawing, as are the letters of a word (svg_joining.py), so one
sharp or one letter may stand in many glyphs of a page. Here a long shape that they have in common is defined
once, by a name that its outline decides, and the glyphs use it.
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Mapping
from functools import lru_cache

from .svg_joining import marker_of
from .svg_short import SCALE, shorten_lines

_SHAPES = re.compile(r"M(-?[\d.]+) ?(-?[\d.]+)([^M]*)")
_WORTH = 300
"""How many characters a shape must save to be worth its elements."""
_USE = 40
"""Characters of a use, about."""

_Shape = tuple[float, float, str]
"""Where a shape begins, in points, and its steps."""


def define_glyphs(glyphs: Mapping[str, str], bodies: str) -> str:
    """The definitions of glyphs by their names and outlines, for SVG that holds `bodies`."""
    parts = {name: _split(outline) for name, outline in sorted(glyphs.items())}
    counts = Counter(steps for shapes in parts.values() for _, _, steps in shapes)
    shared = {steps: _name_of(steps) for steps, count in counts.items() if _saving(steps, count) > _WORTH}
    rows = [_path(shared[steps], f"M0 0{steps}") for steps in sorted(shared, key=shared.__getitem__)]
    for name, outline in sorted(glyphs.items()):
        row = _write(name, outline, parts[name], shared)
        if f"url(#{marker_of(name)})" in bodies:
            size = 'overflow="visible" markerUnits="userSpaceOnUse"'
            row = f'<marker id="{marker_of(name)}" {size}>{row}</marker>'
        rows.append(row)
    return f"<defs>{''.join(rows)}</defs>"


def _saving(steps: str, count: int) -> int:
    """How many characters a page saves if a shape that it has so many times is defined once."""
    return (count - 1) * len(steps) - count * _USE


@lru_cache(maxsize=2048)
def _split(outline: str) -> tuple[_Shape, ...]:
    """An outline's shapes; none where it is not made of shapes that begin with a place."""
    found = tuple((float(x), float(y), steps) for x, y, steps in _SHAPES.findall(outline))
    return found if found and outline.startswith("M") else ()


@lru_cache(maxsize=2048)
def _name_of(steps: str) -> str:
    return "s" + hashlib.sha256(steps.encode()).hexdigest()[:10]


def _write(name: str, outline: str, shapes: tuple[_Shape, ...], shared: Mapping[str, str]) -> str:
    uses = [_use(shared[steps], x, y) for x, y, steps in shapes if steps in shared]
    if not uses:
        return _path(name, outline)
    if len(shapes) == 1:
        return uses[0].replace("<use", f'<use id="{name}"')
    own = "".join(f"M{_number(x)} {_number(y)}{steps}" for x, y, steps in shapes if steps not in shared)
    return f'<g id="{name}">{_path("", own) if own else ""}{"".join(uses)}</g>'


def _use(name: str, x: float, y: float) -> str:
    return f'<use x="{_number(x)}" y="{_number(y)}" href="#{name}"/>'


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


@lru_cache(maxsize=2048)
def _path(name: str, outline: str) -> str:
    """A path, in hundredths where that is shorter."""
    start = f'<path id="{name}" ' if name else "<path "
    plain = f'{start}d="{outline}"/>'
    short = shorten_lines(outline)
    scaled = f'{start}d="{short}"{SCALE}/>' if short else plain
    return min(plain, scaled, key=len)
