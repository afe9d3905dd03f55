"""The picture that other places show beside a link to the book: a title and a real engraved line.

Such a picture needs an address of its own with the host's name in it, so it is made only for a site that
knows its address (`site_url`).
"""

from __future__ import annotations

from ...book.addresses import PICTURES, SiteFile
from ...engrave.drawings.glyph_definitions import define_glyphs
from ...engrave.drawings.svg import Drawing
from ...engrave.engraved_book import EngravedBook, engrave_scores
from ...engrave.markup import titled_music
from ...engrave.piece import Engraved
from ...engrave.processes.scheduler import Pool
from ...views.incipits import OPENING, first_score, opening

WIDTH, HEIGHT = 1200, 630
"""Pixels, as the Open Graph protocol's readers ask for: from memory of their guides for sharing."""

_LAYOUT = OPENING
_MARGIN = 70
_PAPER, _INK, _ACCENT = "#fcfaf5", "#1c1916", "#8a2b1c"


BOOK = f"{PICTURES}the-book.png"


def address_of(slug: str) -> str:
    """Where an exercise's picture is."""
    return f"{PICTURES}of-{slug}.png"


def pictures(engraved_book: EngravedBook, pool: Pool | None = None) -> tuple[SiteFile, ...]:
    """A picture for each exercise, and one for the book over the line that its first exercise begins with."""
    from ...engrave.notation import notation

    wanted: dict[str, str] = {}
    for exercise, pages in engraved_book.instrument_books[0].exercises:
        score = first_score(pages)
        if score is None:
            continue
        line = notation(opening(score))
        if not wanted:
            wanted[BOOK] = titled_music(engraved_book.book.name, line, "")
        wanted[address_of(exercise.slug)] = titled_music(exercise.title, line, engraved_book.book.name)
    engravings = engrave_scores(wanted, pool, layout=_LAYOUT)
    return tuple(
        SiteFile(address, png(found.drawing))
        for address in wanted
        if isinstance(found := engravings[address], Engraved)
    )


def card(drawing: Drawing) -> str:
    """A drawing on a sheet of the picture's size, as SVG."""
    room = WIDTH - 2 * _MARGIN, HEIGHT - 2 * _MARGIN - 10
    scale = min(room[0] / drawing.width, room[1] / drawing.height)
    down = (HEIGHT - drawing.height * scale) / 2
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{HEIGHT}">'
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="{_PAPER}"/>'
        f'<rect width="{WIDTH}" height="10" fill="{_ACCENT}"/>'
        f'<g fill="{_INK}" color="{_INK}" transform="translate({_MARGIN},{down:.1f}) scale({scale:.4f})">'
        f"{define_glyphs(drawing.glyphs, drawing.body)}{drawing.body}</g></svg>"
    )


def png(drawing: Drawing) -> bytes:
    """The card in pixels."""
    import resvg_py

    return bytes(resvg_py.svg_to_bytes(svg_string=card(drawing)))
