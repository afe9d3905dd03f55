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


def is_artifact(tag: Tag) -> bool:
    """Whether a thing is not read out."""
    return not tag or tag[0].role == "Artifact"


def heading(rank: int, name: str = "") -> Element:
    """A heading of this rank."""
    return Element("H", name, rank)


def list_item(number: int, part: str) -> Tag:
    """The label (`Lbl`) or the words (`LBody`) of an item, from its list on."""
    return Element("LI", f"{number}"), Element(part, part)


class RowTagger:
    """Completes the tags of rows one after another.

    Rows that follow each other with the same outermost element share it; after other rows, or in another
    flow, it is another element. A last element without a name is one of its own.
    """

    def __init__(self) -> None:
        self._row = -1
        self._group = 0
        self._before: Element | None = None
        self._tag: Tag = ()
        self._figures: dict[str, str] = {}

    def begin_row(self, tag: Tag, link: bool = False) -> None:
        """The next row, and the tag of all its cells; `link` where the whole row is one."""
        self._row += 1
        if link:
            tag = (*tag, Element("Link", f"{self._row}"))
        first = tag[0] if tag else None
        if first is None or first != self._before:
            self._group = self._row
        self._before, self._tag = first, tag

    def words(self, cell: int, tag: Tag, rank: int, said: str) -> Tag:
        """The tag of words in a cell, counted from 0: a heading where they have a rank, else a paragraph."""
        whole = self._tag + tag
        if not _holds(whole):
            whole = (*whole, Element("H" if rank else "P", rank=rank, said=said))
        elif said and not whole[-1].said:
            whole = (*whole, Element("Span", said=said))
        return self._named(whole, f"{self._row}.{cell}")

    def music(self, tag: Tag, piece: str, system: int) -> Tag:
        """The tag of a system of a piece, counted from 0: with the first begins a figure."""
        whole = self._tag + tag
        if system == 0 or piece not in self._figures:
            self._figures[piece] = f"{self._row}"
        name = f"{piece}#{self._figures[piece]}"
        return self._named(whole if _holds(whole) else (*whole, Element("Figure", name, piece=piece)), name)

    def picture(self, cell: int, tag: Tag) -> Tag:
        """The tag of a picture in a cell, counted from 0."""
        return self._named(self._tag + tag, f"{self._row}.{cell}")

    def link(self, cell: int, tag: Tag) -> Tag:
        """The tag of a link in a cell, counted from 0: the row's where that is one."""
        whole = self._tag + tag
        named = whole if whole and whole[-1].role == "Link" else (*whole, Element("Link"))
        return self._named(named, f"{self._row}.{cell}")

    def row_link(self) -> Tag:
        """The tag of a row that is a link."""
        return self._named(self._tag, "")

    def _named(self, tag: Tag, name: str) -> Tag:
        last = tag[-1] if tag[-1].name or tag[-1].role == "Artifact" else replace(tag[-1], name=name)
        if len(tag) == 1:
            return (last,)
        return (replace(tag[0], name=f"{tag[0].name}#{self._group}"), *tag[1:-1], last)


def _holds(tag: Tag) -> bool:
    return bool(tag) and tag[-1].role in _HOLDERS
