"""A piece's PDF taken apart: each system or line of words by itself, its glyphs by their outlines.

The engraver gives every piece a file with fonts of its own that hold just the glyphs the piece needs. A book
made of whole files would carry a clef a thousand times, and a piece broken over two pages would lie hidden
on both. Here a file is read once (`pdf_content`): what it draws is sorted by system and written anew in
black, and each glyph is known by its outline, so that a book may share one font (`font_subset`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO
from math import inf

from pikepdf import Pdf, PdfError

from ..engrave.piece import Engraved, System
from .extracted_piece import ExtractedPiece, ExtractedSystem, Glyph, Run
from .pdf_content import MARGIN, UNIT, ContentReader, Item
from .pdf_fonts import Unreadable, faces


def extract_piece(piece: Engraved) -> ExtractedPiece:
    """Read a piece. Raises Unreadable."""
    try:
        with Pdf.open(BytesIO(piece.pdf)) as strip:
            page = strip.pages[0]
            known = faces(page)
            reader = ContentReader(known, float(page.mediabox[3]))
            reader.read(page)
    except Unreadable:
        raise
    except (PdfError, IndexError, AttributeError, KeyError, TypeError, ValueError) as error:
        raise Unreadable(f"the piece's PDF is broken: {error}") from error
    lines: list[list[Item]] = [[] for _ in piece.systems]
    edges = [(-system.top * UNIT, -system.bottom * UNIT) for system in piece.systems]
    number = 0
    for item in reader.items:
        number = _system_of(item, edges, number)
        lines[number].append(item)
    used: dict[str, Glyph] = {}
    found = []
    for system, items in zip(piece.systems, lines, strict=True):
        drawn, baseline = _drawn(items, used)
        found.append(
            ExtractedSystem(
                top=round(system.top, 3),
                height=round(system.bottom - system.top, 3),
                right=round(system.right - MARGIN, 3),
                baseline=_baseline(system, baseline),
                drawn=tuple(drawn),
            )
        )
    return ExtractedPiece(tuple(found), dict(sorted(used.items())))


def _baseline(system: System, words: float | None) -> float | None:
    """Millimetres from a line's top to its highest staff's middle line, or to its first words' baseline."""
    if system.middle is not None:
        return round(system.middle - system.top, 3)
    return None if words is None else round(-words / UNIT - system.top, 3)


def _system_of(item: Item, edges: list[tuple[float, float]], before: int) -> int:
    """The system an item belongs to: the one that holds its middle; of two, the one drawn at the time.

    The engraver draws one system after the other, but two may reach into each other's height.
    """
    middle = (item.low + item.high) / 2
    if edges[before][1] <= middle <= edges[before][0]:
        return before
    return min(range(len(edges)), key=lambda n: max(middle - edges[n][0], edges[n][1] - middle, 0.0))


_SPACE_GAP = 0.14
"""The least gap, in sizes of the letters, that parts two words; the engraver sets no space between them."""


def _drawn(items: list[Item], used: dict[str, Glyph]) -> tuple[list[str | Run], float | None]:
    """A line's content, and its first baseline."""
    levels = [round(item.matrix[5]) for item in items if item.glyphs]
    if levels and max(levels) - min(levels) < 10:
        # A line of words: letters of another font may have been drawn after those that follow them.
        fonts = {_first(item).font for item in items if item.glyphs}
        parts_shown = [part for item in items for part in item.glyphs]
        back = any(isinstance(part, float) and part >= 1000 * _SPACE_GAP for part in parts_shown)
        if len(fonts) > 1 or back:
            items = [word for item in items for word in (_words(item) if item.glyphs else [item])]
        items = sorted(items, key=lambda item: item.start if item.glyphs else -inf)
    parts: list[str | Run] = []
    rows: list[str] = []
    pen = ""
    baseline = None
    for item, following in zip(items, [*items[1:], None], strict=True):
        if item.white:
            rows.append("1 g 1 G")
        if item.glyphs:
            if baseline is None and not _first(item).musical:
                baseline = item.matrix[5]
            turn = " ".join(f"{value:.1f}".removesuffix(".0") for value in item.matrix[:4])
            rows.append(f"BT {turn} {item.matrix[4]:.0f} {item.matrix[5]:.0f} Tm")
            parts += ["\n".join(rows), _run(item, following, used)]
            rows = ["ET"]
        else:
            if item.pen and item.pen != pen:
                pen = item.pen
                rows.append(pen)
            rows.append(item.path)
        if item.white:
            rows.append("0 g 0 G")
    parts.append("\n".join(rows))
    return parts, baseline


def _words(item: Item) -> Iterator[Item]:
    """A run cut where a gap parts two words or leaves room for letters of another font, and at steps back."""
    a, b, c, d, x, y = item.matrix
    word: list[Glyph | float] = []
    start = end = x
    for part in (*item.glyphs, -1000.0):
        if not isinstance(part, Glyph) and (not word or abs(part) >= 1000 * _SPACE_GAP):
            if word:
                matrix = (a, b, c, d, start, y)
                yield replace(item, glyphs=tuple(word), matrix=matrix, start=start, end=end)
            word = []
            x -= part / 1000 * a
            start = x
            continue
        word.append(part)
        x += (part.width if isinstance(part, Glyph) else -part) / 1000 * a
        end = x


def _run(item: Item, following: Item | None, used: dict[str, Glyph]) -> Run:
    """A run's glyphs by key, with a space where only a gap parted two words."""
    run: list[str | float] = []
    for part in item.glyphs:
        if isinstance(part, Glyph):
            used[part.key] = part
            run.append(part.key)
        elif part <= -1000 * _SPACE_GAP and run and (space := _space(item)):
            used[space.key] = space
            run += [space.key, part + space.width]
        else:
            run.append(part)
    space = _space(item)
    ended = next((used[part].text for part in reversed(run) if isinstance(part, str)), "")
    if space and ended != " " and not (following and following.glyphs and _joined(item, following)):
        used[space.key] = space
        run.append(space.key)
    return tuple(run)


def _joined(item: Item, following: Item) -> bool:
    """Whether letters go on where those before end, so that they are one word."""
    level = abs(following.matrix[5] - item.matrix[5]) < 10
    return level and abs(following.start - item.end) < _SPACE_GAP * abs(item.matrix[0])


def _space(item: Item) -> Glyph | None:
    """A space in the letters of a run; none among signs of music."""
    glyph = _first(item)
    return None if glyph.musical else Glyph(glyph.font, "", 250, " ")


def _first(item: Item) -> Glyph:
    return next(part for part in item.glyphs if isinstance(part, Glyph))
