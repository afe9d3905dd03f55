"""Pages as PDF: every piece placed once or more, nothing engraved again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO

import pikepdf
from pikepdf import Array, Dictionary, Name, OutlineItem, Pdf, String

from builder.engrave.batch import Engraved

from .form import Form
from .rows import Entry

_POINTS = 72 / 25.4


@dataclass(frozen=True, slots=True)
class Ink:
    """One system or line of a piece, its left end and its top in millimetres from the sheet's corner."""

    piece: Engraved
    line: int
    left: float
    top: float


@dataclass(frozen=True, slots=True)
class Leaf:
    """A page: its ink, the places links may lead to, and the links themselves (area and place)."""

    ink: tuple[Ink, ...]
    marks: tuple[tuple[str, float], ...] = ()
    links: tuple[tuple[str, tuple[float, float, float, float]], ...] = ()


@dataclass(frozen=True, slots=True)
class About:
    """What a PDF says of itself."""

    title: str
    author: str
    language: str = "en"


def pdf(leaves: Sequence[Leaf], form: Form, about: About, outline: Sequence[Entry] = ()) -> bytes:
    """The pages as one PDF file; the same pages make the same bytes."""
    with Pdf.new() as book:
        forms: dict[int, pikepdf.Object] = {}
        for leaf in leaves:
            _add(book, leaf, form, forms)
        places = {mark: (number, top) for number, leaf in enumerate(leaves) for mark, top in leaf.marks}
        _join(book, leaves, form, places)
        _outline(book, outline, form, places)
        book.Root.Lang = String(about.language)
        book.Root.ViewerPreferences = Dictionary(DisplayDocTitle=True)
        book.docinfo["/Title"] = about.title
        book.docinfo["/Author"] = about.author
        book.docinfo["/Producer"] = "Stavewright"
        out = BytesIO()
        book.save(out, deterministic_id=True, object_stream_mode=pikepdf.ObjectStreamMode.generate)
    return out.getvalue()


def _add(book: Pdf, leaf: Leaf, form: Form, forms: dict[int, pikepdf.Object]) -> None:
    width, height = form.paper.width * _POINTS, form.paper.height * _POINTS
    names: dict[int, str] = {}
    used = Dictionary()
    rows = []
    for ink in leaf.ink:
        number = id(ink.piece)
        if number not in forms:
            with Pdf.open(BytesIO(ink.piece.pdf)) as strip:
                forms[number] = book.copy_foreign(strip.pages[0].as_form_xobject())
        if number not in names:
            names[number] = f"/s{len(names)}"
            used[names[number]] = forms[number]
        system = ink.piece.systems[ink.line]
        depth = float(forms[number].BBox[3])
        top, bottom = system.top * _POINTS, system.bottom * _POINTS
        x = (ink.left - 1) * _POINTS
        y = height - ink.top * _POINTS - (depth - top)
        rows.append(
            f"q 1 0 0 1 {x:.3f} {y:.3f} cm 0 {depth - bottom:.3f} {600} {bottom - top:.3f} re W n "
            f"{names[number]} Do Q"
        )
    page = book.add_blank_page(page_size=(width, height))
    page.Contents = book.make_stream("\n".join(rows).encode())
    page.Resources = Dictionary(XObject=used)


def _join(book: Pdf, leaves: Sequence[Leaf], form: Form, places: dict[str, tuple[int, float]]) -> None:
    height = form.paper.height
    for page, leaf in zip(book.pages, leaves, strict=True):
        notes = []
        for mark, (left, top, right, bottom) in leaf.links:
            number, at = places[mark]
            area = [value * _POINTS for value in (left, height - bottom, right, height - top)]
            target = [book.pages[number].obj, Name.XYZ, 0, (height - at + 4) * _POINTS, 0]
            notes.append(
                book.make_indirect(
                    Dictionary(
                        Type=Name.Annot, Subtype=Name.Link, Rect=area, Border=[0, 0, 0], Dest=Array(target)
                    )
                )
            )
        if notes:
            page.Annots = Array(notes)


def _outline(book: Pdf, entries: Sequence[Entry], form: Form, places: dict[str, tuple[int, float]]) -> None:
    if not entries:
        return
    with book.open_outline() as outline:
        above: list[list[OutlineItem]] = [outline.root]
        for entry in entries:
            number, at = places[entry.mark]
            item = OutlineItem(
                entry.words, number, "XYZ", left=0, top=(form.paper.height - at + 4) * _POINTS, zoom=0
            )
            del above[entry.depth + 1 :]
            above[entry.depth].append(item)
            above.append(item.children)
