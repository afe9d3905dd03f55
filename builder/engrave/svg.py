"""The engraver's SVG made fit for a page of many pieces.

Cairo names its glyphs glyph0-0 and on in every file, so two pieces on one page would clash. Here a glyph is
named by its own outline: the same shape has the same name everywhere, and a page carries it once.

A note head is found again by its place: the engraver lists where it put each head of the player's staff
(`write-systems` in style.ly), and the glyph drawn there gets the note's number as `data-n`, from 0, so that a
page can mark the note that sounds. Only a head that is one glyph has it; every note has its `Note`.
"""

from __future__ import annotations

import hashlib
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from html import escape
from itertools import groupby

from ..units import POINTS_PER_MM
from .allowed import NotInk, check_ink, refusal
from .svg_paths import outline_of_box, shorten_outline

_SVG = "{http://www.w3.org/2000/svg}"
_HREF = "{http://www.w3.org/1999/xlink}href"
_NEAR = 0.05
"""Points: the engraver's list and Cairo's drawing round differently, by less than a hundredth."""
_SCALE = re.compile(r"matrix\((\d+\.?\d*),0,0,-(\d+\.?\d*),0,0\)")
_TRANSLATE = re.compile(r"translate\((-?[\d.]+), (-?[\d.]+)\)")
_STROKE = re.compile(r"(stroke-width|stroke-dasharray|stroke-dashoffset):([\d.,]+)")
_BLACK = re.compile(r"(fill|stroke):rgb\(0%,0%,0%\)")
_DEFAULTS = re.compile(
    r"(fill-opacity:1|stroke-opacity:1|fill-rule:nonzero|stroke:none|stroke-linejoin:miter|stroke-miterlimit:10"
    r"|stroke-linecap:butt|fill:currentColor)(;|$)"
)
_OF_A_FILE = frozenset({"width", "height", "viewBox", "version"})
"""Attributes of a whole file that a page has no use for."""
_DEFINED = {
    "g": frozenset({"id"}),
    "symbol": frozenset({"id", "overflow"}),
    "path": frozenset({"d", "style"}),
}
"""What a file's definitions consist of, each with its attributes: glyphs' outlines."""
_OF_WORDS = re.compile(r"(?:(?:text|tspan)\s*\{[^{}<>]*\}\s*)*")
"""The style that the engraver's own back end gives to words: pages have their own."""


@dataclass(frozen=True, slots=True)
class Note:
    """Where a sounding event of the player's staff stands: the middle of its head, in points on the drawing.

    `system` counts from 0. `at` is its time in whole notes from the first full bar (before it, a pick-up
    is negative), with each repeat counted once; a note tied to the one before is a note of its own.
    """

    x: float
    y: float
    system: int
    at: Fraction


@dataclass(frozen=True, slots=True)
class Drawing:
    """A piece as SVG: `body` refers to `glyphs` (name to path data); sizes in points (1/72 inch).

    `notes` are the sounding events of the player's staff, in order of time. Raises NotInk where body or
    glyphs hold anything that is not listed in `allowed.py`: a page takes them in as they are.
    """

    width: float
    height: float
    body: str
    glyphs: dict[str, str]
    notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        check_ink(self.body, self.glyphs)


def drawing(text: str, notes: Sequence[Note] = (), heads: Sequence[float] = ()) -> Drawing:
    """Read one SVG file of the engraver. Raises ValueError where it is not one, NotInk where it holds more.

    `heads` are the left edges of the notes' heads, in points.
    """
    try:
        root = ET.fromstring(text)
        _, _, width, height = map(float, root.attrib["viewBox"].split())
    except (ET.ParseError, KeyError) as error:
        raise ValueError(f"the engraver's SVG cannot be read: {error}") from error
    _check_apart(root)
    if root.attrib.get("width", "").endswith("mm"):
        # The engraver's own back end counts in staff spaces; its size in millimetres stands beside.
        scale = float(root.attrib["width"].removesuffix("mm")) * POINTS_PER_MM / width
        _number(_places(root, scale), notes, heads)
        body = f'<g transform="scale({scale:.4f})">{_written(root, {})}</g>'
        return Drawing(round(width * scale, 2), round(height * scale, 2), body, {}, tuple(notes))
    _number(_uses(root), notes, heads)
    outlines = {
        symbol.attrib["id"]: _glyph(" ".join(path.attrib.get("d", "") for path in symbol))
        for symbol in root.iter(f"{_SVG}symbol")
    }
    try:
        drawn = {use.attrib[_HREF][1:] for use in root.iter(f"{_SVG}use")}
        used = dict(sorted(outlines[name] for name in drawn))
    except KeyError as error:
        raise ValueError(f"the engraver's SVG draws a glyph that it does not hold: {error}") from error
    names = {symbol: name for symbol, (name, _) in outlines.items()}
    return Drawing(width, height, _written(root, names), used, tuple(notes))


def _check_apart(root: ET.Element) -> None:
    """Raise NotInk where a file holds something unknown outside its drawing, which would go unseen."""
    for name in root.attrib.keys() - _OF_A_FILE:
        raise NotInk(refusal(f"the attribute {name!r}"))
    for definitions in root.iter(f"{_SVG}defs"):
        for element in list(definitions.iter())[1:]:
            tag, style = element.tag.removeprefix(_SVG), _style(element.get("style", ""))
            if tag not in _DEFINED or element.attrib.keys() - _DEFINED[tag] or style:
                raise NotInk(refusal(f"{tag!r} in 'defs'"))
    for element in root.iter(f"{_SVG}style"):
        if not _OF_WORDS.fullmatch((element.text or "").strip()):
            raise NotInk(refusal("a style sheet"))


@lru_cache(maxsize=4096)
def _glyph(outline: str) -> tuple[str, str]:
    """A glyph's own name and its outline in few characters; pieces have most of their glyphs in common."""
    said = shorten_outline(outline)
    return "g" + hashlib.sha256(said.encode()).hexdigest()[:10], said


@lru_cache(maxsize=1024)
def _style(style: str) -> str:
    """Black becomes the page's own text colour, so that music is readable in a light and a dark look."""
    return _DEFAULTS.sub("", _BLACK.sub(r"\1:currentColor", style.replace(" ", ""))).strip(";")


@lru_cache(maxsize=1024)
def _presented(style: str) -> str:
    """A style as attributes: a strict content security policy has no inline styles."""
    pairs = (row.partition(":") for row in style.split(";"))
    return "".join(f' {name}="{escape(value)}"' for name, _, value in pairs)


_Place = tuple[float, float, ET.Element]


def _uses(root: ET.Element) -> Iterable[_Place]:
    """Every glyph that Cairo drew, with its place in points."""
    for use in root.iter(f"{_SVG}use"):
        yield float(use.attrib["x"]), float(use.attrib["y"]), use


def _places(root: ET.Element, scale: float) -> Iterable[_Place]:
    """Every glyph that the engraver's own back end drew, with its place in points."""
    for group in root.iter(f"{_SVG}g"):
        found = _TRANSLATE.fullmatch(group.attrib.get("transform", ""))
        if found and group.find(f"{_SVG}path") is not None:
            yield float(found[1]) * scale, float(found[2]) * scale, group


def _number(places: Iterable[_Place], notes: Sequence[Note], heads: Sequence[float]) -> None:
    """Write each note's number on the glyph that stands where its head is."""
    glyphs: dict[tuple[int, int], list[_Place]] = {}
    for place in places if notes else ():
        glyphs.setdefault((round(place[0]), round(place[1])), []).append(place)
    for number, (note, left) in enumerate(zip(notes, heads, strict=True)):
        across, down = round(left), round(note.y)
        near = (
            place
            for x in (across, across - 1, across + 1)
            for y in (down, down - 1, down + 1)
            for place in glyphs.get((x, y), ())
        )
        for x, y, element in near:
            if abs(x - left) < _NEAR and abs(y - note.y) < _NEAR:
                element.set("data-n", str(number))
                break


@dataclass(slots=True)
class _Part:
    """What is left of an element; `joins` where neighbours with the same pen may share one path.

    `is_box` where any others of its parent may share it: all are black, and none is above another.
    """

    style: str
    tag: str
    attributes: dict[str, str]
    inside: str
    joins: bool = False
    is_box: bool = False

    def text(self) -> str:
        words = "".join(f' {name}="{escape(value)}"' for name, value in self.attributes.items())
        end = f">{self.inside}</{self.tag}>" if self.inside else "/>"
        return f"<{self.tag}{words}{end}"


def _written(parent: ET.Element, names: dict[str, str]) -> str:
    """An element's children as text.

    Neighbours of one style share a group that says it once, and those that are only strokes, such as the
    five lines of a staff, are one path. So are all stems, bar lines and ledger lines.
    """
    parts: list[_Part] = []
    boxes: _Part | None = None
    for element in parent:
        part = _part(element, names)
        if part is None:
            continue
        last = parts[-1] if parts else None
        if part.is_box and boxes is not None:
            boxes.attributes["d"] += part.attributes["d"]
            continue
        boxes = part if part.is_box else boxes
        if part.joins and last is not None and last.joins and last.style == part.style:
            last.attributes["d"] += part.attributes["d"]
        else:
            parts.append(part)
    rows = []
    for style, group in groupby(parts, key=lambda part: part.style):
        inside = "".join(part.text() if part.tag else part.inside for part in group)
        rows.append(f"<g{_presented(style)}>{inside}</g>" if style else inside)
    return "".join(rows)


def _part(element: ET.Element, names: dict[str, str]) -> _Part | None:
    """An element without what says nothing; a stroke's own scale is worked into its numbers."""
    tag = element.tag.removeprefix(_SVG)
    if tag in ("defs", "style"):
        return None
    attributes = dict(element.attrib)
    attributes.pop("id", None)
    style = _style(attributes.pop("style", ""))
    inside = _written(element, names) if len(element) else escape((element.text or "").strip(), quote=False)
    joins = False
    if (
        tag == "path"
        and not style
        and list(attributes) == ["d"]
        and (found := outline_of_box(attributes["d"]))
    ):
        return _Part("", tag, {"d": found}, inside, is_box=True)
    if "d" in attributes:
        scale = _SCALE.fullmatch(attributes.get("transform", ""))
        if scale and scale[1] == scale[2]:
            factor = float(scale[1])
            del attributes["transform"]
            attributes["d"] = shorten_outline(attributes["d"], factor, -factor)
            style = _pen(style, factor)
        else:
            attributes["d"] = shorten_outline(attributes["d"])
        joins = "fill:none" in style and len(attributes) == 1 and attributes["d"].startswith("M")
    if tag == "use":
        attributes["href"] = "#" + names[attributes.pop(_HREF)[1:]]
    for name in ("x", "y"):
        if tag == "use" and name in attributes:
            attributes[name] = _short(attributes[name])
    if tag == "g" and not attributes:
        # A group that only carried the colour says nothing any more.
        tag = ""
    return _Part(style, tag, attributes, inside, joins)


@lru_cache(maxsize=1024)
def _pen(style: str, factor: float) -> str:
    """A style with its stroke's width and its dashes by a factor."""

    def scaled(found: re.Match[str]) -> str:
        return f"{found[1]}:" + ",".join(_short(float(number) * factor) for number in found[2].split(","))

    return _STROKE.sub(scaled, style)


def _short(number: float | str) -> str:
    """A number to a hundredth, without needless zeros."""
    return f"{float(number):.2f}".rstrip("0").rstrip(".")


def sprite(drawings: list[Drawing]) -> str:
    """One hidden SVG with every glyph that the drawings of a page share."""
    glyphs: dict[str, str] = {}
    for item in drawings:
        glyphs.update(item.glyphs)
    symbols = "".join(f'<path id="{name}" d="{outline}"/>' for name, outline in sorted(glyphs.items()))
    return f'<svg class="glyphs" width="0" height="0" aria-hidden="true"><defs>{symbols}</defs></svg>'
