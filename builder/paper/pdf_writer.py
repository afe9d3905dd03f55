"""Pages as PDF: every line of every piece set in its place, in black, from fonts that the file holds once."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Sequence
from io import BytesIO

from pikepdf import Array, Dictionary, Name, ObjectStreamMode, OutlineItem, Pdf, String

from ..units import POINTS_PER_MM
from .extracted_piece import ExtractedPiece, Run
from .font_subset import Fonts
from .page import DocumentInfo, Entry, SheetSide

_ABOVE = 4
"""Millimetres shown above a place that a link leads to."""


_LEVEL = 5
"""How hard pages are packed: 6 takes half as long again for two hundredths less."""

Strips = Callable[[str], ExtractedPiece]
"""A piece by its name."""


def write_pdf(
    sides: Sequence[SheetSide], about: DocumentInfo, outline: Sequence[Entry], strips: Strips
) -> bytes:
    """The sides as one PDF file; the same sides make the same bytes."""
    fonts = Fonts()
    # Packed as they are made, so that a long book takes little memory.
    shown: dict[Run, str] = {}
    contents = [zlib.compress(_content(side, fonts, strips, shown), _LEVEL) for side in sides]
    places = {
        mark: (number, left, side.height - top + _ABOVE)
        for number, side in enumerate(sides)
        for leaf, left in side.leaves
        for mark, top in leaf.marks
    }
    with Pdf.new() as book:
        resources = Dictionary(Font=fonts.embedded(book))
        if pictures := _pictures(book, sides):
            resources.XObject = pictures
        shared = book.make_indirect(resources)
        for side, content in zip(sides, contents, strict=True):
            page = book.add_blank_page(page_size=(side.width * POINTS_PER_MM, side.height * POINTS_PER_MM))
            page.obj.MediaBox = Array(
                [0, 0, round(side.width * POINTS_PER_MM, 2), round(side.height * POINTS_PER_MM, 2)]
            )
            page.obj.Contents = book.make_stream(content, Filter=Name.FlateDecode)
            page.obj.Resources = shared
        _join(book, sides, places)
        if outline:
            _outline(book, outline, places)
        book.Root.Lang = String(about.language)
        book.Root.ViewerPreferences = Dictionary(DisplayDocTitle=True)
        for name, said in (("Title", about.title), ("Author", about.author), ("Producer", "Stavewright")):
            book.docinfo[f"/{name}"] = said
        out = BytesIO()
        book.save(
            out,
            deterministic_id=True,
            object_stream_mode=ObjectStreamMode.generate,
            compress_streams=True,
            recompress_flate=False,
        )
    return out.getvalue()


def _pictures(book: Pdf, sides: Sequence[SheetSide]) -> Dictionary | None:
    """Every picture on the sides, once each; None where there are none."""
    found = {
        stamp.strip.picture.name: stamp.strip.picture
        for side in sides
        for leaf, _ in side.leaves
        for stamp in leaf.stamps
        if isinstance(stamp.strip, ExtractedPiece) and stamp.strip.picture
    }
    if not found:
        return None
    embedded = Dictionary()
    for name, picture in found.items():
        embedded[f"/{name}"] = book.make_stream(
            picture.data,
            Type=Name.XObject,
            Subtype=Name.Image,
            Width=picture.width,
            Height=picture.height,
            ColorSpace=Name.DeviceRGB if picture.colour else Name.DeviceGray,
            BitsPerComponent=8,
            Filter=Name.DCTDecode if picture.jpeg else Name.FlateDecode,
        )
    return embedded


def _content(side: SheetSide, fonts: Fonts, strips: Strips, shown: dict[Run, str]) -> bytes:
    """A side in PDF's words; `shown` holds runs of glyphs that were written before, and grows."""
    rows = ["0 g 0 G"]
    for leaf, across in side.leaves:
        for stamp in leaf.stamps:
            x = (across + stamp.left) * POINTS_PER_MM
            strip = strips(stamp.strip) if isinstance(stamp.strip, str) else stamp.strip
            line = strip.line(stamp.line)
            y = (side.height - stamp.top + line.top * stamp.scale) * POINTS_PER_MM
            size = f"{stamp.scale / 100:.4f}".strip("0")
            rows.append(f"q {size} 0 0 {size} {x:.2f} {y:.2f} cm")
            for part in line.drawn:
                if isinstance(part, str):
                    rows.append(part)
                    continue
                if part not in shown:
                    shown[part] = _shown(part, strip, fonts)
                rows.append(shown[part])
            rows.append("Q")
        for left, right, baseline in leaf.leaders:
            y = (side.height - baseline) * POINTS_PER_MM
            start, end = (across + left) * POINTS_PER_MM, (across + right) * POINTS_PER_MM
            rows.append(f"q 0.7 w 1 J [0 5] {end % 5:.2f} d {end:.2f} {y:.2f} m {start:.2f} {y:.2f} l S Q")
        for left, top, right, bottom in leaf.blocks:
            edges = (across + left, side.height - bottom, right - left, bottom - top)
            rows.append(" ".join(f"{edge * POINTS_PER_MM:.2f}" for edge in edges) + " re f")
    return "\n".join(rows).encode("latin-1")


def _shown(run: Run, strip: ExtractedPiece, fonts: Fonts) -> str:
    """A run of glyphs in the book's own codes."""
    first = ""
    row = []
    for part in run:
        if isinstance(part, str):
            row.append(fonts.codes.get(part) or fonts.add(strip.glyphs[part], part))
            first = first or part
        else:
            row.append(f">{part:g}<")
    codes = f"<{''.join(row)}>".replace("<>", "")
    return f"{fonts.name(strip.glyphs[first].font)} 1 Tf [{codes}] TJ"


def _join(book: Pdf, sides: Sequence[SheetSide], places: dict[str, tuple[int, float, float]]) -> None:
    for page, side in zip(book.pages, sides, strict=True):
        notes = []
        for leaf, across in side.leaves:
            for mark, (left, top, right, bottom) in leaf.links:
                number, at, height = places[mark]
                edges = (across + left, side.height - bottom, across + right, side.height - top)
                target = [
                    book.pages[number].obj,
                    Name.XYZ,
                    round(at * POINTS_PER_MM),
                    round(height * POINTS_PER_MM),
                    0,
                ]
                note = Dictionary(
                    Type=Name.Annot,
                    Subtype=Name.Link,
                    Rect=Array([round(edge * POINTS_PER_MM, 1) for edge in edges]),
                    Border=Array([0, 0, 0]),
                    Dest=Array(target),
                )
                notes.append(book.make_indirect(note))
        if notes:
            page.obj.Annots = Array(notes)


def _outline(book: Pdf, entries: Sequence[Entry], places: dict[str, tuple[int, float, float]]) -> None:
    with book.open_outline() as outline:
        above: list[list[OutlineItem]] = [outline.root]
        for entry in entries:
            number, left, top = places[entry.mark]
            item = OutlineItem(
                entry.words,
                number,
                "XYZ",
                left=round(left * POINTS_PER_MM),
                top=round(top * POINTS_PER_MM),
                zoom=0,
            )
            del above[entry.depth + 1 :]
            above[entry.depth].append(item)
            above.append(item.children)
