"""The elements of the engraver's SVG joined, so that a page of many pieces has few elements.

Cairo draws each line, stem and glyph as an element of its own, most of them in a group that only says that it
is black. All of a drawing is black, so nothing is above anything else, and elements can share one:

- Paths of one style are one path: the lines of all staves, all stems, all slurs. A group says what most pens
  have in common.
- The clef and the key signature at the beginning of a line are one glyph, as are the letters of a dynamic.
- A glyph that a drawing has several times is the marker of one path: the path has a corner where each is to
  stand, and `data-n` lists the numbers of the note heads among them, in the order of the corners. The corners
  lie between two ends that show nothing.

Nothing is added to the ink, and nothing is moved by more than rounding to a hundredth of a point.
"""

from __future__ import annotations

import hashlib
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from itertools import groupby
from typing import NamedTuple

from .svg_paths import Box, are_alike, join_corners, move_outline, read_box, shorten_outline, way_round

SVG = "{http://www.w3.org/2000/svg}"
HREF = "{http://www.w3.org/1999/xlink}href"
NUMBER = "data-n"
_GROUP = f"{SVG}g"
_USE = f"{SVG}use"
_OF_A_GLYPH = frozenset({"x", "y", "id", HREF, NUMBER})
_OF_A_BLACK_GROUP = frozenset({"id", "style"})
"""Attributes of elements of which nothing has to be kept but a place."""

Outlines = dict[str, tuple[str, str]]
"""The glyphs of a file: the name that the file gives each, to its own name and its outline."""

_LEVEL = 0.05
"""Points between two glyphs of one word that count as one height."""
_LETTERS = 12
"""Points from one letter of a word to the next, at most."""
_MARGIN = 10
"""Points from the left edge within which a line's clef begins."""
_FIRST_SIGN = 14, 20
"""Points from a clef to the first sign of its signature."""
_NEXT_SIGN = 8
"""Points from one sign of a key signature to the next, at most."""
_STAFF = 18
"""Points from the height of a clef to that of a sign of its signature, at most."""

_MATRIX = re.compile(r"matrix\((\d+\.?\d*),0,0,-(\d+\.?\d*),(-?[\d.]+),(-?[\d.]+)\)")
_COLOURED = re.compile(r"(?:^|;)(?:fill|stroke):(?!none|currentColor)|opacity")
_STROKE = re.compile(r"(stroke-width|stroke-dasharray|stroke-dashoffset):([\d.,]+)")
_BLACK = re.compile(r"(fill|stroke):rgb\(0%,0%,0%\)")
_PEN = "stroke:currentColor;stroke-linecap:round;stroke-linejoin:round"
_ROUND = frozenset(_PEN.split(";"))
_LINES = re.compile(r"(?:M[-\d. ]+[hvl][-\d. ]+)+")
"""Lines of one step each, which have no corners."""
_DEFAULTS = re.compile(
    r"(fill-opacity:1|stroke-opacity:1|fill-rule:nonzero|stroke:none|stroke-linejoin:miter|stroke-miterlimit:10"
    r"|stroke-linecap:butt|fill:currentColor)(;|$)"
)


@lru_cache(maxsize=4096)
def name_glyph(outline: str) -> tuple[str, str]:
    """A glyph's own name and its outline in few characters; pieces have most of their glyphs in common."""
    said = shorten_outline(outline)
    return _name_of(said), said


def _name_of(outline: str) -> str:
    return "g" + hashlib.sha256(outline.encode()).hexdigest()[:10]


@lru_cache(maxsize=1024)
def shorten_style(style: str) -> str:
    """Black becomes the page's own text colour, so that music is readable in a light and a dark look."""
    return _DEFAULTS.sub("", _BLACK.sub(r"\1:currentColor", style.replace(" ", ""))).strip(";")


@lru_cache(maxsize=1024)
def _as_attributes(style: str) -> str:
    """A style as attributes: a strict content security policy has no inline styles."""
    pairs = (row.partition(":") for row in style.split(";"))
    return "".join(f' {name}="{escape(value)}"' for name, _, value in pairs)


class _Placed(NamedTuple):
    """A glyph at its place in points; `note` is the number of the note whose head it is, or empty."""

    name: str
    x: float
    y: float
    note: str = ""


@dataclass(slots=True)
class _Part:
    """What is left of an element.

    `way` is None where it stays an element of its own. Paths of one parent, style and way can be one path:
    what runs the same way round leaves no hole where it overlaps.
    """

    style: str
    tag: str
    attributes: dict[str, str]
    inside: str = ""
    way: int | None = None

    def text(self, style: str = "") -> str:
        words = "".join(f' {name}="{escape(value)}"' for name, value in self.attributes.items())
        end = f">{self.inside}</{self.tag}>" if self.inside else "/>"
        return f"<{self.tag}{words}{_as_attributes(style) if style else ''}{end}"


def join_children(parent: ET.Element, outlines: Outlines) -> tuple[str, dict[str, str]]:
    """An element's children as text, and the glyphs in it, name to outline.

    `outlines` are the glyphs of the file. Raises KeyError where the element draws one that is not among them.
    """
    used: dict[str, str] = {}
    text = _join(parent, outlines, used)
    # Some of them have become parts of others.
    drawn = {name for name in used if f"#{name}" in text or f"#{marker_of(name)}" in text}
    return text, {name: used[name] for name in sorted(drawn)}


def _join(parent: ET.Element, outlines: Outlines, used: dict[str, str]) -> str:
    parts: list[_Part] = []
    glyphs: list[_Placed] = []
    for element in _leaves(parent):
        if element.tag == _USE and _OF_A_GLYPH.issuperset(element.keys()):
            name, outline = outlines[element.attrib[HREF][1:]]
            if outline:  # A blank between words draws nothing.
                x, y = float(element.attrib["x"]), float(element.attrib["y"])
                used[name] = outline
                glyphs.append(_Placed(name, x, y, element.get(NUMBER, "")))
            continue
        part = _part(element, outlines, used)
        if part is None:
            continue
        if parts and _is_edge_of(parts[-1], part):
            # The engraver draws the edge of a slur or a beam, and then fills it.
            part = _Part(parts[-1].style.replace("fill:none;", ""), part.tag, part.attributes, "", part.way)
            parts.pop()
        parts.append(part)
    return _write(_join_paths(parts)) + _write_glyphs(_join_glyphs(glyphs, used))


def _leaves(parent: ET.Element) -> Iterator[ET.Element]:
    """An element's children; those of a group that only says that it is black stand in its place."""
    for element in parent:
        if (
            element.tag == _GROUP
            and _OF_A_BLACK_GROUP.issuperset(element.keys())
            and not shorten_style(element.get("style", ""))
        ):
            yield from _leaves(element)
        else:
            yield element


def _join_paths(parts: list[_Part]) -> list[_Part]:
    rows: list[_Part] = []
    joined: dict[tuple[str, int], _Part] = {}
    for part in parts:
        if part.way is None:
            rows.append(part)
            continue
        first = joined.setdefault((part.style, part.way), part)
        if first is part:
            rows.append(part)
        else:
            first.attributes["d"] += part.attributes["d"]
    return rows


def _write(rows: list[_Part]) -> str:
    """What has a black pen with round ends shares a group that says so; so do neighbours of one style."""
    inked = [part for part in rows if not _ROUND - set(part.style.split(";"))]
    if len(inked) > 1:
        rest = [part for part in rows if part not in inked]
        inside = "".join(part.text(_without_pen(part.style)) for part in inked)
        return f"<g{_as_attributes(_PEN)}>{inside}</g>{_write(rest)}"
    found = []
    for style, group in groupby(rows, key=lambda part: part.style):
        alone, *others = group
        if style and not others:
            found.append(alone.text(style))
            continue
        inside = "".join(part.text() for part in (alone, *others))
        found.append(f"<g{_as_attributes(style)}>{inside}</g>" if style else inside)
    return "".join(found)


def _without_pen(style: str) -> str:
    return ";".join(row for row in style.split(";") if row not in _ROUND)


def _rounded(style: str, outline: str) -> str:
    """A style with round ends and corners, where it has one of them and its path is without the other."""
    if "stroke-linecap:round" in style and "linejoin" not in style and _LINES.fullmatch(outline):
        return f"{style};stroke-linejoin:round"
    if "stroke-linejoin:round" in style and "linecap" not in style and outline.endswith("z"):
        return f"{style};stroke-linecap:round"
    return style


def _is_edge_of(edge: _Part, part: _Part) -> bool:
    """Whether one part is the edge of another, which is filled."""
    if edge.way is None or part.way is None or part.style or not edge.style.startswith("fill:none;"):
        return False
    return are_alike(edge.attributes["d"], part.attributes["d"])


def _part(element: ET.Element, outlines: Outlines, used: dict[str, str]) -> _Part | None:
    """An element without what says nothing; a path's own scale and place are worked into its numbers."""
    tag = element.tag.removeprefix(SVG)
    if tag in ("defs", "style"):
        return None
    attributes = dict(element.attrib)
    attributes.pop("id", None)
    style = shorten_style(attributes.pop("style", ""))
    if tag == "path" and "d" in attributes:
        return _path(style, attributes)
    if tag == "use":
        name, outline = outlines[attributes.pop(HREF)[1:]]
        used[name] = outline
        attributes["href"] = f"#{name}"
    inside = (
        _join(element, outlines, used) if len(element) else escape((element.text or "").strip(), quote=False)
    )
    return _Part(style, tag, attributes, inside)


def _path(style: str, attributes: dict[str, str]) -> _Part:
    outline = attributes["d"]
    if not style and list(attributes) == ["d"] and (box := read_box(outline)):
        return _Part(_pen_of(box), "path", {"d": box.outline}, way=1)
    is_line = "fill:none" in style
    way = 0 if is_line else way_round(outline)
    matrix = _MATRIX.fullmatch(attributes.get("transform", ""))
    if matrix and matrix[1] == matrix[2]:
        factor = float(matrix[1])
        del attributes["transform"]
        attributes["d"] = shorten_outline(outline, factor, -factor, float(matrix[3]), float(matrix[4]))
        style = _scale_pen(style, factor)
        way = -way
    else:
        attributes["d"] = shorten_outline(outline)
    style = _rounded(style, attributes["d"])
    is_plain = list(attributes) == ["d"] and attributes["d"].startswith("M") and not _COLOURED.search(style)
    if is_plain and is_line:
        return _Part(style, "path", attributes, way=0)
    return _Part(style, "path", attributes, way=way if is_plain and way else None)


def _pen_of(box: Box) -> str:
    """The style by which a box gets its round corners: a stroke along its edge, half of which lies outside.

    Where the stroke covers the box, nothing is filled: what is drawn twice has darker edges.
    """
    if not box.radius:
        return ""
    pen = f"stroke-width:{_short(box.radius / 50)};stroke-linecap:round;stroke-linejoin:round"
    is_covered = min(box.width, box.height) <= 2 * box.radius
    return f"{'fill:none;' if is_covered else ''}stroke:currentColor;{pen}"


@lru_cache(maxsize=1024)
def _scale_pen(style: str, factor: float) -> str:
    """A style with its stroke's width and its dashes by a factor."""

    def scaled(found: re.Match[str]) -> str:
        return f"{found[1]}:" + ",".join(_short(float(number) * factor) for number in found[2].split(","))

    return _STROKE.sub(scaled, style)


def _short(number: float) -> str:
    """A number to a hundredth, without needless zeros."""
    return f"{number:.2f}".rstrip("0").rstrip(".")


def _join_glyphs(glyphs: list[_Placed], used: dict[str, str]) -> list[_Placed]:
    """One glyph in place of those that belong together; what it consists of is added to `used`."""
    heads = [glyph for glyph in glyphs if glyph.note]
    rest = [glyph for glyph in glyphs if not glyph.note]
    clefs = [glyph for glyph in rest if glyph.x < _MARGIN]
    found = []
    for clef in clefs:
        signature = _signature(clef, rest)
        taken = set(signature)
        rest = [glyph for glyph in rest if glyph not in taken]
        found += _joined(signature, used)
    run: list[_Placed] = []
    for glyph in rest:
        if run and not _is_next_letter(run[-1], glyph):
            found += _joined(run, used)
            run = []
        run.append(glyph)
    return [*found, *_joined(run, used), *heads]


def _signature(clef: _Placed, glyphs: list[_Placed]) -> list[_Placed]:
    """A clef with the key signature beside it; nothing where another has taken it.

    That is the sign that follows it, and what is the same sign close to that. What comes after is seldom the
    same on two lines.
    """
    if clef not in glyphs:
        return []
    found = [clef]
    x, y = clef.x, clef.y
    level = [glyph for glyph in glyphs if x < glyph.x and abs(glyph.y - y) < _STAFF]
    for glyph in sorted(level, key=lambda each: (each.x, each.y)):
        across = glyph.x - found[-1].x
        is_first = len(found) == 1 and _FIRST_SIGN[0] < across < _FIRST_SIGN[1]
        is_next = len(found) > 1 and 0 < across < _NEXT_SIGN and glyph.name == found[1].name
        if is_first or is_next:
            found.append(glyph)
        elif across >= _FIRST_SIGN[1]:
            break
    return found


def _is_next_letter(last: _Placed, glyph: _Placed) -> bool:
    return 0 < glyph.x - last.x < _LETTERS and abs(glyph.y - last.y) < _LEVEL


def _joined(run: list[_Placed], used: dict[str, str]) -> list[_Placed]:
    """One glyph in place of several, or those where the outline of one cannot be moved."""
    if len(run) < 2:
        return run
    first = run[0]
    moved = [move_outline(used[each.name], each.x - first.x, each.y - first.y) for each in run]
    if None in moved:
        return run
    outline = "".join(filter(None, moved))
    name = _name_of(outline)
    used[name] = outline
    return [_Placed(name, first.x, first.y)]


def _write_glyphs(glyphs: list[_Placed]) -> str:
    """Each glyph once: at its place, or as the marker of a path with a corner at each of its places."""
    heads: dict[tuple[str, bool], list[_Placed]] = {}
    for glyph in glyphs:
        heads.setdefault((glyph.name, bool(glyph.note)), []).append(glyph)
    rows, marked = [], []
    for (name, is_head), group in heads.items():
        placed = sorted(group, key=lambda each: int(each.note)) if is_head else group
        notes = f' {NUMBER}="{" ".join(each.note for each in placed)}"' if is_head else ""
        if len(placed) == 1:
            [alone] = placed
            rows.append(f'<use x="{_short(alone.x)}" y="{_short(alone.y)}" href="#{name}"{notes}/>')
            continue
        corners = join_corners([(each.x, each.y) for each in placed])
        marked.append(f'marker-mid="url(#{marker_of(name)})" d="{corners}"{notes}/>')
    if len(marked) > 2:
        rows.append(f'<g fill="none">{"".join(f"<path {each}" for each in marked)}</g>')
    else:
        rows += (f'<path fill="none" {each}' for each in marked)
    return "".join(rows)


def marker_of(glyph: str) -> str:
    """The name of the marker that draws a glyph."""
    return f"m{glyph[1:]}"
