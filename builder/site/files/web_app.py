"""What lets a device install the book as an app: a manifest and icons (W3C, "Web Application Manifest").

Each address in the manifest is relative to it, so that the book may lie in any folder of a host.
"""

from __future__ import annotations

import json
import re
from functools import cache
from importlib.resources import files

from ...book.addresses import ASSETS, SiteFile
from ...translation.catalog import ENGLISH, Translation, script_messages
from .service_worker import WORDS

MANIFEST = "book.webmanifest"
TOUCH_ICON = f"{ASSETS}icon-180.png"

SHORT = 12
"""Characters of a short name: launchers cut longer ones (common practice, no source)."""

_PAPER = "#fcfaf5"
_SIZES = (180, 192, 512)
"""Pixels: a touch icon, and what an installed app needs (common practice, no source)."""

_SHRUNK = 0.75
"""A mask may take all beyond a circle of two fifths of an icon's width; the mark keeps inside it."""


def app_files(name: str, description: str, language: str = ENGLISH) -> tuple[SiteFile, ...]:
    """The manifest and icons of a book of this name; the same name gives the same bytes."""
    icons = [
        {
            "src": f"{ASSETS}icon-{size}.png",
            "sizes": f"{size}x{size}",
            "type": "image/png",
            "purpose": purpose,
        }
        for size, purpose in ((192, "any"), (512, "any"), (512, "maskable"))
    ]
    manifest = {
        "name": name,
        "short_name": short_name(name),
        **({"description": description} if description else {}),
        "lang": language,
        "start_url": "index.html",
        "scope": "./",
        "display": "standalone",
        "background_color": _PAPER,
        "theme_color": _PAPER,
        "icons": icons,
    }
    text = json.dumps(manifest, indent=1, ensure_ascii=False) + "\n"
    pictures = (SiteFile(f"{ASSETS}icon-{size}.png", icon(size)) for size in _SIZES)
    return SiteFile(MANIFEST, text.encode()), *pictures


def words_files(translation: Translation) -> tuple[SiteFile, ...]:
    """The words of the site's scripts in the language of a book; English stands in the scripts themselves.

    `messages` are by their English words, `notes` are the chromatic scale from C, and `names` has each name
    of a note with what an address calls it.
    """
    if translation.names is None:
        return ()
    words = {
        "language": translation.language,
        "messages": script_messages(translation.language),
        "notes": [translation.sign(*spelled, "") for spelled in _CHROMATIC],
        "names": list(translation.names.every()),
    }
    text = json.dumps(words, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return (SiteFile(WORDS, f"self.stavewrightWords = {text};\n".encode()),)


_CHROMATIC = (
    (0, 0),
    (0, 1),
    (1, 0),
    (2, -1),
    (2, 0),
    (3, 0),
    (3, 1),
    (4, 0),
    (5, -1),
    (5, 0),
    (6, -1),
    (6, 0),
)
"""Letter and alteration of twelve notes from C, as a page names what has no spelling of its own."""


def short_name(name: str) -> str:
    """The first words of a name, without its article, as many as find room below an icon."""
    words = re.sub(r"(?i)^(the|an?)\s+(?=\S)", "", name.strip()).split()
    short = words[0] if words else ""
    for word in words[1:]:
        if len(short) + 1 + len(word) > SHORT:
            break
        short += f" {word}"
    # "Book of" ends as if something were missing.
    short = re.sub(r"(?i)(?<=\S)( (of|for|in|and|the|an?|&|to|on|with))+$", "", short)
    return short[:SHORT].strip()


@cache
def icon(size: int) -> bytes:
    """The mark on paper, as a square PNG of so many pixels."""
    import resvg_py

    mark = files("stavewright_theme").joinpath("assets/mark.svg").read_text(encoding="utf-8")
    inside = mark[mark.index(">") + 1 : mark.rindex("</svg>")]
    edge = 16 * (1 - _SHRUNK)
    drawing = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32" width="{size}" height="{size}">'
        f'<rect width="32" height="32" fill="{_PAPER}"/>'
        f'<g transform="translate({edge} {edge}) scale({_SHRUNK})">{inside}</g></svg>'
    )
    return bytes(resvg_py.svg_to_bytes(svg_string=drawing))
