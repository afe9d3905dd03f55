"""What players read of a way of playing, on paper and on the site, where the language writes it otherwise."""

from __future__ import annotations

import re
from collections.abc import Iterable

from ..music.exercise import VariationRequest
from ..translation.said import Said, Speaker, capital, joined, noted
from .registry import leading_name

_NAMES = {
    "slurred": noted("slurred"),
    "slurred in": noted("slurred in"),
    "soft-tongued": noted("soft tongue"),
    "detached": noted("detached"),
    "swell up": noted("growing"),
    "swell down": noted("fading"),
    "swell": noted("swell"),
    "from silence": noted("from nothing"),
    "to silence": noted("to nothing"),
    "level": noted("all"),
    "terraces": noted("terraces"),
    "eight levels": noted("eight dynamic levels"),
    "figured": noted("with figures"),
    "without vibrato": noted("without vibrato"),
    "with vibrato": noted("with vibrato"),
    "vibrato from the start": noted("vibrato from the start"),
    "vibrato late": noted("late vibrato"),
    "vibrato fading": noted("fading vibrato"),
    "vibrato measured": noted("measured vibrato,"),
    "upper octave first": noted("upper octave first"),
    "lower octave first": noted("lower octave first"),
    "falling octave first": noted("falling octave first"),
    "register jump": noted("jumps of register"),
    "dotted": noted("dotted"),
    "reverse dotted": noted("dotted in reverse"),
    "doubled": noted("twice as long"),
    "singing": noted("sing and play,"),
    "tonguing": noted("tongue"),
}
"""By the language's names. A variation that is not here is called as the language calls it."""

_TONGUES = (
    noted("single tongue"),
    noted("double tongue"),
    noted("triple tongue"),
    noted("back tongue"),
    noted("reverse double tongue"),
)
_WORDS = (
    noted("each note"),
    noted("each breath"),
    noted("on first long note"),
    noted("on last long note"),
    noted("on last note"),
    noted("in eighths"),
    noted("in sixteenths"),
    noted("in triplets"),
    noted("held"),
    noted("and"),
    noted("to"),
)
"""Words that may follow a name."""

_WORD = re.compile(rf"\b({'|'.join(_WORDS)})\b")
_AS_WRITTEN = noted("as written")
_TONGUING = re.compile(r"tonguing (?P<kind>(?:reverse )?\w+)(?P<rest>.*)")
_LADDER = re.compile(r" ladder (?P<low>\d+) to (?P<high>\d+).*")


def printed_name(wanted: VariationRequest) -> Said:
    """`Slurred, from nothing`; the name that its author gave it where there is one."""
    if wanted.called:
        return capital(wanted.called)
    return capital(joined((Said(_printed(name), _printed_in, name) for name in wanted.names), ", "))


def label_words(label: str) -> Said:
    """What a player reads of a variation's label: its printed names. An author's own name stays hers."""
    return Said(" + ".join(map(_printed, label.split(" + "))), _label_in, label)


def by_printed_name(labels: Iterable[str]) -> dict[str, str]:
    """Labels by what a player reads of them, where that is another name: `growing` leads to `swell up`."""
    return {said: label for label in labels if (said := str(label_words(label))) != label}


def _label_in(speaker: Speaker, label: str) -> str:
    if label == _AS_WRITTEN:
        return speaker.gettext(_AS_WRITTEN)
    return " + ".join(_printed_in(speaker, wish) for wish in label.split(" + "))


def _printed_in(speaker: Speaker, wish: str) -> str:
    tonguing = _TONGUING.fullmatch(wish)
    name = leading_name(wish, _NAMES)
    if tonguing:
        called, words = f"{tonguing['kind']} tongue", _LADDER.sub(r", \g<low> to \g<high>", tonguing["rest"])
    elif name is None:
        return wish
    else:
        called, words = _NAMES[name], wish.removeprefix(name).strip().removeprefix("from ")
    said = _WORD.sub(lambda found: speaker.gettext(found[0]), words)
    return f"{speaker.gettext(called)}{'' if words[:1] in (',', ' ') else ' '}{said}".strip()


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
