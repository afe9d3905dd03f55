"""The structure of a PDF: which of its words and pictures are headings, lists, tables, links and figures.

ISO 32000-1, 14.7 and 14.8, as ISO 14289-1 (PDF/UA-1) asks for it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from pikepdf import Array, Dictionary, Name, Object, String

from ..page import Area
from ..tags import Element, Tag
from .objects import PdfObjects, number_words, reference, text_string

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

    def add_content(self, tag: Tag, side: int, number: int, box: Area) -> None:
        """What a side marks with this number belongs to the element that a tag leads to.

        `box` is its place on the side in points: left, bottom, right, top.
        """
        node = self._root
        for element in tag:
            node = _child(node, element)
            if element.role in _BOXED:
                before = node.boxes.get(side)
                node.boxes[side] = box if before is None else _around(before, box)
        node.held.append(_Content(side, number))

    def add_link(self, tag: Tag, side: int, number: int) -> None:
        """A link's annotation, by its number on a side, belongs to the element that a tag leads to."""
        node = self._root
        for element in tag:
            node = _child(node, element)
        node.held.append(_Annotation(side, number))

    def write(
        self, objects: PdfObjects, pages: Sequence[int], links: Sequence[Sequence[int]]
    ) -> WrittenStructure:
        """Add the structure to a file's objects.

        `pages` are the numbers of its pages there, and `links` those of each page's annotations.
        """
        tree = objects.reserve()
        writer = _Writer(objects, self._described, pages, links)
        root = writer.element(self._root, tree)
        parents, following = writer.parents()
        objects.put(
            tree,
            f"<</Type/StructTreeRoot/K {reference(root)}/ParentTree {reference(parents)}"
            f"/ParentTreeNextKey {following}>>",
        )
        return WrittenStructure(tree, writer.marked_pages(), writer.annotation_keys)


@dataclass(frozen=True, slots=True)
class WrittenStructure:
    """The number of a structure's root among a file's objects, and its keys of pages and annotations.

    `pages` are the pages with marked contents, by their places; the key of a page is its place. `annotations`
    has the keys of annotations by their numbers among the objects.
    """

    tree: int
    pages: frozenset[int]
    annotations: dict[int, int]


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
    """Writes elements as objects of a file."""

    def __init__(
        self,
        objects: PdfObjects,
        described: Callable[[str], str],
        pages: Sequence[int],
        links: Sequence[Sequence[int]],
    ) -> None:
        self._objects, self._described = objects, described
        self._pages, self._links = pages, links
        # The elements of each side's contents by their numbers, and of the links on all sides.
        self._contents: list[dict[int, int]] = [{} for _ in pages]
        self._annotations: list[int] = []
        self.annotation_keys: dict[int, int] = {}
        self._ranks: list[int] = []

    def element(self, node: _Node, parent: int) -> int:
        """Add an element with all that it holds; its number."""
        element = node.element
        made = self._objects.reserve()
        rows = [f"<</S/{self._role(element)}/P {parent} 0 R"]
        if element.piece:
            rows.append(f"/Alt{text_string(self._described(element.piece))}")
        elif element.said:
            name = "Alt" if element.role == "Figure" else "ActualText"
            rows.append(f"/{name}{text_string(element.said)}")
        rows.append(_attributes(node))
        side = next((held.side for held in node.held if isinstance(held, _Content)), None)
        if side is not None:
            rows.append(f"/Pg {self._pages[side]} 0 R")
        kids = [self._kid(held, made, side) for held in node.held]
        if kids:
            rows.append(f"/K {kids[0]}" if len(kids) == 1 else f"/K[{' '.join(kids)}]")
        rows.append(">>")
        self._objects.put(made, "".join(rows))
        return made

    def _kid(self, held: _Node | _Content | _Annotation, parent: int, side: int | None) -> str:
        if isinstance(held, _Node):
            return reference(self.element(held, parent))
        page = self._pages[held.side]
        if isinstance(held, _Content):
            self._contents[held.side][held.number] = parent
            if held.side == side:
                return f"{held.number}"
            return f"<</Type/MCR/Pg {page} 0 R/MCID {held.number}>>"
        note = self._links[held.side][held.number]
        self.annotation_keys[note] = len(self._pages) + len(self._annotations)
        self._annotations.append(parent)
        return f"<</Type/OBJR/Obj {note} 0 R/Pg {page} 0 R>>"

    def _role(self, element: Element) -> str:
        """Its role; a heading is one level below the last one of a higher rank, so that none is left out."""
        if element.role != "H":
            return element.role
        while self._ranks and self._ranks[-1] >= element.rank:
            self._ranks.pop()
        self._ranks.append(element.rank)
        return f"H{min(len(self._ranks), _DEEPEST_HEADING)}"

    def marked_pages(self) -> frozenset[int]:
        """The places of the pages with marked contents."""
        return frozenset(place for place, found in enumerate(self._contents) if found)

    def parents(self) -> tuple[int, int]:
        """Add the parent tree; its number, and the next key of it."""
        rows = []
        for key, found in enumerate(self._contents):
            if found:
                held = " ".join(reference(found[number]) for number in range(len(found)))
                rows.append(f"{key} {reference(self._objects.add(f'[{held}]'))}")
        first = len(self._pages)
        rows += [f"{key} {element} 0 R" for key, element in enumerate(self._annotations, start=first)]
        return self._objects.add(f"<</Nums[{' '.join(rows)}]>>"), first + len(self._annotations)


def _attributes(node: _Node) -> str:
    """What is said of a cell's heading, and of the place of what stands on one page; empty without either."""
    if node.element.scope:
        return f"/A<</O/Table/Scope/{node.element.scope}>>"
    if len(node.boxes) == 1:
        (box,) = node.boxes.values()
        return f"/A<</O/Layout/BBox[{number_words(box)}]>>"
    return ""


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
