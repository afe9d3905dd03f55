"""What a printed book calls a way of playing, where that is not how the language writes it."""

from __future__ import annotations

import re

from ..music.exercise import VariationRequest
from .registry import leading_name

_NAMES = {
    "slurred": "slurred",
    "slurred in": "slurred in",
    "soft-tongued": "soft tongue",
    "detached": "detached",
    "swell up": "growing",
    "swell down": "fading",
    "swell": "swell",
    "from silence": "from nothing",
    "to silence": "to nothing",
    "level": "all",
    "terraces": "terraces",
    "eight levels": "eight dynamic levels",
    "figured": "with figures",
    "without vibrato": "without vibrato",
    "with vibrato": "with vibrato",
    "vibrato from the start": "vibrato from the start",
    "vibrato late": "late vibrato",
    "vibrato fading": "fading vibrato",
    "vibrato measured": "measured vibrato,",
    "upper octave first": "upper octave first",
    "lower octave first": "lower octave first",
    "falling octave first": "falling octave first",
    "register jump": "jumps of register",
    "dotted": "dotted",
    "reverse dotted": "dotted in reverse",
    "doubled": "twice as long",
    "singing": "sing and play,",
    "tonguing": "tongue",
}
"""By the language's names. A variation that is not here is called as the language calls it."""

_TONGUING = re.compile(r"tonguing (?P<kind>(?:reverse )?\w+)(?P<rest>.*)")
_LADDER = re.compile(r" ladder (?P<low>\d+) to (?P<high>\d+).*")


def printed_name(wanted: VariationRequest) -> str:
    """`Slurred, from nothing`; the name that its author gave it where there is one."""
    said = wanted.called or ", ".join(map(_printed, wanted.names))
    return said[:1].upper() + said[1:]


def _printed(wish: str) -> str:
    tonguing = _TONGUING.fullmatch(wish)
    if tonguing:
        rest = _LADDER.sub(r", \g<low> to \g<high>", tonguing["rest"])
        return f"{tonguing['kind']} tongue{rest}"
    name = leading_name(wish, _NAMES)
    if name is None:
        return wish
    words = wish.removeprefix(name).strip().removeprefix("from ")
    if name == "vibrato measured":
        words = f"{words} to the beat"
    return f"{_NAMES[name]} {words}".strip()
