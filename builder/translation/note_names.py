"""Names of notes and keys as a country prints them.

German: H and B, `Fis`, `B-Dur`, `h-Moll`; Dutch: `Bes groot`, `bes klein`; French, Spanish and Italian: do,
re and mi with the words for sharp and flat. Octaves are counted as in the exercises: C4 is middle C.
All of it from memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

LETTERS = "CDEFGAB"
_ALTERS = {"double flat": -2, "flat": -1, "": 0, "sharp": 1, "double sharp": 2}
_SIGNS = {-2: "𝄫", -1: "♭", 0: "", 1: "♯", 2: "𝄪"}


@dataclass(frozen=True, slots=True)
class NoteNames:
    """A language's names. `notes` are seven from C; `modes` has a pattern for each mode around the tonic.

    Where `alters` are words (from double flat to double sharp) they follow the note's name. Where it is
    empty, `written` has the names of altered notes by letter and alteration.
    """

    notes: tuple[str, ...]
    modes: dict[str, str]
    alters: tuple[str, ...] = ()
    written: tuple[tuple[str, ...], ...] = ()

    def note(self, letter: int, alter: int) -> str:
        """A note without its octave: `Fis`, `fa dièse`."""
        if self.written:
            return self.written[letter][alter + 2]
        return " ".join(filter(None, (self.notes[letter], self.alters[alter + 2])))

    def sign(self, letter: int, alter: int) -> str:
        """The same in short: `Fis`, `fa♯`."""
        return self.written[letter][alter + 2] if self.written else self.notes[letter] + _SIGNS[alter]

    def spoken(self, name: str) -> str:
        """A note by its English name, with its octave if it has one: `Fis5` for `F sharp 5`."""
        letter, alter, octave = _parts(name)
        said = self.note(letter, alter)
        return f"{said}{' ' if ' ' in said and octave else ''}{octave}"

    def key(self, name: str) -> str:
        """A key by its English name: `h-Moll` for `B minor`."""
        tonic, _, mode = name.rpartition(" ")
        letter, alter, _ = _parts(tonic)
        called = self.note(letter, alter)
        return self.modes[mode].format(tonic=called, small=called[:1].lower() + called[1:])

    def every(self) -> Iterator[tuple[str, str]]:
        """Each note's name in the language, and as an address has it: `Des`, `d-flat`."""
        for letter, plain in enumerate(LETTERS):
            for alter, word in ((-1, "-flat"), (0, ""), (1, "-sharp")):
                for name in dict.fromkeys((self.note(letter, alter), self.sign(letter, alter))):
                    yield name, plain.lower() + word


def _parts(name: str) -> tuple[int, int, str]:
    """Letter, alteration and octave of an English name; the octave may be missing."""
    first, _, rest = name.partition(" ")
    letter, octave = LETTERS.index(first[0]), first[1:]
    words = rest.split()
    if words and words[-1].lstrip("-").isdigit():
        octave = words.pop()
    return letter, _ALTERS[" ".join(words)], octave


def _church(major: str, minor: str, rest: str, names: str) -> dict[str, str]:
    """Patterns for every mode; the church modes by `names` in the order of the scale."""
    church = ("ionian", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian")
    return {
        "major": major,
        "minor": minor,
        **{mode: f"{rest} {name}" for mode, name in zip(church, names.split(), strict=True)},
    }


_GERMAN = tuple(
    tuple(names.split())
    for names in (
        "Ceses Ces C Cis Cisis",
        "Deses Des D Dis Disis",
        "Eses Es E Eis Eisis",
        "Feses Fes F Fis Fisis",
        "Geses Ges G Gis Gisis",
        "Asas As A Ais Aisis",
        "Heses B H His Hisis",
    )
)
_DUTCH = (*_GERMAN[:5], ("Ases", "As", "A", "Ais", "Aisis"), ("Beses", "Bes", "B", "Bis", "Bisis"))
_ROMANCE = ("do", "re", "mi", "fa", "sol", "la", "si")

NAMES: dict[str, NoteNames] = {
    "de": NoteNames(
        tuple(row[2] for row in _GERMAN),
        _church(
            "{tonic}-Dur",
            "{small}-Moll",
            "{tonic}",
            "ionisch dorisch phrygisch lydisch mixolydisch äolisch lokrisch",
        ),
        written=_GERMAN,
    ),
    "nl": NoteNames(
        tuple(row[2] for row in _DUTCH),
        _church(
            "{tonic} groot",
            "{small} klein",
            "{tonic}",
            "ionisch dorisch frygisch lydisch mixolydisch eolisch locrisch",
        ),
        written=_DUTCH,
    ),
    "fr": NoteNames(
        ("do", "ré", *_ROMANCE[2:]),
        _church(
            "{tonic} majeur",
            "{tonic} mineur",
            "{tonic}",
            "ionien dorien phrygien lydien mixolydien éolien locrien",
        ),
        ("double bémol", "bémol", "", "dièse", "double dièse"),
    ),
    "es": NoteNames(
        _ROMANCE,
        _church(
            "{tonic} mayor", "{tonic} menor", "{tonic}", "jónico dórico frigio lidio mixolidio eólico locrio"
        ),
        ("doble bemol", "bemol", "", "sostenido", "doble sostenido"),
    ),
    "it": NoteNames(
        _ROMANCE,
        _church(
            "{tonic} maggiore",
            "{tonic} minore",
            "{tonic}",
            "ionico dorico frigio lidio misolidio eolio locrio",
        ),
        ("doppio bemolle", "bemolle", "", "diesis", "doppio diesis"),
    ),
}
"""By language. English names are those of the music itself."""
