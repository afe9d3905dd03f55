"""The glyphs of a piece's fonts: outline, width and the text each stands for."""

from __future__ import annotations

import logging
import re
import unicodedata
from collections.abc import Iterator
from io import BytesIO
from typing import Any

from fontTools.agl import UV2AGL, toUnicode
from fontTools.cffLib import CFFFontSet
from fontTools.pens.basePen import BasePen
from fontTools.ttLib import TTFont
from pikepdf import Dictionary, Object, Page

from ..extracted_piece import Glyph

# Of a font that holds more than it needs there is nothing to tell the player.
logging.getLogger("fontTools").setLevel(logging.ERROR)


class Unreadable(ValueError):
    """Raised where a piece's PDF holds what is not understood here; the text says what."""


class _Outline(BasePen):  # type: ignore[misc]
    """Draws into PDF's path operators, scaled to 1000 units; a quadratic curve becomes a cubic one."""

    def __init__(self, glyphs: Any, units: float) -> None:
        super().__init__(glyphs)
        self.scale = 1000 / units
        self.rows: list[str] = []

    def _add(self, operator: str, *points: tuple[float, float]) -> None:
        numbers = " ".join(str(round(value * self.scale)) for point in points for value in point)
        self.rows.append(f"{numbers} {operator}")

    def _moveTo(self, pt: tuple[float, float]) -> None:
        self._add("m", pt)

    def _lineTo(self, pt: tuple[float, float]) -> None:
        self._add("l", pt)

    def _curveToOne(self, pt1: Any, pt2: Any, pt3: Any) -> None:
        self._add("c", pt1, pt2, pt3)


_OUTLINES: dict[tuple[str, str, float, bytes | None], str] = {}


class Face:
    """One font of a piece's PDF: its bytes cut into codes, and the glyph of each code."""

    def __init__(self, font: Object) -> None:
        self.name = str(font.BaseFont)[1:].split("+")[-1]
        self.wide = font.Subtype == "/Type0"
        self._texts = _to_unicode(font.ToUnicode.read_bytes()) if "/ToUnicode" in font else {}
        inner = font.DescendantFonts[0] if self.wide else font
        self._widths = _wide_widths(inner) if self.wide else _widths(font)
        if self.wide and font.get("/Encoding") != "/Identity-H":
            raise Unreadable(f"the piece's PDF codes the font {self.name} in an unknown way")
        self._names, self._outlines, self._units, symbols = _program(inner, self.name)
        self._encoding = {} if self.wide else (symbols if "/Encoding" not in font else {}) or _encoding(font)
        self._found: dict[int, Glyph] = {}

    def codes(self, text: bytes) -> Iterator[int]:
        """The codes in a string of the content."""
        step = 2 if self.wide else 1
        return (int.from_bytes(text[at : at + step], "big") for at in range(0, len(text), step))

    def glyph(self, code: int) -> Glyph:
        """The glyph of a code. Raises Unreadable where the font has none."""
        if code not in self._found:
            name = self._name(code)
            text = _plain(self._texts.get(code) or toUnicode(name))
            width = self._widths.get(code, 0.0)
            program = getattr(self._outlines[name], "bytecode", None)
            # The engraver gives each piece a part of the same font: what has the same program, name and
            # width there is the same glyph, and its outline is worked out once.
            same = (self.name, text, width, program)
            outline = _OUTLINES.get(same) if program and text else None
            if outline is None:
                pen = _Outline(self._outlines, self._units)
                self._outlines[name].draw(pen)
                outline = _OUTLINES[same] = " ".join(pen.rows)
            self._found[code] = Glyph(self.name, outline, width, text)
        return self._found[code]

    def _name(self, code: int) -> str:
        if self.wide:
            cid = f"cid{code:05d}"
            name = cid if cid in self._outlines else self._names[code] if code < len(self._names) else ""
        else:
            name = self._encoding.get(code, "")
        if name not in self._outlines:
            raise Unreadable(f"the piece's PDF shows a letter that the font {self.name} has not")
        return name


def faces(page: Page) -> dict[str, Face]:
    """Every font of a page, by its name in the content. Raises Unreadable."""
    resources = page.obj.get("/Resources")
    fonts = resources.get("/Font") if resources is not None else None
    return {name: Face(font) for name, font in fonts.items()} if fonts is not None else {}


def _plain(text: str) -> str:
    """Joined letters apart, so that a search for `fine` finds it; music's private signs as they are."""
    return unicodedata.normalize("NFKC", text) if "\ufb00" <= text[:1] <= "\ufb06" else text


def _program(font: Object, name: str) -> tuple[list[str], Any, float, dict[int, str]]:
    """The font program's glyph names in order, its outlines by name, its units to the size.

    And of a TrueType font the names by its own codes, which a font without an encoding is shown by.
    """
    descriptor = font.FontDescriptor
    if "/FontFile3" in descriptor and descriptor.FontFile3.Subtype != "/OpenType":
        fonts = CFFFontSet()
        fonts.decompile(BytesIO(descriptor.FontFile3.read_bytes()), None)
        top = fonts[0]
        return list(top.charset), top.CharStrings, 1 / top.FontMatrix[0], {}
    for key in ("/FontFile2", "/FontFile3"):
        if key in descriptor:
            program = TTFont(BytesIO(descriptor[key].read_bytes()), lazy=True)
            order = program.getGlyphOrder()
            return order, program.getGlyphSet(), program["head"].unitsPerEm, _symbols(program)
    raise Unreadable(f"the piece's PDF holds the font {name} in a form that cannot be read")


def _symbols(program: TTFont) -> dict[int, str]:
    """ISO 32000-1, 9.6.6.4: codes stand in a table of their own, some by 0xF000 higher."""
    found: dict[int, str] = {}
    for table in program["cmap"].tables if "cmap" in program else ():
        if (table.platformID, table.platEncID) in ((1, 0), (3, 0)):
            found |= {code & 0xFF: name for code, name in table.cmap.items()}
    return found


def _widths(font: Object) -> dict[int, float]:
    first = int(font.FirstChar)
    return {first + place: float(width) for place, width in enumerate(font.Widths.as_list())}


def _wide_widths(font: Object) -> dict[int, float]:
    """ISO 32000-1, 9.7.4.3: `first [w ...]` or `first last w`."""
    found: dict[int, float] = {}
    row = font.get("/W")
    entries: list[Any] = list(row.as_list()) if row is not None else []
    at = 0
    while at < len(entries):
        first, second = int(entries[at]), entries[at + 1]
        if isinstance(second, Object):
            found |= {first + place: float(width) for place, width in enumerate(second.as_list())}
            at += 2
        else:
            found |= dict.fromkeys(range(first, int(second) + 1), float(entries[at + 2]))
            at += 3
    return found


_LATIN = {
    code: UV2AGL.get(ord(bytes([code]).decode("cp1252", "replace")), ".notdef") for code in range(32, 256)
}


def _encoding(font: Object) -> dict[int, str]:
    """Glyph names by code; the base is Windows' Latin set, which is the one the engraver uses."""
    names = dict(_LATIN)
    encoding = font.get("/Encoding")
    differences = encoding.get("/Differences") if isinstance(encoding, Dictionary) else None
    code = 0
    for entry in differences.as_list() if differences is not None else []:
        if isinstance(entry, Object):
            names[code] = str(entry)[1:]
            code += 1
        else:
            code = int(entry)
    return names


_PAIR = re.compile(rb"<([0-9a-fA-F]+)>\s*<([0-9a-fA-F]+)>\s*(?:<([0-9a-fA-F]+)>|\[([^\]]*)\])?")


def _to_unicode(data: bytes) -> dict[int, str]:
    """ISO 32000-1, 9.10.3: bfchar and bfrange sections."""
    found: dict[int, str] = {}

    def said(digits: bytes) -> str:
        return bytes.fromhex(digits.decode()).decode("utf-16-be", "replace")

    for kind, body in re.findall(rb"begin(bfchar|bfrange)(.*?)endbf", data, re.DOTALL):
        if kind == b"bfchar":
            rows = re.findall(rb"<([0-9a-fA-F]+)>\s*<([0-9a-fA-F]+)>", body)
            found |= {int(code, 16): said(text) for code, text in rows}
            continue
        for first, last, text, several in _PAIR.findall(body):
            texts = re.findall(rb"<([0-9a-fA-F]+)>", several)
            for place, code in enumerate(range(int(first, 16), int(last, 16) + 1)):
                if texts:
                    found[code] = said(texts[place])
                else:
                    whole = said(text)
                    found[code] = whole[:-1] + chr(ord(whole[-1]) + place)
    return found
