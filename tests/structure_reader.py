"""A tagged PDF as PDFium reads it: the elements of each page with their words, and what no element holds."""

from __future__ import annotations

import ctypes
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import pypdfium2
import pypdfium2.raw as pdfium


@dataclass(frozen=True)
class Read:
    """An element of one page: its role, what stands for it, the words it shows, and the elements in it."""

    role: str
    alt: str = ""
    actual: str = ""
    words: str = ""
    children: tuple[Read, ...] = ()

    def __iter__(self) -> Iterator[Read]:
        """It and all elements in it, in their order."""
        yield self
        for child in self.children:
            yield from child

    @property
    def said(self) -> str:
        """What a reader says of it, its elements included."""
        own = self.alt or self.actual or self.words
        return " ".join(filter(None, (own, *(child.said for child in self.children))))

    @property
    def tree(self) -> str:
        """Roles in brackets: `L(LI(Lbl LBody))`."""
        inner = " ".join(child.tree for child in self.children)
        return f"{self.role}({inner})" if inner else self.role


@dataclass
class ReadPage:
    """A page: its outermost elements below the document, and how many of its drawn things nothing marks."""

    elements: tuple[Read, ...]
    unmarked: int
    marks: set[str] = field(default_factory=set)

    def __iter__(self) -> Iterator[Read]:
        for element in self.elements:
            yield from element


def read_pages(data: bytes) -> list[ReadPage]:
    """Every page of a file."""
    document = pypdfium2.PdfDocument(data)
    return [_page(page) for page in document]


def _page(page: pypdfium2.PdfPage) -> ReadPage:
    words: dict[int, list[str]] = defaultdict(list)
    text = page.get_textpage()
    unmarked, names = 0, set()
    for number in range(pdfium.FPDFPage_CountObjects(page)):
        thing = pdfium.FPDFPage_GetObject(page, number)
        count = pdfium.FPDFPageObj_CountMarks(thing)
        unmarked += count == 0
        for place in range(count):
            mark = pdfium.FPDFPageObj_GetMark(thing, place)
            names.add(_mark_name(mark))
        if pdfium.FPDFPageObj_GetType(thing) == pdfium.FPDF_PAGEOBJ_TEXT:
            said = _string(lambda buffer, size, thing=thing: _text(thing, text, buffer, size))
            words[pdfium.FPDFPageObj_GetMarkedContentID(thing)].append(said.replace("\0", ""))
    tree = pdfium.FPDF_StructTree_GetForPage(page)
    tops = [
        _element(pdfium.FPDF_StructTree_GetChildAtIndex(tree, number), words)
        for number in range(pdfium.FPDF_StructTree_CountChildren(tree))
    ]
    pdfium.FPDF_StructTree_Close(tree)
    return ReadPage(tuple(child for top in tops for child in top.children), unmarked, names)


def _text(thing: Any, page: Any, buffer: Any, size: int) -> int:
    wide = ctypes.cast(buffer, ctypes.POINTER(pdfium.FPDF_WCHAR)) if buffer else None
    return int(pdfium.FPDFTextObj_GetText(thing, page, wide, size))


def _mark_name(mark: Any) -> str:
    size = ctypes.c_ulong()
    pdfium.FPDFPageObjMark_GetName(mark, None, 0, size)
    buffer = ctypes.create_string_buffer(size.value)
    wide = ctypes.cast(buffer, ctypes.POINTER(pdfium.FPDF_WCHAR))
    pdfium.FPDFPageObjMark_GetName(mark, wide, size, size)
    return buffer.raw.decode("utf-16-le").rstrip("\0")


def _string(read: Callable[[Any, int], int]) -> str:
    """A text that PDFium gives in UTF-16, asked for its length first."""
    size = read(None, 0)
    buffer = ctypes.create_string_buffer(max(size, 2))
    read(buffer, size)
    return buffer.raw.decode("utf-16-le").rstrip("\0")


def _element(element: Any, words: dict[int, list[str]]) -> Read:
    numbers = (
        pdfium.FPDF_StructElement_GetMarkedContentIdAtIndex(element, place)
        for place in range(pdfium.FPDF_StructElement_GetMarkedContentIdCount(element))
    )
    found = (
        pdfium.FPDF_StructElement_GetChildAtIndex(element, place)
        for place in range(pdfium.FPDF_StructElement_CountChildren(element))
    )
    return Read(
        _string(lambda buffer, size: pdfium.FPDF_StructElement_GetType(element, buffer, size)),
        _string(lambda buffer, size: pdfium.FPDF_StructElement_GetAltText(element, buffer, size)),
        _string(lambda buffer, size: pdfium.FPDF_StructElement_GetActualText(element, buffer, size)),
        " ".join("".join("".join(words.get(number, ())) for number in numbers if number >= 0).split()),
        tuple(_element(child, words) for child in found if child),
    )
