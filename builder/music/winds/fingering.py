"""Fingerings: which keys an instrument has, how players say them, and how a text of keys is read.

A fingering is said hand by hand: `left thumb 1 2 3, right 1 2 E-flat`. The main keys of each hand are
numbered 1 to 3, and every other key has the name that players give it: common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum, auto

from ...visible import shown

FINGERING_CHART = "fingering-chart"
"""The mark of a note over which its usual fingering is drawn."""

LEFT, RIGHT = "left", "right"
HALF, TRILLED = "half", "trilled"

Keys = Mapping[str, Mapping[str, str]]
"""The keys of each hand by their names, each with the engraver's name."""


class Kind(Enum):
    """What a fingering is made of, and so how it is written over a note."""

    KEYS = auto()
    """Keys and holes of two hands, drawn as a chart."""
    VALVES = auto()
    """The numbers of the valves that are pressed, as text."""
    SLIDE = auto()
    """The position of the slide, as a number."""


@dataclass(frozen=True, slots=True)
class Mechanism:
    """What the fingers of a family of instruments do.

    `drawn` is the engraver's name of the chart, empty where a fingering is text. `keys` are those of each
    hand beside the main ones; `half` tells whether a main key can be half closed. `valves` are the names of
    the valves, or the positions of a slide.
    """

    kind: Kind
    drawn: str = ""
    keys: Keys = field(default_factory=dict)
    half: bool = False
    valves: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Touch:
    """A key that is touched: the hand (empty for valves), its name, and HALF, TRILLED or nothing."""

    hand: str
    key: str
    how: str = ""


@dataclass(frozen=True, slots=True)
class Fingering:
    """The keys that are touched, in the order in which they are said; none is the open note."""

    kind: Kind
    touches: tuple[Touch, ...] = ()

    @property
    def short(self) -> str:
        """As it is written over a note where it is not drawn: `1 3`, and `0` for an open note."""
        return " ".join(touch.key for touch in self.touches) or "0"

    @property
    def words(self) -> tuple[tuple[str, ...], ...]:
        """What to say of it by hand and word: `left thumb 1`, `right E flat`; `open` for nothing."""
        if not self.touches:
            return (("open",),)
        found: list[list[str]] = []
        hand = None
        for touch in self.touches:
            if touch.hand != hand:
                hand = touch.hand
                found.append([hand] if hand else [_FIRST_WORD[self.kind]])
            found[-1] += [touch.how] if touch.how else []
            found[-1] += _key_words(touch.key)
        return tuple(map(tuple, found))

    def __str__(self) -> str:
        return ", ".join(" ".join(words) for words in self.words)


_FIRST_WORD = {Kind.KEYS: LEFT, Kind.VALVES: "valves", Kind.SLIDE: "position"}

_MAIN = ("1", "2", "3")

_NOTE = re.compile(r"(?<![a-z])([a-g])(?:[ -]?(flat|sharp)|([b♭])|([#♯]))(?![a-z0-9])", re.IGNORECASE)
_WORD = re.compile(r"[\w-]+")
_ALIASES = {"t": "thumb", "lh": LEFT, "rh": RIGHT}
_LONGEST = 3
"""So many words has the name of a key at most."""


def _key_words(key: str) -> list[str]:
    """A key's name in words: `low-B-flat` is `low` and `B flat`."""
    words: list[str] = []
    for part in key.split("-"):
        if part in ("flat", "sharp"):
            words[-1] += f" {part}"
        else:
            words.append(part)
    return words


def read_fingering(text: str, mechanism: Mechanism) -> Fingering:
    """The fingering that a text says. Raises ValueError with what is wrong and what may be written."""
    if mechanism.kind is Kind.KEYS:
        return _read_keys(text, mechanism)
    words = [_ALIASES.get(word, word) for word in text.lower().split()]
    words = words[1:] if words[:1] in (["valves"], ["valve"], ["position"]) else words
    if words in ([], ["0"], ["open"]) and mechanism.kind is Kind.VALVES:
        return Fingering(mechanism.kind)
    wrong = [word for word in words if word not in mechanism.valves]
    many = mechanism.kind is Kind.SLIDE and len(words) != 1
    if wrong or many or len(set(words)) < len(words):
        what = "position" if mechanism.kind is Kind.SLIDE else "valves"
        raise ValueError(f"{shown(text)} is no {what}; write of {' '.join(mechanism.valves)}")
    return Fingering(mechanism.kind, tuple(Touch("", word) for word in words))


def _read_keys(text: str, mechanism: Mechanism) -> Fingering:
    names = {hand: {name.lower(): name for name in keys} for hand, keys in mechanism.keys.items()}
    plain = _NOTE.sub(_note_word, text).replace("|", f" {RIGHT} ").lower()
    words = [_ALIASES.get(word, word) for word in _WORD.findall(plain)]
    hand, how = LEFT, ""
    touches: list[Touch] = []
    place = 0
    while place < len(words):
        word = words[place]
        if word in (LEFT, RIGHT, HALF, TRILLED):
            hand, how = (word, "") if word in (LEFT, RIGHT) else (hand, word)
            place += 1
            continue
        if word == "open" and len(words) == 1:
            break
        for count in range(min(_LONGEST, len(words) - place), 0, -1):
            name = "-".join(words[place : place + count])
            if count == 1 and name in _MAIN:
                key = name
            elif name in names[hand]:
                key = names[hand][name]
            else:
                continue
            break
        else:
            known = [*_MAIN, *mechanism.keys[hand]]
            raise ValueError(f"the {hand} hand has no key {shown(word)}; it has {', '.join(known)}")
        if how == HALF and not (mechanism.half and key in _MAIN):
            raise ValueError(
                f"{shown(key)} cannot be half closed; half holes are 1, 2 and 3 of some instruments"
            )
        touch = Touch(hand, key, how)
        if any((each.hand, each.key) == (hand, key) for each in touches):
            raise ValueError(f"the {hand} hand has {shown(key)} twice; take one out")
        touches.append(touch)
        how = ""
        place += count
    return Fingering(Kind.KEYS, tuple(sorted(touches, key=lambda touch: touch.hand == RIGHT)))


def _note_word(found: re.Match[str]) -> str:
    letter, word, flat, _ = found.groups()
    return f"{letter}-{word.lower() if word else 'flat' if flat else 'sharp'}"
