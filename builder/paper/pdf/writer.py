"""Pages as PDF: every line of every piece set in its place, in black, from fonts that the file holds once.

Whatever is drawn is marked, as belonging to an element of the structure or to none (ISO 32000-1, 14.6).
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from io import BytesIO
from itertools import groupby

from pikepdf import Dictionary, Name, ObjectStreamMode, OutlineItem, Pdf

from ...units import POINTS_PER_MM
from ..extracted_piece import ExtractedPiece, Run
from ..page import Area, DocumentInfo, Entry, PlacedLink, PlacedSystem, SheetSide
from ..tags import PAGINATION, Tag, is_artifact
from .archive import add_metadata
from .font_subset import Fonts
from .objects import PdfObjects, number_words, reference, text_string
from .structure import Structure, page_labels

_ABOVE = 4
"""Millimetres shown above a place that a link leads to."""


_LEVEL = 9
"""How hard pages are packed: 5 takes a third of the time for four hundredths more."""

_PRINTED = 4
"""The flag of what is seen on paper too (ISO 32000-1, table 165)."""

Strips = Callable[[str], ExtractedPiece]
"""A piece by its name."""


def write_pdf(
    sides: Sequence[SheetSide],
    about: DocumentInfo,
    outline: Sequence[Entry],
    strips: Strips,
    described: Callable[[str], str],
) -> bytes:
    """The sides as one PDF file; the same sides make the same bytes.

    `described` gives the words that stand for a piece of music, by its name.
    """
    fonts = Fonts()
    # Packed as they are made, so that a long book takes little memory.
    shown: dict[Run, str] = {}
    contents = []
    marked = []
    for side in sides:
        content, marks = _content(side, fonts, strips, shown)
        contents.append(zlib.compress(content, _LEVEL))
        marked.append(marks)
    places = {
        mark: (number, left, side.height - top + _ABOVE)
        for number, side in enumerate(sides)
        for leaf, left in side.leaves
        for mark, top in leaf.marks
    }
    structure = _structure(sides, marked, described)
    with Pdf.open(BytesIO(_skeleton(sides, structure, places))) as book:
        resources = Dictionary(Font=fonts.embedded(book))
        if pictures := _pictures(book, sides):
            resources.XObject = pictures
        shared = book.make_indirect(resources)
        for page, content in zip(book.pages, contents, strict=True):
            page.obj.Contents = book.make_stream(content, Filter=Name.FlateDecode)
            page.obj.Resources = shared
        if outline:
            _outline(book, outline, places)
        book.Root.PageLabels = page_labels([_label(side) for side in sides])
        add_metadata(book, about)
        out = BytesIO()
        book.save(
            out,
            force_version="1.7",
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


def _label(side: SheetSide) -> str:
    """The numbers of its pages from left to right."""
    from_left = sorted(side.leaves, key=lambda placed: placed[1])
    return ", ".join(leaf.label for leaf, _ in from_left if leaf.label)


@dataclass(frozen=True, slots=True)
class _Mark:
    """Marked content: where it belongs, its number on its side, and its place there as in `Structure`."""

    tag: Tag
    number: int
    box: Area


def _content(
    side: SheetSide, fonts: Fonts, strips: Strips, shown: dict[Run, str]
) -> tuple[bytes, list[list[_Mark]]]:
    """A side in PDF's words, and what is marked on each of its pages.

    `shown` holds runs of glyphs that were written before, and grows.
    """
    rows = ["0 g 0 G"]
    marked: list[list[_Mark]] = []
    count = 0
    for leaf, across in side.leaves:
        marks: list[_Mark] = []
        for tag, stamps in groupby(_by_element(leaf.stamps), key=lambda stamp: stamp.tag):
            if is_artifact(tag):
                rows.append("/Artifact <</Type/Pagination>>BDC" if tag == PAGINATION else "/Artifact BMC")
            else:
                rows.append(f"/{tag[-1].role} <</MCID {count}>>BDC")
            boxes = [_draw(rows, stamp, across, side.height, fonts, strips, shown) for stamp in stamps]
            rows.append("EMC")
            if not is_artifact(tag):
                lefts, bottoms, rights, tops = zip(*boxes, strict=True)
                marks.append(_Mark(tag, count, (min(lefts), min(bottoms), max(rights), max(tops))))
                count += 1
        marked.append(marks)
        if leaf.leaders or leaf.blocks:
            rows.append("/Artifact BMC")
        for left, right, baseline in leaf.leaders:
            y = (side.height - baseline) * POINTS_PER_MM
            start, end = (across + left) * POINTS_PER_MM, (across + right) * POINTS_PER_MM
            rows.append(f"q 0.7 w 1 J [0 5] {end % 5:.2f} d {end:.2f} {y:.2f} m {start:.2f} {y:.2f} l S Q")
        for left, top, right, bottom in leaf.blocks:
            edges = (across + left, side.height - bottom, right - left, bottom - top)
            rows.append(" ".join(f"{edge * POINTS_PER_MM:.2f}" for edge in edges) + " re f")
        if leaf.leaders or leaf.blocks:
            rows.append("EMC")
    return "\n".join(rows).encode("latin-1"), marked


def _by_element(stamps: Sequence[PlacedSystem]) -> list[PlacedSystem]:
    """What is on a page in the order in which it is read: what belongs to one element comes together."""
    places: dict[Tag, int] = {}

    def place(stamp: PlacedSystem) -> tuple[int, ...]:
        starts = (stamp.tag[:depth] for depth in range(1, len(stamp.tag) + 1))
        return tuple(places.setdefault(start, len(places)) for start in starts)

    return sorted(stamps, key=place)


def _draw(
    rows: list[str],
    stamp: PlacedSystem,
    across: float,
    height: float,
    fonts: Fonts,
    strips: Strips,
    shown: dict[Run, str],
) -> Area:
    """Add a line of a piece to the words of a side; its place there, as in `Structure`."""
    x = (across + stamp.left) * POINTS_PER_MM
    strip = strips(stamp.strip) if isinstance(stamp.strip, str) else stamp.strip
    line = strip.line(stamp.line)
    top = (height - stamp.top) * POINTS_PER_MM
    y = top + line.top * stamp.scale * POINTS_PER_MM
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
    across_ink, down = (length * stamp.scale * POINTS_PER_MM for length in (line.right, line.height))
    return x, top - down, x + across_ink, top


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


def _structure(
    sides: Sequence[SheetSide], marked: Sequence[Sequence[Sequence[_Mark]]], described: Callable[[str], str]
) -> Structure:
    """What is marked on the sides, and the links on them, in the order of reading."""
    structure = Structure(described)
    places = [
        (side.numbers[place] if side.numbers else number, number, place)
        for number, side in enumerate(sides)
        for place in range(len(side.leaves))
    ]
    for _, number, place in sorted(places):
        leaves = [leaf for leaf, _ in sides[number].leaves]
        for mark in marked[number][place]:
            structure.add_content(mark.tag, number, mark.number, mark.box)
        before = sum(len(leaf.links) for leaf in leaves[:place])
        for count, link in enumerate(leaves[place].links, start=before):
            structure.add_link(link.tag, number, count)
    return structure


def _skeleton(
    sides: Sequence[SheetSide], structure: Structure, places: dict[str, tuple[int, float, float]]
) -> bytes:
    """A file with blank pages, the links on them, and the structure."""
    objects = PdfObjects()
    root, tree = objects.reserve(), objects.reserve()
    pages = [objects.reserve() for _ in sides]
    links = [[objects.reserve() for leaf, _ in side.leaves for _ in leaf.links] for side in sides]
    written = structure.write(objects, pages, links)
    for place, (side, number, notes) in enumerate(zip(sides, pages, links, strict=True)):
        size = " ".join(f"{round(edge * POINTS_PER_MM, 2):.7g}" for edge in (side.width, side.height))
        rows = [f"<</Type/Page/Parent {tree} 0 R/MediaBox[0 0 {size}]"]
        if place in written.pages:
            rows.append(f"/StructParents {place}")
        if notes:
            rows.append(f"/Annots[{' '.join(map(reference, notes))}]/Tabs/S")
        objects.put(number, "".join((*rows, ">>")))
        on_side = ((link, across) for leaf, across in side.leaves for link in leaf.links)
        for note, (link, across) in zip(notes, on_side, strict=True):
            objects.put(note, _note(link, across, side, pages, places, written.annotations.get(note)))
    objects.put(tree, f"<</Type/Pages/Count {len(pages)}/Kids[{' '.join(map(reference, pages))}]>>")
    objects.put(
        root,
        f"<</Type/Catalog/Pages {tree} 0 R/StructTreeRoot {written.tree} 0 R/MarkInfo<</Marked true>>>>",
    )
    return objects.file(root)


def _note(
    link: PlacedLink,
    across: float,
    side: SheetSide,
    pages: Sequence[int],
    places: dict[str, tuple[int, float, float]],
    key: int | None,
) -> str:
    """The annotation that makes a link of an area; `key` is its own in the structure."""
    left, top, right, bottom = link.area
    number, at, height = places[link.mark]
    edges = (across + left, side.height - bottom, across + right, side.height - top)
    target = f"{pages[number]} 0 R/XYZ {round(at * POINTS_PER_MM)} {round(height * POINTS_PER_MM)} 0"
    within = "" if key is None else f"/StructParent {key}"
    return (
        f"<</Type/Annot/Subtype/Link/Rect[{number_words(edge * POINTS_PER_MM for edge in edges)}]"
        f"/Border[0 0 0]/Dest[{target}]/Contents{text_string(link.said)}/F {_PRINTED}{within}>>"
    )


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
