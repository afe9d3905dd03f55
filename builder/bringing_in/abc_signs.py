"""Reads the decorations of ABC, such as `!fermata!` and `T`, which music21 passes over.

They are those of the ABC standard 2.1 (sections 4.14 and 4.15). Each is kept for a note by its number in the
tune; a file with several tunes, voices or symbols of its own (`U:`) is not read here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from ..music.event import LEVELS
from ..music.sounding.repeats import CODA, DA_CAPO, DAL_SEGNO, FINE, SEGNO, TO_CODA
from .xml_signs import FileSigns, NoteSigns

_MARKS = {
    **dict.fromkeys(("fermata", "invertedfermata", "H"), "fermata"),
    **dict.fromkeys(("accent", "emphasis", ">", "L"), "accent"),
    **dict.fromkeys(("mordent", "lowermordent", "M"), "mordent"),
    **dict.fromkeys(("pralltriller", "uppermordent", "P"), "inverted-mordent"),
    **dict.fromkeys(("trill", "T"), "trill"),
    **dict.fromkeys(("marcato", "^"), "marcato"),
    **{name: name for name in ("tenuto", "turn", "breath", "staccato")},
}
_SIGNS = {"segno": SEGNO, "S": SEGNO, "coda": CODA, "O": CODA}
_JUMPS = {
    **dict.fromkeys(("D.C.", "dacapo", "D.C.alfine", "D.C.alcoda"), DA_CAPO),
    **dict.fromkeys(("D.S.", "D.S.alfine", "D.S.alcoda"), DAL_SEGNO),
    "fine": FINE,
    "dacoda": TO_CODA,
}
_FIELD = re.compile(r"[A-Za-z+]:")
_TOKEN = re.compile(
    r'"[^"\n]*"|\[[A-Za-z]:[^\]\n]*\]|\{[^}\n]*\}'
    r"|!(?P<long>[^!\s]+)!|(?P<short>[~HLMOPST])(?=[_^=]*[A-Ga-g])"
    r"|(?P<note>\[[_^=A-Ga-g,'0-9/.]*[A-Ga-g][_^=A-Ga-g,'0-9/.]*\]|[_^=]*[A-Ga-g][,']*)|\S"
)


@dataclass(frozen=True, slots=True)
class Decorations:
    """The signs of a file's one tune, the decorations that have no word here, and the text without any."""

    signs: FileSigns
    lost: tuple[str, ...]
    text: str


def take_decorations(text: str) -> Decorations | None:
    """The decorations of a tune; None where it is not sure which note each is for."""
    written = text.split("\n")
    rows = [row.partition("%")[0] for row in written]
    fields = [row[:2] for row in rows if _FIELD.match(row)]
    if fields.count("X:") != 1 or {"V:", "U:"} & set(fields):
        return None
    start = next((number for number, row in enumerate(rows, start=1) if row.startswith("K:")), len(rows))
    music = "\n".join(row for row in rows[start:] if not _FIELD.match(row))
    bare = [
        whole if number < start or _FIELD.match(row) else _TOKEN.sub(_without_decoration, row)
        for number, (whole, row) in enumerate(zip(written, rows, strict=True))
    ]
    signs, lost = _signs(music)
    return Decorations(signs, lost, "\n".join(bare))


def _without_decoration(token: re.Match[str]) -> str:
    return "" if token["long"] or token["short"] else token[0]


def _signs(music: str) -> tuple[FileSigns, tuple[str, ...]]:
    found = FileSigns(by_order=True)
    waiting, lost = NoteSigns(), list[str]()
    for token in _TOKEN.finditer(music):
        name = token["long"] or token["short"]
        if token["note"]:
            found.notes[str(found.count)] = waiting
            found.count, waiting = found.count + 1, NoteSigns()
        elif not name:
            continue
        elif name in _MARKS:
            waiting = waiting.with_mark(_MARKS[name])
        elif name in LEVELS:
            waiting = waiting.with_level(name)
        elif name in _SIGNS:
            waiting = waiting.with_sign(_SIGNS[name])
        elif name in _JUMPS and found.count:
            last = str(found.count - 1)
            found.notes[last] = found.notes[last].with_jump(_JUMPS[name])
        else:
            lost.append(f"!{name}!" if token["long"] else name)
    return found, tuple(dict.fromkeys(lost))
