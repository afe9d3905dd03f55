"""Finished pages as plain values: what lies where."""

from __future__ import annotations

from dataclasses import dataclass

from .extracted_piece import ExtractedPiece

Area = tuple[float, float, float, float]
"""Left, top, right, bottom in millimetres from the page's upper left corner."""


@dataclass(frozen=True, slots=True)
class PlacedSystem:
    """A line of a piece on a page, counted from 0; its left end and top are millimetres from the upper left.

    `strip` is the piece, or its name: music is read when its page is written, and not held until then. It is
    drawn `scale` times as large as it was engraved.
    """

    strip: ExtractedPiece | str
    line: int
    left: float
    top: float
    scale: float = 1.0


@dataclass(frozen=True, slots=True)
class Page:
    """A page: what is on it, places that links lead to (name, height), links, dotted lines, black areas."""

    stamps: tuple[PlacedSystem, ...] = ()
    marks: tuple[tuple[str, float], ...] = ()
    links: tuple[tuple[str, Area], ...] = ()
    leaders: tuple[tuple[float, float, float], ...] = ()
    blocks: tuple[Area, ...] = ()


@dataclass(frozen=True, slots=True)
class SheetSide:
    """One side of a sheet: its size in millimetres, and the pages on it with each one's left edge."""

    width: float
    height: float
    leaves: tuple[tuple[Page, float], ...]


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of the outline: its depth from 0, its words and the place it leads to."""

    depth: int
    words: str
    mark: str


@dataclass(frozen=True, slots=True)
class DocumentInfo:
    """What a PDF says of itself."""

    title: str
    author: str
    language: str = "en"
