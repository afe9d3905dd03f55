"""The structure of a PDF: which of its words and pictures are headings, lists, tables, links and figures.

ISO 32000-1, 14.7 and 14.8, as ISO 14289-1 (PDF/UA-1) asks for it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from pikepdf import Array, Dictionary, Name, Object, Pdf, String

from .page import Area
from .tags import Element, Tag

_DEEPEST_HEADING = 6


@dataclass(slots=True)
class _Node:
    """An element and what it holds: elements, marked contents (side, number on it), links (side, number)."""

    element: Element
    held: list[_Node | _Content | _Annotation] = field(default_factory=list)
    index: dict[Element, _Node] = field(default_factory=dict)
    boxes: dict[int, Area] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Content:
    side: int
    number: int


@dataclass(frozen=True, slots=True)
class _Annotation:
    side: int
    number: int


class Structure:
    """The elements of a file, filled in the order of reading and then written once.

    `described` gives the words that stand for a piece of music, by its name.
    """

    def __init__(self, described: Callable[[str], str]) -> None:
        self._described = described
        self._root = _Node(Element("Document"))

    def add_content(self, path: Tag, side: int, number: int, box: Area) -> None:
        """What a side marks with this number belongs to the element that a path leads to.

        `box` is its place on the side in points: left, bottom, right, top.
        """
        node = self._root
        for element in path:
            node = _child(node, element)
            if element.role in _BOXED:
                before = node.boxes.get(side)
                node.boxes[side] = box if before is None else _around(before, box)
        node.held.append(_Content(side, number))

    def add_link(self, path: Tag, side: int, number: int) -> None:
        """A link's annotation, by its number on a side, belongs to the element that a path leads to."""
        node = self._root
        for element in path:
            node = _child(node, element)
        node.held.append(_Annotation(side, number))

    def write(self, book: Pdf, links: Sequence[Sequence[Object]]) -> None:
        """Put the structure into a book; `links` are the annotations of each of its pages."""
        writer = _Writer(book, self._described, [page.obj for page in book.pages], links)
        tree = book.make_indirect(Dictionary(Type=Name.StructTreeRoot))
        tree.K = writer.element(self._root, tree)
        tree.ParentTree, tree.ParentTreeNextKey = writer.parents()
        book.Root.StructTreeRoot = tree
        book.Root.MarkInfo = Dictionary(Marked=True)


def _child(node: _Node, element: Element) -> _Node:
    found = node.index.get(element)
    if found is None:
        found = node.index[element] = _Node(element)
        node.held.append(found)
    return found


_BOXED = frozenset({"Figure", "Table"})
"""Roles that say where they stand (ISO 32000-1, table 344)."""


def _around(one: Area, other: Area) -> Area:
    return min(one[0], other[0]), min(one[1], other[1]), max(one[2], other[2]), max(one[3], other[3])


class _Writer:
    """Writes elements as objects of a book."""

    def __init__(
        self,
        book: Pdf,
        described: Callable[[str], str],
        pages: Sequence[Object],
        links: Sequence[Sequence[Object]],
    ) -> None:
        self._book, self._described = book, described
        self._pages, self._links = pages, links
        # The elements of each side's contents by their numbers, and of the links on all sides.
        self._contents: list[dict[int, Object]] = [{} for _ in pages]
        self._annotations: list[Object] = []
        self._ranks: list[int] = []

    def element(self, node: _Node, parent: Object) -> Object:
        """An element with all that it holds."""
        element = node.element
        about = Dictionary(S=Name(f"/{self._role(element)}"), P=parent)
        made = self._book.make_indirect(about)
        if element.piece:
            made.Alt = String(self._described(element.piece))
        elif element.said:
            made[Name.Alt if element.role == "Figure" else Name.ActualText] = String(element.said)
        if attributes := _attributes(node):
            made.A = attributes
        side = next((held.side for held in node.held if isinstance(held, _Content)), None)
        if side is not None:
            made.Pg = self._pages[side]
        kids = [self._kid(held, made, side) for held in node.held]
        if kids:
            made.K = kids[0] if len(kids) == 1 else Array(kids)
        return made

    def _kid(self, held: _Node | _Content | _Annotation, parent: Object, side: int | None) -> Object | int:
        if isinstance(held, _Node):
            return self.element(held, parent)
        page = self._pages[held.side]
        if isinstance(held, _Content):
            self._contents[held.side][held.number] = parent
            if held.side == side:
                return held.number
            return Dictionary(Type=Name.MCR, Pg=page, MCID=held.number)
        note = self._links[held.side][held.number]
        note.StructParent = len(self._pages) + len(self._annotations)
        self._annotations.append(parent)
        return Dictionary(Type=Name.OBJR, Obj=note, Pg=page)

    def _role(self, element: Element) -> str:
        """Its role; a heading is one level below the last one of a higher rank, so that none is left out."""
        if element.role != "H":
            return element.role
        while self._ranks and self._ranks[-1] >= element.rank:
            self._ranks.pop()
        self._ranks.append(element.rank)
        return f"H{min(len(self._ranks), _DEEPEST_HEADING)}"

    def parents(self) -> tuple[Object, int]:
        """The parent tree, and the next key of it; pages get theirs."""
        numbers: list[Object | int] = []
        for key, found in enumerate(self._contents):
            if found:
                self._pages[key].StructParents = key
                held = Array([found[number] for number in range(len(found))])
                numbers += [key, self._book.make_indirect(held)]
        for key, element in enumerate(self._annotations, start=len(self._pages)):
            numbers += [key, element]
        tree = self._book.make_indirect(Dictionary(Nums=Array(numbers)))
        return tree, len(self._pages) + len(self._annotations)


def _attributes(node: _Node) -> Dictionary | None:
    """What is said of a cell's heading, and of the place of what stands on one page."""
    if node.element.scope:
        return Dictionary(O=Name.Table, Scope=Name(f"/{node.element.scope}"))
    if len(node.boxes) == 1:
        (box,) = node.boxes.values()
        return Dictionary(O=Name.Layout, BBox=Array([round(edge, 1) for edge in box]))
    return None


def page_labels(labels: Sequence[str]) -> Dictionary:
    """Labels of pages (ISO 32000-1, 12.4.2): numbers that go on by one are one entry."""
    numbers: list[Object | int] = []
    expected = ""
    for place, label in enumerate(labels):
        if label != expected or not label:
            numbers += [place, _label(label)]
        expected = f"{int(label) + 1}" if label.isdecimal() else ""
    return Dictionary(Nums=Array(numbers))


def _label(label: str) -> Dictionary:
    if label.isdecimal():
        return Dictionary(S=Name.D, St=int(label))
    return Dictionary(P=String(label)) if label else Dictionary()
