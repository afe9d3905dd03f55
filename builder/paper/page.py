"""Finished pages as plain values: what lies where."""

from __future__ import annotations

from dataclasses import dataclass

from .extracted_piece import ExtractedPiece
from .tags import Tag

Area = tuple[float, float, float, float]
"""Left, top, right, bottom in millimetres from the page's upper left corner."""


@dataclass(frozen=True, slots=True)
class PlacedSystem:
    """A line of a piece on a page, counted from 0; its left end and top are millimetres from the upper left.

    `strip` is the piece, or its name: music is read when its page is written, and not held until then. It is
    drawn `scale` times as large as it was engraved. `tag` leads to the element of the file's structure that
    holds it; it is empty for what is not read out.
    """

    strip: ExtractedPiece | str
    line: int
    left: float
    top: float
    scale: float = 1.0
    tag: Tag = ()


@dataclass(frozen=True, slots=True)
class PlacedLink:
    """An area that leads to a marked place; `said` is where, in words."""

    mark: str
    area: Area
    said: str
    tag: Tag


@dataclass(frozen=True, slots=True)
class Page:
    """A page: what is on it, places that links lead to (name, height), links, dotted lines, black areas.

    `label` is the number that is printed on it, as far as one is.
    """

    stamps: tuple[PlacedSystem, ...] = ()
    marks: tuple[tuple[str, float], ...] = ()
    links: tuple[PlacedLink, ...] = ()
    leaders: tuple[tuple[float, float, float], ...] = ()
    blocks: tuple[Area, ...] = ()
    label: str = ""


@dataclass(frozen=True, slots=True)
class SheetSide:
    """One side of a sheet: its size in millimetres, and the pages on it with each one's left edge.

    They have the order of reading. `numbers` are their places in it, and empty where the sides have it too.
    """

    width: float
    height: float
    leaves: tuple[tuple[Page, float], ...]
    numbers: tuple[int, ...] = ()


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
