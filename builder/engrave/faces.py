"""The letters of words: one family for the music, the prints and the site.

The engraver reads the faces from our own files, whatever fonts a machine has, so that words are as wide
everywhere. For scripts that the family does not have, such as Cyrillic, it takes its own serif face.
fonts/MANIFEST-StavewrightSerif.txt says where the files come from.
"""

from __future__ import annotations

import hashlib
import subprocess
from functools import cache
from importlib.resources import files
from pathlib import Path

from ..jobs.systems import find_on_path
from .markup import quoted

FAMILY = "Stavewright Serif"
THEN = "LilyPond Serif"
"""What the engraver calls its own serif family."""
_SERIF = "C059"
"""The family that it takes for that."""
_ENDINGS = {(False, False): "Roman", (True, False): "Italic", (False, True): "Bold", (True, True): "BdIta"}
"""How the names of its files end, by whether they are italic and bold."""

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
    fonts = f"(set-global-fonts #:roman {quoted(f'{FAMILY},{THEN}')} #:factor {staff / 20:g})"
    return f"{added}\\paper {{ #(define fonts {fonts}) }}\n"


@cache
def find_face_file(family: str, italic: bool, bold: bool, engraver: str) -> str:
    """The path of the face of a family that the engraver at a path takes; empty where it is not found.

    Ours is among our files, the engraver's own beside it or known to fontconfig, another known to fontconfig.
    """
    if family == FAMILY:
        return face_files()[STYLES.index("bold" if bold else "italic" if italic else "regular")]
    if family == THEN:
        family = _SERIF
        name = f"{_SERIF}-{_ENDINGS[italic, bold]}.otf"
        beside = Path(engraver).resolve().parent.parent / "share" / "lilypond"
        found = sorted(beside.glob(f"*/fonts/otf/{name}")) if Path(engraver).is_absolute() else []
        if found:
            return str(found[-1])
    program = find_on_path("fc-match")
    if not program:
        return ""
    wanted = f"{family}{':italic' if italic else ''}{':bold' if bold else ''}"
    try:
        said = subprocess.run(
            [program, "--format=%{file}\n%{family}", wanted],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=True,
            timeout=60,
        ).stdout
    except (OSError, subprocess.SubprocessError):
        return ""
    path, _, families = said.partition("\n")
    # It always names a font, though of another family where there is none of this.
    return path if family in families.split(",") else ""


@cache
def engraver_faces(engraver: str) -> tuple[str, ...]:
    """The serif faces of the engraver at a path: names and sizes of its files, none where one is missing."""
    paths = [find_face_file(THEN, style == "italic", style == "bold", engraver) for style in STYLES]
    if not all(paths):
        return ()
    return tuple(f"{Path(path).name} {Path(path).stat().st_size}" for path in paths)
