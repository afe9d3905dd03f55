"""The narrow music of a page, in a script beside it.

A page carries its music once, in the form for paper and wide screens. A phone held upright loads the other
form from this file, which a page opened from a folder can load too; site_src/assets/phone.js puts it where it
belongs. It is packed, because a site has one for each exercise in each key.
"""

from __future__ import annotations

import base64
import gzip
import json
from collections.abc import Iterator
from functools import partial

from ..book.addresses import SiteFile
from ..cache.memo import memo_bytes
from ..cache.store import CacheStore
from ..engrave.drawings.glyph_definitions import define_glyphs
from ..engrave.drawings.svg import Drawing
from ..engrave.drawings.svg_joining import marker_of
from .page_views import BookView, InKeyView, KeyView

NAME = "phone.js"


def phone_files(book: BookView) -> Iterator[SiteFile]:
    """The file of every page that has one."""
    for instrument_book in book.instrument_books:
        pages: list[InKeyView | KeyView] = [*instrument_book.keys]
        pages += (view for exercise in instrument_book.exercises for view in exercise.keys)
        yield from (file for page in pages if (file := phone_file(page)).data)


def phone_file(view: InKeyView | KeyView) -> SiteFile:
    """The file of one page; empty where no piece of its page is too wide for a phone."""
    return SiteFile(f"{view.address}{NAME}", _kept(view))


def _kept(view: InKeyView | KeyView) -> bytes:
    """Like its page, a file is not kept where something could not be engraved, or is not to be now."""
    pages = view.exercises if isinstance(view, KeyView) else (view,)
    if not all(page.ink and page.failed().isdisjoint(page.ink) for page in pages):
        return _written(view)
    # A key's page shows the first part of each setting. The ink alone does not tell which that is.
    decided = repr([(page.ink, _engraved_parts(page)) for page in pages])
    return memo_bytes(CacheStore(), "phone", (type(view).__name__, decided), partial(_written, view))


def _engraved_parts(page: InKeyView) -> list[list[bool]]:
    """Whether each part of each setting is engraved."""
    return [[part.find is not None for part in setting.parts] for setting in page.settings]


def _lacking(drawings: list[Drawing], there: list[Drawing]) -> str:
    """The definitions of the glyphs in drawings that a page with others lacks, as glyphs or as markers."""
    text, known = ("".join(drawing.body for drawing in each) for each in (drawings, there))
    glyphs = {name: outline for drawing in drawings for name, outline in drawing.glyphs.items()}
    for drawing in there:
        for name in drawing.glyphs.keys() & glyphs.keys():
            if marker_of(name) not in text or marker_of(name) in known:
                del glyphs[name]
    return define_glyphs(glyphs, text).removeprefix("<defs>").removesuffix("</defs>")


def _written(view: InKeyView | KeyView) -> bytes:
    """A call that gives the page's script the glyphs and, in the order of the page, the pieces.

    Both are in JSON, packed by gzip and in base 64.
    """
    shown = view.shown
    narrow = [music.narrow for music in shown if music.narrow]
    if not narrow:
        return b""
    glyphs = _lacking([music.drawing for music in narrow], [music.drawing for music in shown])
    found = {"glyphs": glyphs, "pieces": [music.body for music in narrow]}
    packed = gzip.compress(json.dumps(found, separators=(",", ":")).encode(), 9, mtime=0)
    return b'stavewrightPhone.take("' + base64.b64encode(packed) + b'");\n'
