"""The engraver's SVG made fit for a page of many pieces.

What its own back end draws is first written as Cairo writes it (`svg_plain.py`).

Cairo names its glyphs glyph0-0 and on in every file, so two pieces on one page would clash. Here a glyph is
named by its own outline: the same shape has the same name everywhere, and a page carries it once.

A note head is found again by its place: the engraver lists where it put each head of the player's staff
(`write-systems` in style.ly), and what is drawn there gets the note's number in its `data-n`, from 0, so that
a page can mark the note that sounds. Only a head that is one glyph has it; every note has its `Note`.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ..allowed import NotInk, check_ink, refusal
from .glyph_definitions import define_glyphs
from .svg_joining import NUMBER, SVG, join_children, name_glyph, shorten_style

_NEAR = 0.05
"""Points: the engraver's list and Cairo's drawing round differently, by less than a hundredth."""
_NUMBERS = re.compile(rf' {NUMBER}="([\d ]+)"')
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


def drawing(
    text: str, notes: Sequence[Note] = (), heads: Sequence[float] = (), engraver: str = ""
) -> Drawing:
    """Read one SVG file of the engraver. Raises ValueError where it is not one, NotInk where it holds more.

    `heads` are the left edges of the notes' heads, in points; `engraver` is the path of the one that drew it.
    """
    try:
        root = ET.fromstring(text)
        _, _, width, height = map(float, root.attrib["viewBox"].split())
    except (ET.ParseError, KeyError) as error:
        raise ValueError(f"the engraver's SVG cannot be read: {error}") from error
    _check_apart(root)
    if root.attrib.get("width", "").endswith("mm"):
        # The engraver's own back end says its size in millimetres. What reads letters takes long to load.
        from .lettering import letterer
        from .svg_plain import write_as_cairo

        return drawing(write_as_cairo(text, letterer(engraver)), notes, heads)
    _number(_uses(root), notes, heads)
    outlines = {
        symbol.attrib["id"]: name_glyph(" ".join(path.attrib.get("d", "") for path in symbol))
        for symbol in root.iter(f"{SVG}symbol")
    }
    try:
        body, glyphs = join_children(root, outlines)
    except KeyError as error:
        raise ValueError(f"the engraver's SVG draws a glyph that it does not hold: {error}") from error
    return Drawing(width, height, body, glyphs, tuple(notes))


def _check_apart(root: ET.Element) -> None:
    """Raise NotInk where a file holds something unknown outside its drawing, which would go unseen."""
    for name in root.attrib.keys() - _OF_A_FILE:
        raise NotInk(refusal(f"the attribute {name!r}"))
    for definitions in root.iter(f"{SVG}defs"):
        for element in list(definitions.iter())[1:]:
            tag, style = element.tag.removeprefix(SVG), shorten_style(element.get("style", ""))
            if tag not in _DEFINED or element.attrib.keys() - _DEFINED[tag] or style:
                raise NotInk(refusal(f"{tag!r} in 'defs'"))
    for element in root.iter(f"{SVG}style"):
        if not _OF_WORDS.fullmatch((element.text or "").strip()):
            raise NotInk(refusal("a style sheet"))


_Place = tuple[float, float, ET.Element]


def _uses(root: ET.Element) -> Iterable[_Place]:
    """Every glyph that Cairo drew, with its place in points."""
    for use in root.iter(f"{SVG}use"):
        yield float(use.attrib["x"]), float(use.attrib["y"]), use


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
                element.set(NUMBER, str(number))
                break


def numbered_heads(body: str) -> list[int]:
    """The numbers of the note heads that a drawing says, in order."""
    return sorted(int(number) for each in _NUMBERS.findall(body) for number in each.split())


def sprite(drawings: list[Drawing]) -> str:
    """One hidden SVG with every glyph that the drawings of a page share."""
    glyphs: dict[str, str] = {}
    for item in drawings:
        glyphs.update(item.glyphs)
    definitions = define_glyphs(glyphs, "".join(item.body for item in drawings))
    return f'<svg class="glyphs" width="0" height="0" aria-hidden="true">{definitions}</svg>'
