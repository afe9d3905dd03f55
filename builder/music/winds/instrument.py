"""Instruments: what a book must know about one to write for it.

Everything is in written pitches, unless a name says `sounding`. The instruments themselves are data, in
`instruments`; a studio adds its own in a file, which `stavewright.book.instruments_file` reads.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from ...translation.said import Said, phrase, player, term
from ...visible import shown
from ..pitch import Interval, Pitch
from ..score import Compass

LEVELS = ("beginning", "developing", "advanced")
"""The three abilities of players, as the program names them."""

ABILITIES = {"beginner": "beginning", "intermediate": "developing", "advanced": "advanced"}
"""The words that teachers use for them, each with the program's own. Both are accepted."""

LEVEL = "developing"
"""The ability of a book that names none."""

CLEFS = {"treble": 30, "alto": 24, "tenor": 22, "bass": 18}
"""Each clef's bottom line as a staff position (`Pitch.step`): E4, F3, D3 and G2."""

AS_WRITTEN = Interval(0, 0)

_SAVED = 2
"""So many ledger lines a note another clef must save before a part is written in it: with two, the tenor clef
begins where a line lies around E4 (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Register:
    """A part of the range under its name in the trade, by written pitches, both included."""

    name: str
    low: Pitch
    high: Pitch


def register_words(register: str) -> Said:
    """`middle register`, by its name."""
    return phrase("{register} register", register=term(register))


@dataclass(frozen=True, slots=True)
class Reach:
    """The written range to prefer for a player of one level, both ends included."""

    low: Pitch
    high: Pitch

    def __str__(self) -> str:
        return f"{self.low} to {self.high}"


@dataclass(frozen=True, slots=True)
class Sources:
    """Where an instrument's numbers come from: a publication, or `from memory`."""

    low: str
    high: str
    levels: str
    registers: str
    sounds: str


@dataclass(frozen=True, slots=True)
class Instrument:
    """A wind instrument as one book uses it.

    `transposition` leads from the page to the sound: a clarinet in B flat has a major second downward.
    `compass` holds all it has and the part to prefer, which is the reach of `level`. `clefs` are those its
    player reads, the usual one first. `fingerings` are those of its family by their name in
    `fingering_tables`, empty where nothing is known of them. Where `concert` is set, exercises are read as
    concert pitch and written transposed.
    """

    slug: str
    name: str
    compass: Compass
    registers: tuple[Register, ...]
    reaches: tuple[Reach, Reach, Reach]
    sources: Sources
    transposition: Interval = AS_WRITTEN
    clefs: tuple[str, ...] = ("treble",)
    level: str = LEVEL
    fingerings: str = ""
    concert: bool = field(default=False, kw_only=True)

    @property
    def said(self) -> Said:
        """Its name as it stands after `the`: `clarinet in B flat`, but `English horn`."""
        said = self.name if self.name.startswith("English") else self.name[:1].lower() + self.name[1:]
        return player(self.name, said)

    @property
    def sounds(self) -> int:
        """How many semitones above the page it sounds; negative below it."""
        return self.transposition.semitones

    @property
    def clef(self) -> str:
        """The usual clef."""
        return self.clefs[0]

    def register(self, pitch: Pitch) -> str:
        """The name of the register a written pitch lies in, or an empty string outside all of them."""
        for register in self.registers:
            if register.low.midi <= pitch.midi <= register.high.midi:
                return register.name
        return ""

    def sounding(self, pitch: Pitch) -> Pitch:
        """The pitch that sounds if this one is written. Its `midi` and `hertz` are those of the sound."""
        return pitch.up(self.transposition)

    def written(self, pitch: Pitch) -> Pitch:
        """The pitch to write so that this one sounds."""
        return pitch.up(-self.transposition)

    def at_level(self, level: str) -> Instrument:
        """The same instrument for a player of one of LEVELS. Raises KeyError for another word."""
        if level not in LEVELS:
            raise KeyError(level)
        reach = self.reaches[LEVELS.index(level)]
        compass = replace(self.compass, easy_low=reach.low, easy_high=reach.high)
        return replace(self, level=level, compass=compass)

    def clef_for(self, pitches: Iterable[Pitch]) -> str:
        """The clef for a line of these pitches: the usual one, unless another saves two ledger lines a note.

        A beginner reads only the usual one.
        """
        steps = [pitch.step for pitch in pitches]
        if not steps or self.level == LEVELS[0]:
            return self.clef

        def cost(clef: str) -> int:
            return sum(ledger_lines(step, clef) for step in steps)

        best = min(self.clefs, key=cost)
        return best if cost(self.clef) - cost(best) >= _SAVED * len(steps) else self.clef


def ledger_lines(step: int, clef: str) -> int:
    """How many ledger lines a staff position takes in a clef."""
    bottom = CLEFS[clef]
    top = bottom + 8
    return max(0, (bottom - step) // 2, (step - top) // 2)


def make(
    slug: str,
    name: str,
    *,
    low: str,
    high: str,
    reaches: tuple[str, str, str],
    registers: tuple[str, ...],
    sources: Sources,
    sounds: str = "",
    clefs: tuple[str, ...] = ("treble",),
    fingerings: str = "",
) -> Instrument:
    """An instrument from words: reaches as `C4 to A6`, registers as `low C4 to C#5`, sounds as `-M2`.

    Raises ValueError where a word cannot be read.
    """
    beginning, developing, advanced = (Reach(*ends(reach)) for reach in reaches)
    instrument = Instrument(
        slug=slug,
        name=name,
        compass=Compass(Pitch.parse(low), Pitch.parse(high), Pitch.parse(low), Pitch.parse(high)),
        registers=tuple(register(text) for text in registers),
        reaches=(beginning, developing, advanced),
        sources=sources,
        transposition=Interval.parse(sounds) if sounds else AS_WRITTEN,
        clefs=clefs,
        fingerings=fingerings,
    )
    return instrument.at_level(LEVEL)


def ends(text: str) -> tuple[Pitch, Pitch]:
    """The two pitches of `C4 to A6`. Raises ValueError where it is not that, or goes downward."""
    low, word, high = text.partition(" to ")
    if not word:
        raise ValueError(f"{shown(text)} is not a range such as C4 to A6")
    pitches = Pitch.parse(low.strip()), Pitch.parse(high.strip())
    if pitches[0].midi > pitches[1].midi:
        raise ValueError(f"{shown(text)} goes downward")
    return pitches


def register(text: str) -> Register:
    """A register from `throat G4 to Bb4`. Raises ValueError where it is not that."""
    before, word, high = text.partition(" to ")
    name, _, low = before.strip().rpartition(" ")
    if not word or not name:
        raise ValueError(f"{shown(text)} is not a register such as low C4 to C#5")
    return Register(name.strip(), *ends(f"{low} to {high}"))
