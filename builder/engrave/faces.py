"""The letters of words: one family for the music, the prints and the site.

The engraver reads the faces from our own files, whatever fonts a machine has, so that words are as wide
everywhere. For scripts that the family does not have, such as Cyrillic, it takes its own serif face.
fonts/MANIFEST-StavewrightSerif.txt says where the files come from.
"""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.resources import files

from .markup import quoted

FAMILY = "Stavewright Serif"
_THEN = "LilyPond Serif"
"""What the engraver calls its own serif face."""

STYLES = ("regular", "italic", "bold")


@cache
def face_files() -> tuple[str, ...]:
    """The path of each face's file, in the order of `STYLES`."""
    folder = files("stavewright.engrave").joinpath("fonts")
    return tuple(str(folder.joinpath(f"stavewright-serif-{style}.otf")) for style in STYLES)


@cache
def faces_hash() -> str:
    """A hash of the faces' files."""
    folder = files("stavewright.engrave").joinpath("fonts")
    parts = (folder.joinpath(f"stavewright-serif-{style}.otf").read_bytes() for style in STYLES)
    return hashlib.sha256(b"".join(parts)).hexdigest()


def use_faces(staff: float) -> str:
    """What tells the engraver of the faces, for a staff of `staff` printer's points.

    It comes after the staff's size, which would take them back.
    """
    added = "".join(f"#(ly:font-config-add-font {quoted(path)})\n" for path in face_files())
    fonts = f"(set-global-fonts #:roman {quoted(f'{FAMILY},{_THEN}')} #:factor {staff / 20:g})"
    return f"{added}\\paper {{ #(define fonts {fonts}) }}\n"
