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
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from .outlines import short

_SVG = "{http://www.w3.org/2000/svg}"
_HREF = "{http://www.w3.org/1999/xlink}href"
_NEAR = 0.05
"""Points: the engraver's list and Cairo's drawing round differently, by less than a hundredth."""
_NUMBER = re.compile(r"-?\d+\.\d{3,}")
_BLACK = re.compile(r"(fill|stroke):rgb\(0%,\s*0%,\s*0%\)")
_DEFAULTS = re.compile(
    r"(fill-opacity:1|stroke-opacity:1|fill-rule:nonzero|stroke:none|stroke-linejoin:miter|stroke-miterlimit:10"
    r"|stroke-linecap:butt|fill:currentColor)(;|$)"
)


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

    `notes` are the sounding events of the player's staff, in order of time.
    """

    width: float
    height: float
    body: str
    glyphs: dict[str, str]
    notes: tuple[Note, ...] = ()


def _rounded(text: str) -> str:
    return _NUMBER.sub(lambda match: f"{float(match[0]):.2f}".rstrip("0").rstrip("."), text)


def _styled(element: ET.Element) -> None:
    """Black becomes the page's own text colour, so that music is readable in a light and a dark look."""
    style = element.attrib.pop("style", "")
    style = _BLACK.sub(r"\1:currentColor", style.replace(" ", ""))
    style = _DEFAULTS.sub("", style).strip("; ")
    if style:
        element.set("style", style)


def drawing(text: str, notes: Sequence[Note] = (), heads: Sequence[float] = ()) -> Drawing:
    """Read one SVG file of the engraver. Raises ValueError where it is not one.

    `heads` are the left edges of the notes' heads, in points.
    """
    try:
        root = ET.fromstring(text)
    except ET.ParseError as error:
        raise ValueError(f"the engraver's SVG cannot be read: {error}") from error
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    if root.attrib.get("width", "").endswith("mm"):
        # The engraver's own back end counts in staff spaces; its size in millimetres stands beside.
        return _plain(root, width, height, tuple(notes))
    _number(root, notes, heads)
    names: dict[str, str] = {}
    glyphs: dict[str, str] = {}
    for symbol in root.iter(f"{_SVG}symbol"):
        outline = "".join(short(path.attrib.get("d", "")) for path in symbol.iter(f"{_SVG}path"))
        name = "g" + hashlib.sha256(outline.encode()).hexdigest()[:10]
        names[symbol.attrib["id"]] = name
        glyphs[name] = outline
    body = []
    for child in root:
        if child.tag != f"{_SVG}defs":
            body.append(_slim(child, names))
    used = {name: outline for name, outline in glyphs.items() if f"#{name}" in "".join(body)}
    return Drawing(width, height, "".join(body), used, tuple(notes))


def _number(root: ET.Element, notes: Sequence[Note], heads: Sequence[float]) -> None:
    """Write each note's number on the glyph that stands where its head is."""
    glyphs: dict[tuple[int, int], list[ET.Element]] = {}
    for use in root.iter(f"{_SVG}use"):
        place = round(float(use.attrib["x"])), round(float(use.attrib["y"]))
        glyphs.setdefault(place, []).append(use)
    for number, (note, left) in enumerate(zip(notes, heads, strict=True)):
        across, down = round(left), round(note.y)
        near = (
            use
            for x in (across - 1, across, across + 1)
            for y in (down - 1, down, down + 1)
            for use in glyphs.get((x, y), ())
        )
        for use in near:
            if abs(float(use.attrib["x"]) - left) + abs(float(use.attrib["y"]) - note.y) < _NEAR:
                use.set("data-n", str(number))
                break


def _plain(root: ET.Element, width: float, height: float, notes: tuple[Note, ...]) -> Drawing:
    scale = float(root.attrib["width"].removesuffix("mm")) * 72 / 25.4 / width
    body = "".join(_slim(child, {}) for child in root)
    return Drawing(width * scale, height * scale, f'<g transform="scale({scale:.4f})">{body}</g>', {}, notes)


def _slim(element: ET.Element, names: dict[str, str]) -> str:
    for part in element.iter():
        part.tag = part.tag.removeprefix(_SVG)
        part.attrib.pop("id", None)
        _styled(part)
        if _HREF in part.attrib:
            part.set("href", "#" + names[part.attrib.pop(_HREF)[1:]])
        for name, value in part.attrib.items():
            if name == "d":
                part.set(name, _rounded(short(value.strip())))
            elif name in ("x", "y", "transform", "points"):
                # The matrix of a stroke keeps its digits: they multiply.
                part.set(name, value.strip() if name == "transform" else _rounded(value.strip()))
        part.text = part.text if part.text and part.text.strip() else None
        part.tail = None
    for group in list(element.iter("g")):
        _join_strokes(group)
    text = ET.tostring(element, encoding="unicode", short_empty_elements=True).replace(" />", "/>")
    # A group round one glyph says nothing once its colour is the page's.
    return re.sub(r"<g>(<use [^>]*>)</g>", r"\1", text)


def _join_strokes(group: ET.Element) -> None:
    """The five lines of a staff, and other neighbours drawn with one pen, as one path."""
    last: ET.Element | None = None
    for part in list(group):
        pen = (part.tag, part.get("style"), part.get("transform"))
        drawn = "fill:none" in (part.get("style") or "") and len(part.attrib) == (3 if pen[2] else 2)
        if drawn and last is not None and pen == (last.tag, last.get("style"), last.get("transform")):
            last.set("d", last.attrib["d"] + part.attrib["d"])
            group.remove(part)
        else:
            last = part if drawn else None


def sprite(drawings: list[Drawing]) -> str:
    """One hidden SVG with every glyph that the drawings of a page share."""
    glyphs: dict[str, str] = {}
    for item in drawings:
        glyphs.update(item.glyphs)
    symbols = "".join(f'<path id="{name}" d="{outline}"/>' for name, outline in sorted(glyphs.items()))
    return f'<svg class="glyphs" width="0" height="0" aria-hidden="true"><defs>{symbols}</defs></svg>'
