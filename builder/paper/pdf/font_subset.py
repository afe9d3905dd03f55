"""The fonts of one PDF: every glyph that its pieces use, once."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from functools import cache
from io import BytesIO

from fontTools.fontBuilder import FontBuilder
from fontTools.misc.psCharStrings import T2CharString
from fontTools.pens.t2CharStringPen import T2CharStringPen
from pikepdf import Array, Dictionary, Name, Object, Pdf

from ..extracted_piece import Glyph


class Fonts:
    """Codes for glyphs, given out in the order in which they are first shown."""

    def __init__(self) -> None:
        self.codes: dict[str, str] = {}
        """The codes given out so far, in four hexadecimal digits, by the glyphs' keys."""
        self._glyphs: dict[str, list[Glyph]] = {}
        self._names: dict[str, str] = {}

    def add(self, glyph: Glyph, key: str) -> str:
        """Give a glyph the next code of its font, from 1; `key` is the glyph's own."""
        known = self._glyphs.setdefault(glyph.font, [])
        self._names.setdefault(glyph.font, f"/F{len(self._names)}")
        known.append(glyph)
        self.codes[key] = f"{len(known):04X}"
        return self.codes[key]

    def name(self, font: str) -> str:
        """A font's name in the content."""
        return self._names[font]

    def embedded(self, book: Pdf) -> Dictionary:
        """Every font, made and put into the book, as a page's resources name them."""
        return Dictionary(
            {
                self.name(font): book.make_indirect(_font(book, font, known))
                for font, known in self._glyphs.items()
            }
        )


def _strokes(outline: str) -> Iterator[tuple[str, list[tuple[float, float]]]]:
    numbers: list[float] = []
    for word in outline.split():
        if word in "mlc":
            yield word, list(zip(numbers[::2], numbers[1::2], strict=True))
            numbers = []
        else:
            numbers.append(float(word))


@cache
def _charstring(glyph: Glyph) -> bytes:
    """A glyph as a Type 2 charstring (Adobe Technical Note 5177)."""
    pen = T2CharStringPen(glyph.width, None)
    started = False
    for stroke, points in _strokes(glyph.outline):
        if stroke == "m":
            if started:
                pen.closePath()
            pen.moveTo(points[0])
            started = True
        elif stroke == "l":
            pen.lineTo(points[0])
        else:
            pen.curveTo(*points)
    if started:
        pen.closePath()
    found = pen.getCharString()
    found.compile()
    return bytes(found.bytecode)


def _program(name: str, glyphs: list[Glyph]) -> bytes:
    """The glyphs as a compact font (CFF, Adobe Technical Note 5176), numbered from 1."""
    names = [".notdef", *(f"g{number}" for number in range(1, len(glyphs) + 1))]
    shapes = [Glyph("", "", 500, ""), *glyphs]
    strings = {
        label: T2CharString(bytecode=_charstring(glyph)) for label, glyph in zip(names, shapes, strict=True)
    }
    builder = FontBuilder(1000, isTTF=False)
    builder.setupGlyphOrder(names)
    xs, ys = _extent(glyphs)
    builder.setupCFF(name, {"FullName": name, "FontBBox": [xs[0], ys[0], xs[1], ys[1]]}, strings, {})
    # The box is known; to reckon it anew every outline would be drawn.
    builder.font.recalcBBoxes = False
    out = BytesIO()
    builder.font["CFF "].cff.compile(out, builder.font)
    return out.getvalue()


def _font(book: Pdf, font: str, glyphs: list[Glyph]) -> Object:
    program_hash = hashlib.sha256("\0".join(glyph.key for glyph in glyphs).encode()).digest()
    # Six capitals and a plus sign mark a part of a font (ISO 32000-1, 9.6.4).
    name = "".join(chr(65 + byte % 26) for byte in program_hash[:6]) + f"+{font}"
    program = book.make_stream(_program(name, glyphs))
    program.Subtype = Name.CIDFontType0C
    xs, ys = _extent(glyphs)
    descriptor = Dictionary(
        Type=Name.FontDescriptor,
        FontName=Name(f"/{name}"),
        Flags=4,
        FontBBox=Array([xs[0], ys[0], xs[1], ys[1]]),
        ItalicAngle=-12 if "Ita" in font else 0,
        Ascent=ys[1],
        Descent=ys[0],
        CapHeight=ys[1],
        StemV=80,
        FontFile3=program,
    )
    inner = Dictionary(
        Type=Name.Font,
        Subtype=Name.CIDFontType0,
        BaseFont=Name(f"/{name}"),
        CIDSystemInfo=Dictionary(Registry=b"Adobe", Ordering=b"Identity", Supplement=0),
        FontDescriptor=book.make_indirect(descriptor),
        DW=0,
        W=Array([1, Array([round(glyph.width, 2) for glyph in glyphs])]),
    )
    return Dictionary(
        Type=Name.Font,
        Subtype=Name.Type0,
        BaseFont=Name(f"/{name}"),
        Encoding=Name("/Identity-H"),
        DescendantFonts=Array([book.make_indirect(inner)]),
        ToUnicode=book.make_stream(_to_unicode(glyphs)),
    )


def _extent(glyphs: list[Glyph]) -> tuple[tuple[int, int], tuple[int, int]]:
    boxes = [box for glyph in glyphs if (box := _box(glyph))] or [(0, 0, 0, 0)]
    lefts, bottoms, rights, tops = zip(*boxes, strict=True)
    return (min(lefts), max(rights)), (min(bottoms), max(tops))


@cache
def _box(glyph: Glyph) -> tuple[int, int, int, int] | None:
    points = [point for _, stroke in _strokes(glyph.outline) for point in stroke]
    if not points:
        return None
    xs, ys = zip(*points, strict=True)
    return int(min(xs)), int(min(ys)), int(max(xs)), int(max(ys))


_UNKNOWN = "\ufffd"
"""For a glyph of which nobody knows what it stands for: a PDF that lasts has a character for each."""


def _to_unicode(glyphs: list[Glyph]) -> bytes:
    rows = [
        f"<{number:04X}> <{(glyph.text or _UNKNOWN).encode('utf-16-be').hex().upper()}>"
        for number, glyph in enumerate(glyphs, start=1)
    ]
    blocks = []
    for start in range(0, len(rows), 100):
        block = rows[start : start + 100]
        blocks.append(f"{len(block)} beginbfchar\n" + "\n".join(block) + "\nendbfchar")
    return (
        "/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n"
        "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def\n"
        "/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n"
        "1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n"
        + "\n".join(blocks)
        + "\nendcmap\nCMapName currentdict /CMap defineresource pop\nend\nend\n"
    ).encode()
