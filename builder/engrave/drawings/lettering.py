"""Words as outlines, where the engraver leaves them as text: the glyphs of the face that it measured them in.

A face is laid out as the engraver does it, with its joined letters (`liga` in its table GSUB) and its kerning
(pairs in its table GPOS). Other rules of a face are left out. The tables are those of OpenType:
https://learn.microsoft.com/typography/opentype/spec
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from functools import cache
from typing import Any

from fontTools.pens.basePen import BasePen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont, TTLibError

from ..faces import find_face_file
from .svg_plain import Letterer, PlacedGlyph, Wording


class Face:
    """A font file, laid out letter by letter. Raises OSError or TTLibError where it is none."""

    def __init__(self, path: str) -> None:
        font = TTFont(path, lazy=True, fontNumber=0)
        self._names: dict[int, str] = font.getBestCmap() or {}
        self._glyphs = font.getGlyphSet()
        self._units: int = font["head"].unitsPerEm
        self._ligatures = _lookups(font, "GSUB", "liga", 4)
        self._kerns: dict[tuple[str, str], float] = {}
        self._pairs = _lookups(font, "GPOS", "kern", 2)

    def has(self, letter: str) -> bool:
        """Whether it has a glyph for a letter."""
        return ord(letter) in self._names

    def lay_out(self, words: str, right: float = 0.0) -> tuple[list[PlacedGlyph], float]:
        """The glyphs of words from `right` on, and where they end, in sizes of the letters."""
        found: list[PlacedGlyph] = []
        names = self._join([self._names[ord(letter)] for letter in words])
        for name, following in zip(names, [*names[1:], ""], strict=True):
            found.append((self._drawing(name), right))
            right += (self._glyphs[name].width + self._kern(name, following)) / self._units
        return found, right

    def _drawing(self, name: str) -> Any:
        def draw(pen: BasePen) -> None:
            self._glyphs[name].draw(TransformPen(pen, (1 / self._units, 0, 0, 1 / self._units, 0, 0)))

        return draw

    def _join(self, names: list[str]) -> list[str]:
        """Names of glyphs with the joined letters; what one lookup has joined, the next may join again."""
        for tables in self._ligatures:
            found: list[str] = []
            at = 0
            while at < len(names):
                ways = (way for table in tables for way in table.ligatures.get(names[at], ()))
                way = next(
                    (way for way in ways if names[at + 1 : at + 1 + len(way.Component)] == way.Component),
                    None,
                )
                found.append(way.LigGlyph if way else names[at])
                at += 1 + (len(way.Component) if way else 0)
            names = found
        return names

    def _kern(self, name: str, following: str) -> float:
        """How far the face moves the next glyph to the right, in its units."""
        key = name, following
        if key not in self._kerns:
            self._kerns[key] = sum(_pair_value(tables, name, following) for tables in self._pairs)
        return self._kerns[key]


def _pair_value(tables: list[Any], name: str, following: str) -> float:
    """What one lookup says of a pair of glyphs: the first of its tables that has the pair."""
    for table in tables:
        if name not in table.Coverage.glyphs:
            continue
        if table.Format == 1:
            pairs = table.PairSet[table.Coverage.glyphs.index(name)].PairValueRecord
            value = next((pair.Value1 for pair in pairs if pair.SecondGlyph == following), None)
            if value is None:
                continue
        else:
            first = table.Class1Record[table.ClassDef1.classDefs.get(name, 0)]
            value = first.Class2Record[table.ClassDef2.classDefs.get(following, 0)].Value1
        return float(getattr(value, "XAdvance", 0))
    return 0.0


def _lookups(font: TTFont, name: str, feature: str, kind: int) -> list[list[Any]]:
    """The lookups of one kind in a feature, each with its tables, in the order in which they count."""
    table = font[name].table if name in font else None
    if table is None or table.FeatureList is None:
        return []
    numbers = {
        number
        for record in table.FeatureList.FeatureRecord
        if record.FeatureTag == feature
        for number in record.Feature.LookupListIndex
    }
    lookups = (table.LookupList.Lookup[number].SubTable for number in sorted(numbers))
    # An extension only says where a table itself is.
    found = ([getattr(each, "ExtSubTable", each) for each in tables] for tables in lookups)
    return [tables for tables in found if tables and tables[0].LookupType == kind]


@cache
def letterer(engraver: str) -> Letterer:
    """Gives the glyphs of words that the engraver at a path wrote as text."""

    def glyphs_of(wording: Wording) -> list[PlacedGlyph] | None:
        families = [family.strip() for family in wording.family.split(",")]
        said = unicodedata.normalize("NFC", wording.words)
        if any(unicodedata.category(sign)[0] in "MC" for sign in said):
            # A mark stands over its letter by other rules, and a control sign may change the direction.
            return None
        found: list[PlacedGlyph] = []
        right = 0.0
        for face, words in _runs(said, families, wording.italic, wording.bold, engraver):
            if face is None:
                return None
            glyphs, right = face.lay_out(words, right)
            found += glyphs
        return found

    return glyphs_of


def _runs(
    words: str, families: list[str], italic: bool, bold: bool, engraver: str
) -> Iterator[tuple[Face | None, str]]:
    """Words cut where another face begins: the first of the families' faces that has a letter shows it."""
    run = ""
    shown: Face | None = None
    for letter in words:
        faces = (find_face(family, italic, bold, engraver) for family in families)
        face = next((face for face in faces if face and face.has(letter)), None)
        if run and face is not shown:
            yield shown, run
            run = ""
        shown = face
        run += letter
    if run:
        yield shown, run


@cache
def find_face(family: str, italic: bool, bold: bool, engraver: str) -> Face | None:
    """The face of a family that the engraver at a path takes; None where there is none that can be read."""
    path = find_face_file(family, italic, bold, engraver)
    try:
        return Face(path) if path else None
    except (OSError, TTLibError):
        return None
