"""The signs of a wind player beside articulations: holds, ornaments, techniques, slides.

Each is a mark of an event, by its name in the language. What a technique looks like differs from score to
score, so its word stands over the first note of it. Three strokes for flutter-tonguing and crossed heads for
sounds without a clear pitch are as in E. Gould, "Behind Bars" (2011), from memory; triangles and the words
are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from .winds.fingering import FINGERING_CHART

if TYPE_CHECKING:
    from .event import Event
    from .score import Staff

HARMONIC = "harmonic"
"""A circle: the note is an overtone of a fingering that the player chooses."""

FERMATAS = {
    "short-fermata": Fraction(5, 4),
    "fermata": Fraction(3, 2),
    "long-fermata": Fraction(2),
}
"""How many times its written length a note under each fermata lasts. Common practice, no source: performers
hold from a little longer to twice as long."""

TRILL, TIMBRAL_TRILL = "trill", "timbral-trill"
MORDENT, INVERTED_MORDENT, TURN = "mordent", "inverted-mordent", "turn"
ORNAMENTS = (TRILL, TIMBRAL_TRILL, MORDENT, INVERTED_MORDENT, TURN)

FLUTTER, AIR_TONE, WHISTLE_TONE = "flutter", "air-tone", "whistle-tone"
TONGUE_RAM, KEY_CLICK = "tongue-ram", "key-click"

GLISSANDO = "glissando"
BENDS = {"bend-up": 1, "bend-down": -1}
"""How many semitones each bends the end of its note. Common practice, no source: as far as the lips reach."""

END_SIGNS = ("breath", *FERMATAS, GLISSANDO, *BENDS)
"""Signs that belong to the end of a note, however it is divided."""

ORDINARY, CROSS, TRIANGLE = "", "cross", "triangle"
"""The shapes of note heads."""


@dataclass(frozen=True, slots=True)
class Technique:
    """A way to make the sound: its `word` over the staff, and the shape of its heads.

    After one that `returns`, a word says where the player is back to the usual way.
    """

    word: str
    head: str = ORDINARY
    returns: bool = False


TECHNIQUES = {
    FLUTTER: Technique("flz."),
    AIR_TONE: Technique("air", CROSS),
    WHISTLE_TONE: Technique("w. t.", returns=True),
    TONGUE_RAM: Technique("T. R.", TRIANGLE),
    KEY_CLICK: Technique("key click", CROSS),
}

USUAL_WAY = "ord."
"""Over the first note after a technique whose end cannot be seen."""

FAINT = (AIR_TONE, WHISTLE_TONE, KEY_CLICK)
"""Techniques that sound softer than the level says."""

BEGUN_ANEW = {TONGUE_RAM: "a tongue ram", KEY_CLICK: "a key click"}
"""Techniques that begin each note anew, in words."""

ONE_OF = {
    "technique": tuple(TECHNIQUES),
    "ornament": ORNAMENTS,
    "fermata": tuple(FERMATAS),
    "slide": (GLISSANDO, *BENDS),
}
"""Signs of which a note has one at most, by what they are."""

NOT_ON_RESTS = frozenset((HARMONIC, FINGERING_CHART, *TECHNIQUES, *ORNAMENTS, GLISSANDO, *BENDS)) - {TRILL}
"""Signs that make no sense on a rest. A trill makes none either, but older exercises may have one."""


def has_fermata(event: Event) -> bool:
    """Whether an event has a fermata."""
    return not FERMATAS.keys().isdisjoint(event.marks)


def technique_of(event: Event) -> str:
    """The technique of an event by its name, or an empty string."""
    return next((mark for mark in event.marks if mark in TECHNIQUES), "")


def head_of(event: Event) -> str:
    """The shape of an event's head."""
    technique = technique_of(event)
    return TECHNIQUES[technique].head if technique else ORDINARY


def technique_words(line: Staff) -> Iterator[str]:
    """For each event of a staff the word of a technique that begins there, or an empty string."""
    before = ""
    for event in line.events():
        here = technique_of(event) if event.pitch is not None else before
        if here == before:
            yield ""
        elif here:
            yield TECHNIQUES[here].word
        else:
            yield USUAL_WAY if TECHNIQUES[before].returns else ""
        before = here
