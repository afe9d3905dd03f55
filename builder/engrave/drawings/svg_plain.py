"""The SVG of the engraver's own back end, written as Cairo writes it, so that both are joined in one way.

That back end counts in staff spaces, draws every glyph out where it stands, and leaves words as text. Here
sizes become points, equal glyphs are defined once, and words become outlines of the face that they were
measured in (`lettering.py`). What no face shows stays text. An element that is not known here is refused,
because to leave it out would make wrong music.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import dataclass, field
from html import escape
from math import radians

from fontTools.misc.transform import Identity, Transform
from fontTools.pens.basePen import BasePen
from fontTools.pens.transformPen import TransformPen
from fontTools.svgLib.path import parse_path

from ...units import POINTS_PER_MM
from ..allowed import NotInk, refusal

_SVG = "{http://www.w3.org/2000/svg}"
_ROUND = 0.5523
"""Where the handles of a quarter circle lie, as a part of its radius."""
_STEP = re.compile(r"(translate|scale|rotate)\(([^()]*)\)")
_PLAIN = {"none", "currentColor", "black"}
_GREY = re.compile(r"rgb\(([\d.]+%), \1, \1\)")
"""The colour of what is half closed or trilled in a chart of fingerings."""
_BLACK = "rgb(0%,0%,0%)"
_PEN = ("stroke-width", "stroke-dasharray", "stroke-linecap", "stroke-linejoin")
_KNOWN = {
    "g": {"transform", "color"},
    "path": {"d"},
    "line": {"x1", "y1", "x2", "y2"},
    "rect": {"x", "y", "width", "height", "ry"},
    "polygon": {"points"},
    "circle": {"cx", "cy", "r"},
    "ellipse": {"cx", "cy", "rx", "ry"},
    "text": {"font-family", "font-size", "font-style", "font-weight", "text-anchor"},
}
"""The elements that this back end draws, with the attributes of each; any may have the next ones."""
_ANY = {"transform", "fill", "stroke", *_PEN}


@dataclass(frozen=True, slots=True)
class Wording:
    """Words that the engraver wrote as text, and how."""

    words: str
    family: str
    italic: bool = False
    bold: bool = False


PlacedGlyph = tuple[Callable[[BasePen], None], float]
"""What draws a glyph upwards with a pen, and how far right it stands, in sizes of the letters."""
Letterer = Callable[[Wording], list[PlacedGlyph] | None]
"""Gives the glyphs of words; None where there is no face for them."""


class _Outline(BasePen):  # type: ignore[misc]
    """Writes absolute M, L, C and Z, as Cairo does."""

    def __init__(self) -> None:
        super().__init__(None)
        self.rows: list[str] = []

    def _add(self, command: str, *points: tuple[float, float]) -> None:
        self.rows.append(" ".join([command, *(f"{value:.5f}" for point in points for value in point)]))

    def _moveTo(self, pt: tuple[float, float]) -> None:
        self._add("M", pt)

    def _lineTo(self, pt: tuple[float, float]) -> None:
        self._add("L", pt)

    def _curveToOne(
        self, pt1: tuple[float, float], pt2: tuple[float, float], pt3: tuple[float, float]
    ) -> None:
        self._add("C", pt1, pt2, pt3)

    def _closePath(self) -> None:
        self.rows.append("Z")

    @property
    def text(self) -> str:
        return " ".join(self.rows)


@dataclass(slots=True)
class _Page:
    """What has been written so far: the glyphs' names by their outlines, and the rows of the drawing."""

    letterer: Letterer
    glyphs: dict[str, str] = field(default_factory=dict)
    rows: list[str] = field(default_factory=list)

    def add_glyph(self, draw: Callable[[BasePen], None], place: Transform) -> None:
        """Draw a glyph; one that stands upright is used by its outline."""
        outline = _Outline()
        upright = abs(place.xy) < 1e-6 and abs(place.yx) < 1e-6
        draw(TransformPen(outline, (*place[:4], 0, 0) if upright else place))
        if not upright:
            self.rows.append(f'<path d="{outline.text}"/>')
        elif outline.rows:
            name = self.glyphs.setdefault(outline.text, f"glyph{len(self.glyphs)}")
            self.rows.append(f'<use xlink:href="#{name}" x="{place.dx:.5f}" y="{place.dy:.5f}"/>')


def write_as_cairo(text: str, letterer: Letterer) -> str:
    """One SVG file of the engraver's own back end as Cairo would have written it, in points.

    Raises ValueError where it cannot be read, and NotInk where it holds an element or a colour that the
    engraver's music has not.
    """
    try:
        root = ET.fromstring(text)
        _, _, width, height = map(float, root.attrib["viewBox"].split())
        scale = float(root.attrib["width"].removesuffix("mm")) * POINTS_PER_MM / width
    except (ET.ParseError, KeyError) as error:
        raise ValueError(f"the engraver's SVG cannot be read: {error}") from error
    page = _Page(letterer)
    for element in root:
        if element.tag != f"{_SVG}style":
            _write(element, Identity.scale(scale), page)
    symbols = (
        f'<symbol overflow="visible" id="{name}"><path d="{outline}"/></symbol>'
        for outline, name in page.glyphs.items()
    )
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'viewBox="0 0 {round(width * scale, 2)} {round(height * scale, 2)}"><defs>{"".join(symbols)}</defs>'
        f"{''.join(page.rows)}</svg>"
    )


def _write(element: ET.Element, above: Transform, page: _Page, color: str = _BLACK) -> None:
    tag = element.tag.removeprefix(_SVG)
    _check(tag, element)
    own = element.get("transform", "")
    place = _moved(above, own)
    if tag == "g":
        said = element.get("color", "")
        color = said.replace(" ", "") if said.startswith("rgb") else color
        for child in element:
            _write(child, place, page, color)
    elif tag == "text":
        _write_words(element, place, page)
    elif tag == "path" and own and not element.get("stroke"):
        # Only what comes from a font has a scale of its own.
        page.add_glyph(lambda pen: parse_path(element.attrib["d"], pen), place)
    else:
        outline = _Outline()
        _draw(tag, element, TransformPen(outline, place))
        page.rows.append(f'<path style="{_style(element, place, color)}" d="{outline.text}"/>')


def _check(tag: str, element: ET.Element) -> None:
    known = _KNOWN.get(tag)
    if known is None or element.attrib.keys() - known - _ANY:
        raise NotInk(refusal(f"{tag!r} with {', '.join(sorted(element.attrib))}"))
    for name in ("fill", "stroke", "color"):
        said = element.get(name, "none")
        if said not in _PLAIN and not (name == "color" and _GREY.fullmatch(said)):
            raise NotInk(refusal(f"the colour {element.attrib[name]!r}"))


def _moved(place: Transform, steps: str) -> Transform:
    """A place after the steps of a `transform`. Raises NotInk where one is unknown."""
    if _STEP.sub("", steps).strip():
        raise NotInk(refusal(f"the transform {steps!r}"))
    for kind, said in _STEP.findall(steps):
        numbers = [float(number) for number in said.replace(",", " ").split()]
        if kind == "rotate":
            angle, *middle = numbers
            x, y = middle or (0.0, 0.0)
            place = place.translate(x, y).rotate(radians(angle)).translate(-x, -y)
        else:
            place = place.translate(*numbers) if kind == "translate" else place.scale(*numbers)
    return place


def _style(element: ET.Element, place: Transform, color: str) -> str:
    """Fill and pen as Cairo says them, the pen's widths in points."""
    filled = element.tag != f"{_SVG}line" and element.get("fill") != "none"
    if element.get("stroke", "none") == "none":
        return "" if filled else "fill:none"
    factor = abs(place.xx * place.yy - place.xy * place.yx) ** 0.5
    rows = ["fill:none"] if not filled else [f"fill:{color}"] if color != _BLACK else []
    for name in _PEN:
        if said := element.get(name):
            is_length = name in ("stroke-width", "stroke-dasharray")
            rows.append(f"{name}:{_lengths(said, factor) if is_length else said}")
    return ";".join([*rows, f"stroke:{color}"])


def _lengths(said: str, factor: float) -> str:
    lengths = (float(number) * factor for number in said.replace(",", " ").split())
    return ",".join(f"{length:.4f}".rstrip("0").rstrip(".") for length in lengths)


def _draw(tag: str, element: ET.Element, pen: TransformPen) -> None:
    """An element's outline in staff spaces."""

    def numbers(*names: str) -> list[float]:
        return [float(element.get(name, "0")) for name in names]

    if tag == "path":
        steps = element.attrib["d"]
        # A key of a chart of fingerings is drawn from the origin on, without a move to it.
        parse_path(steps if steps.lstrip()[:1] in "Mm" else f"M0 0{steps}", pen)
    elif tag == "line":
        x1, y1, x2, y2 = numbers("x1", "y1", "x2", "y2")
        pen.moveTo((x1, y1))
        pen.lineTo((x2, y2))
        pen.endPath()
    elif tag == "polygon":
        points = [float(number) for number in element.attrib["points"].replace(",", " ").split()]
        first, *others = zip(points[::2], points[1::2], strict=True)
        pen.moveTo(first)
        for point in others:
            pen.lineTo(point)
        pen.closePath()
    elif tag == "rect":
        left, top, width, height, radius = numbers("x", "y", "width", "height", "ry")
        _draw_box(pen, (left, top, left + width, top + height), radius, radius)
    else:
        x, y, across, down = numbers("cx", "cy", *(("r", "r") if tag == "circle" else ("rx", "ry")))
        _draw_box(pen, (x - across, y - down, x + across, y + down), across, down)


def _draw_box(
    pen: TransformPen, edges: tuple[float, float, float, float], across: float, down: float
) -> None:
    """A box, clockwise from its upper left corner, with round corners `across` wide and `down` high."""
    left, top, right, bottom = edges
    across, down = min(across, (right - left) / 2), min(down, (bottom - top) / 2)
    corners = (
        ((left, top), (0, -1), (1, 0)),
        ((right, top), (1, 0), (0, 1)),
        ((right, bottom), (0, 1), (-1, 0)),
        ((left, bottom), (-1, 0), (0, -1)),
    )
    for number, ((x, y), before, after) in enumerate(corners):
        begin = (x - before[0] * across, y - before[1] * down)
        (pen.lineTo if number else pen.moveTo)(begin)
        if across and down:
            end = (x + after[0] * across, y + after[1] * down)
            near, far = (
                tuple(edge + (corner - edge) * _ROUND for edge, corner in zip(point, (x, y), strict=True))
                for point in (begin, end)
            )
            pen.curveTo(near, far, end)
    pen.closePath()


def _write_words(element: ET.Element, place: Transform, page: _Page) -> None:
    words = "".join(part.text or "" for part in element.iter(f"{_SVG}tspan")) or (element.text or "").strip()
    if element.get("text-anchor", "start") != "start":
        raise NotInk(refusal(f"words at the anchor {element.attrib['text-anchor']!r}"))
    wording = Wording(
        words,
        element.get("font-family", ""),
        element.get("font-style", "normal") != "normal",
        element.get("font-weight", "normal") == "bold",
    )
    size = float(element.attrib["font-size"])
    glyphs = page.letterer(wording)
    if glyphs is not None:
        for draw, right in glyphs:
            page.add_glyph(draw, place.translate(right * size, 0).scale(size, -size))
        return
    kept = {name: element.attrib[name] for name in _KNOWN["text"] if name in element.attrib}
    kept |= {"font-size": f"{size * place.xx:.2f}", "x": f"{place.dx:.2f}", "y": f"{place.dy:.2f}"}
    said = "".join(f' {name}="{escape(value)}"' for name, value in sorted(kept.items()))
    page.rows.append(f"<text{said}>{escape(words, quote=False)}</text>")
