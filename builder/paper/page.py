"""Finished pages as plain values: what lies where."""

from __future__ import annotations

from dataclasses import dataclass

from .extracted_piece import ExtractedPiece

Area = tuple[float, float, float, float]
"""Left, top, right, bottom in millimetres from the page's upper left corner."""


@dataclass(frozen=True, slots=True)
class PlacedSystem:
    """A line of a piece on a page, counted from 0; its left end and top are millimetres from the upper left.

    `strip` is the piece, or its name: music is read when its page is written, and not held until then.
    """

    strip: ExtractedPiece | str
    line: int
    left: float
    top: float


@dataclass(frozen=True, slots=True)
class Page:
    """A page: what is on it, the places links may lead to (name and height), the links, and dotted lines."""

    stamps: tuple[PlacedSystem, ...] = ()
    marks: tuple[tuple[str, float], ...] = ()
    links: tuple[tuple[str, Area], ...] = ()
    leaders: tuple[tuple[float, float, float], ...] = ()


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
