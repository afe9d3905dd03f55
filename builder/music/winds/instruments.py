"""The built-in instruments, as data. To add one, add an entry here; nothing else changes.

Every number has its source. Those looked up in public-domain texts are:

- GROVE: A Dictionary of Music and Musicians, edited by George Grove (1879-1889), on each instrument;
- JOHNSTONE: A. E. Johnstone, Instruments of the Modern Symphony Orchestra (1917);
- FITZGIBBON: H. M. Fitzgibbon, The Story of the Flute (1914);
- BRITANNICA: Encyclopaedia Britannica, eleventh edition (1911), on each instrument.

Common practice is from memory, above all the reach of each level: a suggestion for teachers, not a standard.
A book moves it with `tops` or with an instrument of its own.
"""

from __future__ import annotations

from .instrument import Instrument, Reach, Register, Sources, make

__all__ = ["FLUTE", "INSTRUMENTS", "Instrument", "Reach", "Register", "Sources"]

_MEMORY = "from memory"
_LEVELS = "common practice, from memory; a proposal"


def _sources(low: str, high: str, sounds: str, registers: str = _MEMORY) -> Sources:
    return Sources(low=low, high=high, levels=_LEVELS, registers=registers, sounds=sounds)


PICCOLO = make(
    "piccolo",
    "Piccolo",
    sounds="P8",
    low="D4",
    high="C7",
    reaches=("D4 to D6", "D4 to G6", "D4 to Bb6"),
    registers=("low D4 to C#5", "middle D5 to C#6", "high D6 to C7"),
    fingerings="piccolo",
    sources=_sources(
        "Grove, Piccolo; Johnstone, p. 20; Fitzgibbon, p. 80",
        "Fitzgibbon, p. 80, who finds it rarely used above A; Johnstone, p. 20, ends at B flat",
        "an octave higher: Grove, Piccolo; Johnstone, p. 20; Fitzgibbon, p. 80",
    ),
)

FLUTE = make(
    "flute",
    "Flute",
    low="C4",
    high="D7",
    reaches=("D4 to D6", "C4 to A6", "C4 to C7"),
    registers=("low C4 to C#5", "middle D5 to C#6", "high D6 to D7"),
    fingerings="flute",
    sources=_sources(
        "Grove, vol. 1, p. 537",
        "C7 in Grove, vol. 1, p. 537, which leaves the notes above it to exceptional players; D7 from memory",
        "as written: from memory",
    ),
)

ALTO_FLUTE = make(
    "alto-flute",
    "Alto flute",
    sounds="-P4",
    low="C4",
    high="C7",
    reaches=("D4 to D6", "C4 to E6", "C4 to G6"),
    registers=("low C4 to C#5", "middle D5 to C#6", "high D6 to C7"),
    fingerings="alto-flute",
    sources=_sources(_MEMORY, _MEMORY, "a fourth lower: from memory"),
)

OBOE = make(
    "oboe",
    "Oboe",
    low="Bb3",
    high="A6",
    reaches=("D4 to A5", "B3 to D6", "Bb3 to F6"),
    registers=("low Bb3 to C5", "middle C#5 to C6", "high C#6 to A6"),
    fingerings="oboe",
    sources=_sources(
        "Grove, vol. 2, p. 487",
        "Grove, vol. 2, p. 487, as extreme, with F6 as the practical limit",
        "as written: from memory",
    ),
)

ENGLISH_HORN = make(
    "english-horn",
    "English horn",
    sounds="-P5",
    low="B3",
    high="F6",
    reaches=("D4 to A5", "C4 to C6", "B3 to E6"),
    registers=("low B3 to C5", "middle C#5 to C6", "high C#6 to F6"),
    sources=_sources(
        "from memory; Johnstone, p. 24, has the oboe's B flat, for which most instruments lack the key",
        "Johnstone, p. 24, who finds the two or three highest notes seldom used",
        "a fifth lower: Johnstone, p. 24; Britannica, Cor anglais",
    ),
)

_CLARINET_REGISTERS = (
    "chalumeau E3 to F#4",
    "throat G4 to Bb4",
    "clarion B4 to C6",
    "altissimo C#6 to C7",
)

CLARINET_B_FLAT = make(
    "clarinet-b-flat",
    "Clarinet in B flat",
    sounds="-M2",
    low="E3",
    high="C7",
    reaches=("E3 to G5", "E3 to C6", "E3 to G6"),
    registers=_CLARINET_REGISTERS,
    fingerings="clarinet",
    sources=_sources("Grove, vol. 1, p. 361", _MEMORY, "a tone lower: Grove, vol. 1, p. 362"),
)

CLARINET_A = make(
    "clarinet-a",
    "Clarinet in A",
    sounds="-m3",
    low="E3",
    high="C7",
    reaches=("E3 to G5", "E3 to C6", "E3 to G6"),
    registers=_CLARINET_REGISTERS,
    fingerings="clarinet",
    sources=_sources("Grove, vol. 1, p. 361", _MEMORY, "a minor third lower: Grove, vol. 1, p. 362"),
)

BASS_CLARINET = make(
    "bass-clarinet",
    "Bass clarinet",
    sounds="-M9",
    low="Eb3",
    high="G6",
    reaches=("E3 to D5", "Eb3 to A5", "Eb3 to E6"),
    registers=(
        "chalumeau Eb3 to F#4",
        "throat G4 to Bb4",
        "clarion B4 to C6",
        "altissimo C#6 to G6",
    ),
    fingerings="bass-clarinet",
    sources=_sources(_MEMORY, _MEMORY, "a major ninth lower in the treble clef: Britannica, Bass clarinet"),
)

BASSOON = make(
    "bassoon",
    "Bassoon",
    low="Bb1",
    high="F5",
    reaches=("F2 to D4", "C2 to G4", "Bb1 to C5"),
    registers=("low Bb1 to E2", "bass F2 to F3", "tenor F#3 to D4", "high Eb4 to F5"),
    fingerings="bassoon",
    clefs=("bass", "tenor"),
    sources=_sources(
        "Grove, vol. 1, p. 152",
        "Grove, vol. 1, p. 152, as reached by modern instruments; A flat 4 is its normal end in both texts",
        "as written: Johnstone, p. 32",
        "from memory; the high register is where Britannica and Johnstone hear the vox humana",
    ),
)


def _saxophone(slug: str, size: str, sounds: str, said: str, low: str = "Bb3") -> Instrument:
    """The saxophones differ in what sounds, and the baritone in its lowest key."""
    return make(
        slug,
        f"{size} saxophone",
        sounds=sounds,
        low=low,
        high="F#6",
        reaches=("D4 to C6", "C4 to D6", "Bb3 to F6"),
        registers=(f"low {low} to C#5", "middle D5 to C#6", "high D6 to F#6"),
        fingerings="saxophone",
        sources=_sources(
            f"{low} from memory; B3 in Grove, vol. 3, p. 233, before the lower keys",
            "F#6 from memory; F6 in Grove, vol. 3, p. 233",
            f"{said}: from memory, the keys named in Johnstone, p. 36",
        ),
    )


SOPRANO_SAXOPHONE = _saxophone("soprano-saxophone", "Soprano", "-M2", "a tone lower")
ALTO_SAXOPHONE = _saxophone("alto-saxophone", "Alto", "-M6", "a major sixth lower")
TENOR_SAXOPHONE = _saxophone("tenor-saxophone", "Tenor", "-M9", "a major ninth lower")
BARITONE_SAXOPHONE = _saxophone(
    "baritone-saxophone", "Baritone", "-M13", "an octave and a major sixth lower", low="A3"
)

HORN = make(
    "horn",
    "Horn in F",
    sounds="-P5",
    low="F#2",
    high="C6",
    reaches=("G3 to D5", "F3 to G5", "C3 to Bb5"),
    registers=("low F#2 to B3", "middle C4 to C5", "high C#5 to C6"),
    fingerings="horn",
    # The bass clef is read as it is today, a fifth above the sound, and not an octave lower as it once was.
    clefs=("treble", "bass"),
    sources=_sources(
        "from memory; the whole is the three and a half octaves of Johnstone, p. 38",
        "from memory; the whole is the three and a half octaves of Johnstone, p. 38",
        "a fifth lower in the treble clef: Johnstone, p. 38; so in the bass clef by today's practice, memory",
    ),
)

TRUMPET = make(
    "trumpet",
    "Trumpet in B flat",
    sounds="-M2",
    low="F#3",
    high="E6",
    reaches=("A3 to D5", "F#3 to G5", "F#3 to C6"),
    registers=("low F#3 to B3", "middle C4 to F5", "high F#5 to E6"),
    fingerings="trumpet",
    sources=_sources(
        "Johnstone, p. 40",
        "Johnstone, p. 40, in brackets; C6 as the usual end",
        "a tone lower: Johnstone, p. 40",
    ),
)

TROMBONE = make(
    "trombone",
    "Trombone",
    low="E2",
    high="D5",
    reaches=("A2 to D4", "E2 to F4", "E2 to Bb4"),
    registers=("low E2 to A2", "middle Bb2 to F4", "high F#4 to D5"),
    fingerings="trombone",
    clefs=("bass", "tenor"),
    sources=_sources(
        "Johnstone, p. 44, without the pedal notes",
        "from memory; Bb4 in Johnstone, p. 44",
        "as written: Johnstone, p. 44",
    ),
)

EUPHONIUM = make(
    "euphonium",
    "Euphonium",
    low="E2",
    high="D5",
    reaches=("A2 to D4", "E2 to F4", "E2 to Bb4"),
    registers=("low E2 to A2", "middle Bb2 to F4", "high F#4 to D5"),
    fingerings="euphonium",
    clefs=("bass",),
    sources=_sources(_MEMORY, _MEMORY, "as written in the bass clef: from memory"),
)

TUBA = make(
    "tuba",
    "Tuba",
    low="F1",
    high="F4",
    reaches=("Bb1 to D3", "F1 to Bb3", "F1 to F4"),
    registers=("low F1 to A1", "middle Bb1 to Bb3", "high B3 to F4"),
    fingerings="tuba",
    clefs=("bass",),
    sources=_sources("Johnstone, p. 46", "Johnstone, p. 46", "as written: Johnstone, p. 46"),
)

INSTRUMENTS: dict[str, Instrument] = {
    instrument.slug: instrument
    for instrument in (
        PICCOLO,
        FLUTE,
        ALTO_FLUTE,
        OBOE,
        ENGLISH_HORN,
        CLARINET_B_FLAT,
        CLARINET_A,
        BASS_CLARINET,
        BASSOON,
        SOPRANO_SAXOPHONE,
        ALTO_SAXOPHONE,
        TENOR_SAXOPHONE,
        BARITONE_SAXOPHONE,
        HORN,
        TRUMPET,
        TROMBONE,
        EUPHONIUM,
        TUBA,
    )
}
