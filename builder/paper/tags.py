"""What the things on a page are to a reader that speaks: elements of a structure (ISO 32000-1, 14.8)."""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Element:
    """An element: its role, as PDF names it, and a name that tells it from the others in the same element.

    A heading has the role `H` and a `rank` from 1, the highest; its level follows from the headings before
    it. `said` is read in place of what is shown: the name of a sign, what a picture shows. `piece` names the
    music that a figure shows, and `scope` says what the heading of a table's cells is for: Row or Column.
    """

    role: str
    name: str = ""
    rank: int = 0
    said: str = ""
    piece: str = ""
    scope: str = ""


Tag = tuple[Element, ...]
"""Elements from the outermost to that which holds a thing; empty for what is not read out."""

ARTIFACT: Tag = (Element("Artifact"),)
"""For what is not read out: a ruled line, an ornament."""

PAGINATION: Tag = (Element("Artifact", "Pagination"),)
"""For what belongs to the page: running heads, page numbers, marks for the thumb."""

_HOLDERS = frozenset({"H", "P", "Lbl", "LBody", "Caption", "TH", "TD", "Link", "Figure", "Artifact"})
"""Roles whose elements hold words or music themselves."""


def is_artifact(path: Tag) -> bool:
    """Whether a thing is not read out."""
    return not path or path[0].role == "Artifact"


def heading(rank: int, name: str = "", said: str = "") -> Element:
    """A heading of this rank."""
    return Element("H", name, rank, said)


def list_item(number: int, part: str) -> Tag:
    """The label (`Lbl`) or the words (`LBody`) of an item, from its list on."""
    return Element("LI", f"{number}"), Element(part, part)


class RowTagger:
    """Completes the paths of rows one after another.

    Rows that follow each other with the same outermost element share it; after other rows, or in another
    flow, it is another element. A last element without a name is one of its own.
    """

    def __init__(self) -> None:
        self._row = -1
        self._group = 0
        self._before: Element | None = None
        self._path: Tag = ()
        self._figures: dict[str, str] = {}

    def begin_row(self, path: Tag, link: bool = False) -> None:
        """The next row, and the path of all its cells; `link` where the whole row is one."""
        self._row += 1
        if link:
            path = (*path, Element("Link", f"{self._row}"))
        first = path[0] if path else None
        if first is None or first != self._before:
            self._group = self._row
        self._before, self._path = first, path

    def words(self, cell: int, path: Tag, rank: int, said: str) -> Tag:
        """The path of words in a cell, counted from 0: a heading where they have a rank, else a paragraph."""
        whole = self._path + path
        if not _holds(whole):
            whole = (*whole, Element("H" if rank else "P", rank=rank, said=said))
        elif said and not whole[-1].said:
            whole = (*whole, Element("Span", said=said))
        return self._named(whole, f"{self._row}.{cell}")

    def music(self, path: Tag, piece: str, system: int) -> Tag:
        """The path of a system of a piece, counted from 0: with the first begins a figure."""
        whole = self._path + path
        if system == 0 or piece not in self._figures:
            self._figures[piece] = f"{self._row}"
        name = f"{piece}#{self._figures[piece]}"
        return self._named(whole if _holds(whole) else (*whole, Element("Figure", name, piece=piece)), name)

    def picture(self, cell: int, path: Tag) -> Tag:
        """The path of a picture in a cell, counted from 0."""
        return self._named(self._path + path, f"{self._row}.{cell}")

    def link(self, cell: int, path: Tag) -> Tag:
        """The path of a link in a cell, counted from 0: the row's where that is one."""
        whole = self._path + path
        named = whole if whole and whole[-1].role == "Link" else (*whole, Element("Link"))
        return self._named(named, f"{self._row}.{cell}")

    def row_link(self) -> Tag:
        """The path of a row that is a link."""
        return self._named(self._path, "")

    def _named(self, path: Tag, name: str) -> Tag:
        last = path[-1] if path[-1].name or path[-1].role == "Artifact" else replace(path[-1], name=name)
        if len(path) == 1:
            return (last,)
        return (replace(path[0], name=f"{path[0].name}#{self._group}"), *path[1:-1], last)


def _holds(path: Tag) -> bool:
    return bool(path) and path[-1].role in _HOLDERS
