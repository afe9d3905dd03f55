"""The names by which an exercise calls its notes: English ones, or those of a country.

A book chooses one naming for its exercises (`notes: german` in mkdocs.yml), and an exercise may choose its
own (the field `notes`). The parser makes English names of them, so whatever reads an exercise after it knows
no others. Octaves are counted alike in all namings: C4 is middle C.

The names are those of `translation/note_names.py`, and the short ones that players type. LilyPond's note
names (`scm/define-note-names.scm`) are an independent table of them; the tests compare.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import product

from ..music.keys import MODES, Key, key_class
from ..music.pitch import LETTERS, Pitch
from ..plurals import listed
from ..translation.note_names import NAMES
from ..visible import shown

Note = tuple[int, int]
"""A note without its octave: its letter, 0 (C) to 6 (B), and its alteration in semitones, -2 to 2."""

_SIGNS = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}
_EQUAL_SIGNS = {-2: ("bb",), -1: ("b", "♭"), 0: ("",), 1: ("#", "♯"), 2: ("##", "x")}
_WORDS = {-1: " flat", 0: "", 1: " sharp"}
_NOT_A_LETTER = r"(?![\w#♯♭])"

_ENGLISH_PITCH = re.compile(r"(?<![\w#])([A-G])(##|bb|[#b]?)(\d)(?!\d|[\w#♯♭/:])")
_ENGLISH_KEY = re.compile(
    rf"(?<![\w#])([A-G])(?:([ -](?:flat|sharp)\b)|(?=[ -](?:{'|'.join(MODES)})\b))(?![\w#])"
)
_ENGLISH_PLACE = re.compile(r"(?<=\bin )([A-G])(?= (?:above|below|say|syllable|fingering)\b|$)")
_QUOTED = re.compile(r"""((?<!\w)'[^'\n]*'|"[^"\n]*")""")


@dataclass(frozen=True, eq=False)
class Naming:
    """Names of notes. `name` is what a book calls the naming, `adjective` what a message calls a name of it.

    `notes` are all names that are read, each with its note; `worded` are longer ones, after which the octave
    may stand apart; `tonics` are the names of keys. `written` has the one that is written, by letter and
    alteration from double flat to double sharp; `keys` the same of a key, from flat to sharp.
    """

    name: str
    adjective: str = field(repr=False)
    notes: Mapping[str, Note] = field(repr=False)
    worded: Mapping[str, Note] = field(repr=False)
    tonics: Mapping[str, Note] = field(repr=False)
    written: tuple[tuple[str, ...], ...] = field(repr=False)
    keys: tuple[tuple[str, ...], ...] = field(repr=False)

    @property
    def is_english(self) -> bool:
        """Whether the names are those of the music itself."""
        return self.name == "english"

    # -- reading --------------------------------------------------------------------------------------

    @cached_property
    def pitch_pattern(self) -> str:
        """What matches a pitch: a name with its octave."""
        return rf"(?:{self.any_note}{rf'|(?:{_any_of(self.worded)})[ -]?' if self.worded else ''})\d"

    @cached_property
    def any_note(self) -> str:
        """What matches a short name without its octave."""
        return f"(?:{_any_of(self.notes)})"

    @cached_property
    def any_root(self) -> str:
        """What matches the name of a chord's root."""
        return f"(?:{_any_of(name for name, note in self.notes.items() if abs(note[1]) < 2)})"

    @cached_property
    def any_tonic(self) -> str:
        """What matches the name of a key's tonic."""
        return f"(?:{_any_of(self.tonics)})"

    @cached_property
    def _pitch(self) -> re.Pattern[str]:
        return re.compile(self.pitch_pattern)

    def is_pitch(self, text: str) -> bool:
        """Whether a text is a pitch in this naming."""
        return self._pitch.fullmatch(text) is not None

    @cached_property
    def _nearly(self) -> dict[str, Note]:
        return {name.casefold(): note for name, note in self.notes.items()}

    @cached_property
    def _tonics_nearly(self) -> dict[str, Note]:
        return {name.casefold(): note for name, note in self.tonics.items()}

    def english(self, text: str) -> str:
        """A pitch in English, `Bb4`, by its name in the naming, `B4`; other text stays as it is."""
        if self.is_english or not self.is_pitch(text):
            return text
        name = " ".join(text[:-1].rstrip(" -").split())
        return _english_name(self.worded.get(name) or self.notes[name]) + text[-1]

    def parse(self, text: str) -> Pitch:
        """A pitch by its name in the naming. Raises ValueError on anything else."""
        if self.is_pitch(text):
            return Pitch.parse(self.english(text))
        examples = [self.pitch(Pitch.parse(each)) for each in ("C4", "F#5", "Bb3")]
        raise ValueError(f"{shown(text)} is not a pitch such as {listed(examples, ' or ')}")

    def english_root(self, text: str) -> str:
        """A chord's root in English."""
        return text if self.is_english else _english_name(self.notes[text])

    def english_tonic(self, text: str) -> str:
        """A tonic in English, `B flat`, by its name in the naming; other text stays as it is."""
        note = self.tonics.get(" ".join(text.split()))
        if self.is_english or note is None:
            return text
        return LETTERS[note[0]] + _WORDS[note[1]]

    def nearly(self, text: str) -> tuple[str, str] | None:
        """The English name and the octave in a word that is almost a pitch: `("F#", "")` for `fis`."""
        found = re.fullmatch(r"(.*?)(-?\d*)", text)
        note = self._nearly.get(found[1].casefold()) if found else None
        return (_english_name(note), found[2]) if found and note else None

    def key_class(self, text: str) -> int | None:
        """The pitch class of a key by its name in the naming, or as an address has it; None for no key.

        Capitals and small letters count alike. A name goes before an address: a German `b` is B flat.
        """
        note = self._tonics_nearly.get(" ".join(text.split()).casefold())
        return Key(*note).pitch_class if note and not self.is_english else key_class(text)

    # -- writing --------------------------------------------------------------------------------------

    def note(self, letter: int, alter: int) -> str:
        """A note as it is written, without its octave."""
        return self.written[letter][alter + 2]

    def pitch(self, pitch: Pitch) -> str:
        """A pitch as it is written: `Fis5`, `fa#5`."""
        return f"{self.note(pitch.letter, pitch.alter)}{pitch.octave}"

    def tonic(self, key: Key) -> str:
        """A key's tonic as it is written: `Es`, `mi bémol`."""
        return self.keys[key.letter][key.alter + 1]

    def place_of_words(self, where: str) -> str:
        """A key such as `B-flat`, for which words hold, as it is written: `si-bémol`; a register stays."""
        note = ENGLISH.tonics.get(where)
        return self.keys[note[0]][note[1] + 1].replace(" ", "-") if note else where

    def retold(self, text: str) -> str:
        """A text with English names of pitches and keys in this naming; what stands in quotes stays."""
        if self.is_english:
            return text
        parts = _QUOTED.split(text)
        parts[::2] = [self._retold(part) for part in parts[::2]]
        return "".join(parts)

    def explained(self) -> str:
        """The names in a sentence for authors; in English it is that of the language's table of words."""
        plain, sharp, flat = (", ".join(row[alter] for row in self.written) for alter in (2, 3, 1))
        first, country = self.note(0, 0), self.adjective.split()[1]
        return (
            f"A pitch: its name and its octave; {first}4 is middle {first}. The names here are {country}: "
            f"{plain}; sharp {sharp}; flat {flat}; double sharp {self.note(3, 2)}, double flat "
            f"{self.note(3, -2)}."
        )

    def _retold(self, text: str) -> str:
        text = text.replace("middle C", f"middle {self.note(0, 0)}")
        text = _ENGLISH_PITCH.sub(lambda found: self.pitch(Pitch.parse(found[0])), text)
        text = _ENGLISH_PLACE.sub(lambda found: self.place_of_words(found[1]), text)
        return _ENGLISH_KEY.sub(self._retold_key, text)

    def _retold_key(self, found: re.Match[str]) -> str:
        alter = {"": 0, "flat": -1, "sharp": 1}[(found[2] or "").lstrip(" -")]
        name = self.keys[LETTERS.index(found[1])][alter + 1]
        return name.replace(" ", "-") if (found[2] or "").startswith("-") else name

    def retold_names(self, text: str) -> str:
        """A list of keys, or a row of chords, from English names: `do | sol la7` for `C | G A7`."""
        if self.is_english:
            return text
        name = re.compile(r"(?<![\w#.])([A-G])(?:([#b])|[ -](flat|sharp))?(?=[^a-z#]|m|$)")

        def told(found: re.Match[str]) -> str:
            alter = {"": 0, "#": 1, "b": -1, "flat": -1, "sharp": 1}[found[2] or found[3] or ""]
            letter = LETTERS.index(found[1])
            return self.keys[letter][alter + 1] if found[3] else self.note(letter, alter)

        return name.sub(told, text)


def _any_of(names: Iterable[str]) -> str:
    """An alternative of names, a longer one before its own beginning. No name has a sign of patterns."""
    return "|".join(sorted(names, key=lambda name: (-len(name), name))).replace(" ", " +")


def _english_name(note: Note) -> str:
    return LETTERS[note[0]] + _SIGNS[note[1]]


# -- the tables -------------------------------------------------------------------------------------------


def _both_cases(names: Mapping[str, Note]) -> dict[str, Note]:
    """The names, each with a small letter and with a capital."""
    return {each: note for name, note in names.items() for each in (name, name[0].upper() + name[1:])}


def _english() -> Naming:
    signs = {**_EQUAL_SIGNS, 0: ("", "n")}
    notes = {
        letter + sign: (number, alter)
        for number, letter in enumerate(LETTERS)
        for alter, equal in signs.items()
        for sign in equal
    }
    words = {-1: (" flat", "-flat", "b", "♭"), 0: ("",), 1: (" sharp", "-sharp", "#", "♯")}
    tonics = {
        letter + word: (number, alter)
        for number, letter in enumerate(LETTERS)
        for alter, equal in words.items()
        for word in equal
    }
    written = tuple(tuple(letter + sign for sign in _SIGNS.values()) for letter in LETTERS)
    keys = tuple(tuple(letter + word for word in _WORDS.values()) for letter in LETTERS)
    return Naming("english", "an English", notes, {}, tonics, written, keys)


def _with_endings(name: str, adjective: str, language: str, others: Mapping[str, str]) -> Naming:
    """A naming with names such as `Fis` and `Es`; `others` are more names, each with its usual one."""
    written = NAMES[language].written
    notes = {
        each: (letter, alter)
        for letter, row in enumerate(written)
        for alter, each in zip(range(-2, 3), row, strict=True)
    }
    notes |= {more: notes[usual] for more, usual in others.items()}
    keys = {each: note for each, note in notes.items() if abs(note[1]) < 2}
    # In print, the names of minor keys are small: h-Moll.
    tonics = keys | {each[0].lower() + each[1:]: note for each, note in keys.items()}
    return Naming(name, adjective, notes, {}, tonics, written, tuple(row[1:4] for row in written))


def _with_syllables(name: str, adjective: str, language: str, sharp: str) -> Naming:
    """A naming with do, re and mi; `sharp` is the letter for a sharp (`d` for dièse, `s` for sostenido)."""
    names = NAMES[language]
    signs = {alter: (*equal,) for alter, equal in _EQUAL_SIGNS.items()}
    signs[1] += (sharp,)
    signs[2] += (sharp * 2,)
    bases = [dict.fromkeys((base, base.replace("é", "e"))) for base in names.notes]
    notes = {
        base + sign: (letter, alter)
        for letter, equal in enumerate(bases)
        for base, (alter, every) in product(equal, signs.items())
        for sign in every
    }
    worded = {
        f"{base}{between}{word}": (letter, alter)
        for letter, equal in enumerate(bases)
        for base, between in product(equal, (" ", "-", ""))
        for alter, said in zip(range(-2, 3), names.alters, strict=True)
        for word in dict.fromkeys((said, said.replace("é", "e").replace("è", "e")))
        if word
    }
    keys = {each: note for each, note in {**notes, **worded}.items() if abs(note[1]) < 2}
    written = tuple(tuple(base + sign for sign in _SIGNS.values()) for base in names.notes)
    in_keys = tuple(tuple(names.note(letter, alter) for alter in (-1, 0, 1)) for letter in range(7))
    return Naming(
        name, adjective, _both_cases(notes), _both_cases(worded), _both_cases(keys), written, in_keys
    )


ENGLISH = _english()

NAMINGS: Mapping[str, Naming] = {
    naming.name: naming
    for naming in (
        ENGLISH,
        _with_endings("german", "a German", "de", {"Ases": "Asas"}),
        _with_syllables("french", "a French", "fr", "d"),
        _with_syllables("italian", "an Italian", "it", "d"),
        _with_syllables("spanish", "a Spanish", "es", "s"),
        _with_endings("dutch", "a Dutch", "nl", {"Ees": "Es", "Eeses": "Eses", "Aes": "As", "Aeses": "Ases"}),
    )
}
"""Every naming by its name."""


def example_by(naming: Naming, name: str, example: str) -> str:
    """An example of the field or the word `name`, its notes named by a naming."""
    return naming.retold_names(example) if name in ("keys", "chords") else naming.retold(example)


def foreign_pitch(text: str, naming: Naming) -> str:
    """How to mend a pitch that is named as in another naming; empty if it is a name of none."""
    for other in NAMINGS.values():
        english = other.english(text)
        if other is naming or (not other.is_english and english == text):
            continue
        if ENGLISH.is_pitch(english):
            pitch = Pitch.parse(english)
            own = naming.pitch(pitch)
            spoken = pitch.spoken.rsplit(" ", 1)[0] if pitch.alter else pitch.spoken[0]
            return _own(other, own, spoken, own[:-1], naming)
    return ""


def foreign_tonic(text: str, naming: Naming) -> str:
    """How to mend a tonic that is named as in another naming; empty if it is a name of none."""
    for other in NAMINGS.values():
        if other is not naming and (note := other.tonics.get(text)):
            key = Key(*note)
            return _own(other, naming.tonic(key), str(key.tonic), naming.tonic(key), naming)
    return ""


def _own(other: Naming, own: str, spoken: str, bare: str, naming: Naming) -> str:
    # A German B is B flat, which who wrote Bb must be told.
    which = f", which is {spoken} here" if bare in ("B", "b") and spoken != "B" else ""
    return f"that is {other.adjective} name: write {own}{which}, or `notes: {other.name}` in this file"


def any_tonic() -> str:
    """What matches the name of a key's tonic in any naming."""
    return _any_of({name for naming in NAMINGS.values() for name in naming.tonics})
