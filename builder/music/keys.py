"""Keys, their signatures, and which of two spellings a key takes.

Signatures follow the circle of fifths as any theory primer prints it (for example Ebenezer Prout,
"Harmony: its theory and practice", 1889, chapter I); a church mode takes the signature of the major
scale that holds its notes.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..translation.said import Said, key_name, note_name, phrase
from .pitch import LETTERS, Pitch

MODES: dict[str, int] = {
    "major": 0,
    "minor": -3,
    "ionian": 0,
    "dorian": -2,
    "phrygian": -4,
    "lydian": 1,
    "mixolydian": -1,
    "aeolian": -3,
    "locrian": -5,
}
"""Each mode's distance, in fifths, from the major key on the same tonic."""

_FIFTHS = (0, 2, 4, -1, 1, 3, 5)
_SCALE = (0, 2, 4, 5, 7, 9, 11)
_SLUG_OF_CLASS = ("c", "d-flat", "d", "e-flat", "e", "f", "f-sharp", "g", "a-flat", "a", "b-flat", "b")
KEY_SLUGS = _SLUG_OF_CLASS
"""The book's twelve key pages, by pitch class from C."""


@dataclass(frozen=True, slots=True)
class Key:
    """A tonic (`letter` 0-6, `alter` in semitones) and a mode named in MODES.

    Where the mode is empty there is no key: music on a note, printed without a signature.
    """

    letter: int
    alter: int
    mode: str = "major"

    @property
    def fifths(self) -> int:
        """Sharps in the signature, or flats where negative; print allows -7 to 7. 0 where there is no key."""
        return self.circle + MODES[self.mode] if self.mode else 0

    @property
    def circle(self) -> int:
        """The tonic's place on the circle of fifths, from C: sharpward, or flatward where negative."""
        return _FIFTHS[self.letter] + 7 * self.alter

    @property
    def pitch_class(self) -> int:
        """The tonic's pitch class, 0 (C) to 11 (B)."""
        return (_SCALE[self.letter] + self.alter) % 12

    @property
    def tonic(self) -> Said:
        """`E flat`, as it is said."""
        return note_name(LETTERS[self.letter] + {-1: " flat", 0: "", 1: " sharp"}[self.alter])

    @property
    def name(self) -> Said:
        """`E flat major`; `on E flat` where there is no key."""
        return key_name(f"{self.tonic} {self.mode}" if self.mode else f"on {self.tonic}")

    @property
    def slug(self) -> str:
        """The tonic as it stands in an address: `e-flat`."""
        return self.tonic.lower().replace(" ", "-")

    @property
    def page(self) -> str:
        """The address of the key page it stands on; C sharp minor stands on `d-flat`."""
        return _SLUG_OF_CLASS[self.pitch_class]

    def alteration(self, letter: int) -> int:
        """What the scale does to a letter: -1, 0 or 1 in a signature that can be printed, 2 beyond it."""
        # Sharps enter in the order F C G D A E B, flats the other way round; an eighth sharp is F's second.
        return (self.fifths + 5 - _FIFTHS[letter]) // 7

    def scale(self) -> tuple[tuple[int, int], ...]:
        """The seven (letter, alter) pairs upward from the tonic."""
        return tuple(
            (letter % 7, self.alteration(letter % 7)) for letter in range(self.letter, self.letter + 7)
        )


def tonic_of(pitch: Pitch, mode: str) -> Key:
    """The key of that mode on a pitch's letter and accidental."""
    return Key(pitch.letter, pitch.alter, mode)


def spellings(pitch_class: int, mode: str) -> tuple[Key, ...]:
    """Every printable key (at most seven accidentals) on a pitch class, fewest accidentals first.

    Six sharps and six flats tie; of such a pair the sharp key stands first. Without a mode the names of the
    note, in the order of its major keys.
    """
    keys = (Key(letter, alter, mode) for letter in range(7) for alter in (-1, 0, 1))
    fitting = [key for key in keys if key.pitch_class == pitch_class and abs(rank(key)) <= 7]
    return tuple(sorted(fitting, key=lambda key: (abs(rank(key)), -rank(key))))


def rank(key: Key) -> int:
    """What equal keys are chosen by: the signature, or without a key the major one on the same note."""
    return key.fifths if key.mode else key.circle


def in_words(name: str) -> Said:
    """A key's name after a title: `in E flat major`, or `on E flat`, where there is no key."""
    called = key_name(name)
    return called if name.startswith("on ") else phrase("in {key}", key=called)


def tonic_words(name: str) -> Said:
    """The tonic in a key's name: `E flat` for `E flat major` and for `on E flat`."""
    return note_name(name.removeprefix("on ") if name.startswith("on ") else name.rsplit(" ", 1)[0])


def key_class(slug: str) -> int | None:
    """The pitch class of a key as an address or a player names it (`e-flat`, `Eb`, `d sharp`), or None."""
    text = slug.strip()
    if not text:
        return None
    letter = LETTERS.find(text[0].upper())
    sign = text[1:].strip(" -_").lower()
    alters = {"": 0, "flat": -1, "b": -1, "♭": -1, "sharp": 1, "#": 1, "♯": 1}
    if letter < 0 or sign not in alters:
        return None
    return (_SCALE[letter] + alters[sign]) % 12
