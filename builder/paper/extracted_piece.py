"""A piece's ink, ready for any page: plain values without the file they came from."""

from __future__ import annotations

import hashlib
import json
import zlib
from dataclasses import dataclass, replace
from functools import cache


@dataclass(frozen=True, slots=True)
class Glyph:
    """A glyph of a named font, 1000 units to its size.

    `outline` is path operators as PDF writes them (m, l, c), `text` what the glyph stands for.
    """

    font: str
    outline: str
    width: float
    text: str

    @property
    def key(self) -> str:
        """The same for the same glyph in any piece."""
        return _glyph_key(self)

    @property
    def musical(self) -> bool:
        """Whether it is a sign of music and no letter."""
        return self.font.startswith("Emmentaler")


@cache
def _glyph_key(glyph: Glyph) -> str:
    said = f"{glyph.font}\0{glyph.outline}\0{glyph.width}\0{glyph.text}"
    return hashlib.sha256(said.encode()).hexdigest()[:16]


Run = tuple[str | float, ...]
"""Glyphs shown in a row, by their keys; a number moves the next one left by thousandths of the size."""


@dataclass(frozen=True, slots=True)
class ExtractedSystem:
    """A system or a line of words. Sizes in millimetres.

    `baseline` is the height of the highest staff's middle line, or of the words' baseline, below the top;
    None where there is neither. `drawn` is PDF content in hundredths of a point from the strip's upper left
    corner, `top` above the line; its odd places are runs of glyphs.
    """

    top: float
    height: float
    right: float
    baseline: float | None
    drawn: tuple[str | Run, ...]


@dataclass(frozen=True, slots=True)
class EmbeddedPicture:
    """A picture as a PDF holds it: its name there, its size in pixels, and its bytes.

    They are a whole JPEG, or else the pixels row by row, packed as in zlib: three bytes for a pixel in
    `colour` (red, green, blue), else one (0 is black).
    """

    name: str
    width: int
    height: int
    colour: bool
    jpeg: bool
    data: bytes


@dataclass(frozen=True, slots=True)
class ExtractedPiece:
    """A piece: its lines, and the glyphs they name by key.

    `picture` is drawn by its name in a piece that is no music and no words; such a piece is not cached.
    """

    lines: tuple[ExtractedSystem, ...]
    glyphs: dict[str, Glyph]
    picture: EmbeddedPicture | None = None

    def line(self, number: int) -> ExtractedSystem:
        """A line from 0; an empty one where there are fewer, as where words could not be engraved."""
        return self.lines[number] if number < len(self.lines) else ExtractedSystem(0.0, 0.0, 0.0, None, ("",))

    @property
    def shape(self) -> ExtractedPiece:
        """Its measures without its ink."""
        return ExtractedPiece(tuple(replace(line, drawn=()) for line in self.lines), {})

    @property
    def shown(self) -> str:
        """Every character that its glyphs stand for."""
        return "".join(glyph.text for glyph in self.glyphs.values())

    def to_bytes(self) -> bytes:
        """For the cache."""
        numbers = {key: number for number, key in enumerate(self.glyphs)}
        drawn = ([_packed(part, numbers) for part in line.drawn] for line in self.lines)
        lines = [
            [line.top, line.height, line.right, line.baseline, parts]
            for line, parts in zip(self.lines, drawn, strict=True)
        ]
        glyphs = [[key, each.font, each.outline, each.width, each.text] for key, each in self.glyphs.items()]
        return zlib.compress(json.dumps([lines, glyphs], separators=(",", ":")).encode(), 1)

    @classmethod
    def from_bytes(cls, data: bytes) -> ExtractedPiece:
        """Back from the cache.

        Raises zlib.error, ValueError, KeyError or TypeError where the bytes are of another form.
        """
        lines, glyphs = json.loads(zlib.decompress(data))
        named = {key: Glyph(*values) for key, *values in glyphs}
        keys = list(named)
        found = tuple(
            ExtractedSystem(top, height, right, baseline, tuple(_unpacked(part, keys) for part in drawn))
            for top, height, right, baseline, drawn in lines
        )
        return cls(found, named)


def _packed(part: str | Run, numbers: dict[str, int]) -> str | list[int | str]:
    """A run for the cache: glyphs by their numbers, moves in words."""
    if isinstance(part, str):
        return part
    return [numbers[each] if isinstance(each, str) else repr(each) for each in part]


def _unpacked(part: str | list[int | str], keys: list[str]) -> str | Run:
    if isinstance(part, str):
        return part
    return tuple(keys[each] if isinstance(each, int) else float(each) for each in part)
