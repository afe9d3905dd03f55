"""The usual fingering of each note, as data, each table with its source. To add one, add an entry here.

Written pitches, from the lowest note of a table to its highest without a gap. A table ends where players
begin to differ, and an instrument has none where no source or sure knowledge is behind it: `fingering-chart`
is then a fault, and the author writes the keys herself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache

from ..event import Event
from ..pitch import Pitch
from .fingering import Fingering, Kind, Mechanism, Touch, read_fingering

_FLUTE_KEYS = {
    "left": {"thumb": "b", "B-flat-thumb": "bes", "G-sharp": "gis"},
    "right": {
        "B-flat-lever": "bes",
        "D-trill": "d",
        "D-sharp-trill": "dis",
        "E-flat": "ees",
        "C-sharp": "cis",
        "C": "c",
        "gizmo": "gz",
    },
}
_PICCOLO_KEYS = {
    "left": _FLUTE_KEYS["left"],
    "right": {name: key for name, key in _FLUTE_KEYS["right"].items() if key in ("bes", "d", "dis", "ees")},
}
_CLARINET_KEYS = {
    "left": {
        "thumb": "thumb",
        "register": "R",
        "A": "a",
        "G-sharp": "gis",
        "E-flat": "ees",
        "C-sharp": "cis",
        "F": "f",
        "E": "e",
        "F-sharp": "fis",
    },
    "right": {
        "side-1": "one",
        "side-2": "two",
        "side-3": "three",
        "side-4": "four",
        "B": "b",
        "F-sharp": "fis",
        "G-sharp": "gis",
        "E": "e",
        "F": "f",
    },
}
_SAXOPHONE_KEYS = {
    "left": {
        "octave": "T",
        "palm-D": "d",
        "palm-E-flat": "ees",
        "palm-F": "f",
        "front-F": "front-f",
        "bis": "bes",
        "G-sharp": "gis",
        "low-C-sharp": "cis",
        "low-B": "b",
        "low-B-flat": "low-bes",
    },
    "right": {
        "side-E": "e",
        "side-C": "c",
        "side-B-flat": "bes",
        "high-F-sharp": "high-fis",
        "F-sharp": "fis",
        "E-flat": "ees",
        "low-C": "low-c",
    },
}
_OBOE_KEYS = {
    "left": {
        "first-octave": "I",
        "second-octave": "II",
        "third-octave": "III",
        "G-sharp": "gis",
        "E-flat": "ees",
        "low-B": "low-b",
        "low-B-flat": "bes",
        "F": "f",
    },
    "right": {"banana": "banana", "F": "f", "C": "c", "C-sharp": "cis", "E-flat": "ees"},
}
_BASSOON_KEYS = {
    "left": {
        "whisper": "w",
        "high-E": "high-e",
        "A-flick": "a",
        "C-flick": "c",
        "D-flick": "d",
        "thumb-C-sharp": "thumb-cis",
        "low-B-flat": "low-bes",
        "low-B": "low-b",
        "low-C": "low-c",
        "low-D": "low-d",
        "C-sharp": "cis",
        "E-flat": "ees",
    },
    "right": {
        "thumb-B-flat": "thumb-bes",
        "thumb-E": "thumb-e",
        "thumb-F-sharp": "thumb-fis",
        "thumb-G-sharp": "thumb-gis",
        "B-flat": "bes",
        "F": "f",
        "F-sharp": "fis",
        "G-sharp": "gis",
    },
}


Rows = Iterable[tuple[Pitch, Fingering]]
"""Notes with their fingerings."""


def _keyed(drawn: str, keys: dict[str, dict[str, str]], half: bool = True) -> Mechanism:
    return Mechanism(Kind.KEYS, drawn, keys, half)


@dataclass(frozen=True, slots=True)
class Fingerings:
    """How an instrument is fingered: its mechanism, and each written pitch's usual fingering by MIDI number.

    `source` says where the table is from, and `checked` what it was compared with. Both are empty where there
    is no table.
    """

    mechanism: Mechanism
    source: str = ""
    checked: str = ""
    usual: Mapping[int, Fingering] = field(default_factory=dict)
    lowest: Pitch | None = None
    highest: Pitch | None = None

    def of(self, pitch: Pitch) -> Fingering | None:
        """The usual fingering of a written pitch, or None."""
        return self.usual.get(pitch.midi)

    def chart(self, event: Event) -> Fingering | None:
        """What to show over a note that asks for a chart, or None where nothing is known.

        The author's own keys come first. A harmonic over its fingering has the chart of the fingered note.
        """
        if event.chart:
            try:
                return read_fingering(event.chart, self.mechanism)
            except ValueError:
                return None
        asked = event.fundamental or event.pitch
        return self.of(asked) if asked and event.asks_for_chart else None


def _table(
    mechanism: Mechanism, source: str, checked: str, rows: Iterable[tuple[Pitch, Fingering]]
) -> Fingerings:
    found = list(rows)
    pitches = [pitch for pitch, _ in found]
    usual = {pitch.midi: fingering for pitch, fingering in found}
    return Fingerings(mechanism, source, checked, usual, pitches[0], pitches[-1])


def _rows(text: str, mechanism: Mechanism) -> Rows:
    for line in text.strip().splitlines():
        names, _, keys = line.partition(":")
        fingering = read_fingering(keys, mechanism)
        for name in names.split():
            yield Pitch.parse(name), fingering


def _in_order(rows: Rows) -> list[tuple[Pitch, Fingering]]:
    return sorted(rows, key=lambda row: row[0].midi)


_MEMORY = "from memory"
_ALT = "compared with a teacher's public charts: E. Alt, Fingerings (github.com/flaminghakama/lessons, ly/)"

_FLUTE = """
C4:     thumb 1 2 3 | 1 2 3 C-sharp C
C#4:    thumb 1 2 3 | 1 2 3 C-sharp
D4:     thumb 1 2 3 | 1 2 3
Eb4:    thumb 1 2 3 | 1 2 3 E-flat
E4 E5:  thumb 1 2 3 | 1 2 E-flat
F4 F5:  thumb 1 2 3 | 1 E-flat
F#4 F#5: thumb 1 2 3 | 3 E-flat
G4 G5:  thumb 1 2 3 | E-flat
G#4 G#5: thumb 1 2 3 G-sharp | E-flat
A4 A5:  thumb 1 2 | E-flat
Bb4 Bb5: thumb 1 | 1 E-flat
B4 B5:  thumb 1 | E-flat
C5 C6:  1 | E-flat
C#5 C#6: | E-flat
D5:     thumb 2 3 | 1 2 3
Eb5:    thumb 2 3 | 1 2 3 E-flat
D6:     thumb 2 3 | E-flat
Eb6:    thumb 1 2 3 G-sharp | 1 2 3 E-flat
E6:     thumb 1 2 | 1 2 E-flat
F6:     thumb 1 3 | 1 E-flat
F#6:    thumb 1 3 | 3 E-flat
G6:     1 2 3 | E-flat
G#6:    2 3 G-sharp | E-flat
A6:     thumb 2 | 1 E-flat
"""

_CHALUMEAU = """
E3:  thumb 1 2 3 | 1 2 3 E
F3:  thumb 1 2 3 | 1 2 3 F
F#3: thumb 1 2 3 | 1 2 3 F-sharp
G3:  thumb 1 2 3 | 1 2 3
G#3: thumb 1 2 3 | 1 2 3 G-sharp
A3:  thumb 1 2 3 | 1 2
Bb3: thumb 1 2 3 | 1
B3:  thumb 1 2 3 | 2
C4:  thumb 1 2 3
C#4: thumb 1 2 3 C-sharp
D4:  thumb 1 2
Eb4: thumb 1 2 | side-4
E4:  thumb 1
F4:  thumb
"""

_THROAT = """
F#4: 1
G4:  open
G#4: G-sharp
A4:  A
Bb4: register A
"""

_TWELFTH = 19
"""Semitones by which the register key of a clarinet raises a note of the chalumeau."""

_SAXOPHONE = """
Bb3: 1 2 3 low-B-flat | 1 2 3 low-C
B3:  1 2 3 low-B | 1 2 3 low-C
C4:  1 2 3 | 1 2 3 low-C
C#4: 1 2 3 low-C-sharp | 1 2 3 low-C
D4:  1 2 3 | 1 2 3
Eb4: 1 2 3 | 1 2 3 E-flat
E4:  1 2 3 | 1 2
F4:  1 2 3 | 1
F#4: 1 2 3 | 2
G4:  1 2 3
G#4: 1 2 3 G-sharp
A4:  1 2
Bb4: 1 2 | side-B-flat
B4:  1
C5:  2
C#5: open
"""

_SAXOPHONE_TOP = """
D6:  octave palm-D
Eb6: octave palm-D palm-E-flat
E6:  octave palm-D palm-E-flat | side-E
F6:  octave palm-D palm-E-flat palm-F | side-E
"""

_OCTAVE = 12


def _with(fingering: Fingering, key: str) -> Fingering:
    """The same fingering with a key of the left thumb before the others."""
    first = Touch("left", key)
    thumb = [touch for touch in fingering.touches if touch.key == "thumb"]
    rest = [touch for touch in fingering.touches if touch.key != "thumb"]
    return Fingering(fingering.kind, (*thumb, first, *rest))


def _raised(rows: Rows, key: str, steps: int, semitones: int) -> Rows:
    """Rows an octave or a twelfth higher, with the key that makes the pipe overblow."""
    for pitch, fingering in rows:
        letter = (pitch.letter + steps) % 7
        octave = pitch.octave + (pitch.letter + steps) // 7
        natural = Pitch(letter, 0, octave)
        raised = Pitch(letter, pitch.midi + semitones - natural.midi, octave)
        yield raised, _with(fingering, key)


_PARTIALS = (2, 3, 4, 5, 6, 8)
"""The open notes in use: the partials of a tube, without the seventh, which is flat."""

_PARTIAL_SEMITONES = {2: 12, 3: 19, 4: 24, 5: 28, 6: 31, 8: 36}
"""How far the partials lie above the first, in semitones of equal temperament, rounded."""

_VALVES = ("", "2", "1", "1 2", "2 3", "1 3", "1 2 3")
"""The valves that lower a note by no, one, two ... semitones: the first lowers by two, the second by one, the
third by three."""


def _lowered(
    first: Pitch, lowest: Pitch, highest: Pitch, mechanism: Mechanism, steps: tuple[str, ...]
) -> Rows:
    """The notes from the lowest to the highest, each lowered as little as possible from a partial."""
    opens = [first.midi + _PARTIAL_SEMITONES[partial] for partial in _PARTIALS]
    for midi in range(lowest.midi, highest.midi + 1):
        down = min(each - midi for each in opens if each >= midi)
        octave, sound = divmod(midi, 12)
        yield Pitch.parse(f"{_NAMES[sound]}{octave - 1}"), read_fingering(steps[down], mechanism)


_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B")
_POSITIONS = ("1", "2", "3", "4", "5", "6", "7")

_RULE = "by rule: each note is lowered least from a partial of the open tube, never the seventh; {how}"


@cache
def fingerings(name: str) -> Fingerings:
    """The fingerings of a family by its name. Raises KeyError for one that nothing is known of."""
    return _MAKE[name]()


def _flute() -> Fingerings:
    mechanism = _keyed("flute", _FLUTE_KEYS)
    return _table(mechanism, _MEMORY, _ALT, _in_order(_rows(_FLUTE, mechanism)))


def _two_octaves(drawn: str, keys: dict[str, dict[str, str]], lowest: str) -> Fingerings:
    """The flute's fingerings to C#6: above, the piccolo and the alto flute have some of their own."""
    mechanism = _keyed(drawn, keys)
    low, high = Pitch.parse(lowest).midi, Pitch.parse("C#6").midi
    flute = _in_order(_rows(_FLUTE, _keyed("flute", _FLUTE_KEYS)))
    rows = [(pitch, keys) for pitch, keys in flute if low <= pitch.midi <= high]
    return _table(mechanism, f"the flute's, {_MEMORY}", "as far as they are the flute's", rows)


def _clarinet(drawn: str) -> Fingerings:
    mechanism = _keyed(drawn, _CLARINET_KEYS)
    chalumeau = list(_rows(_CHALUMEAU, mechanism))
    rows = [*chalumeau, *_rows(_THROAT, mechanism), *_raised(chalumeau, "register", 11, _TWELFTH)]
    source = f"{_MEMORY}; the clarion is the chalumeau with the register key; little fingers on the right"
    return _table(mechanism, source, f"E3 to B flat 4 {_ALT}", rows)


def _saxophone(drawn: str) -> Fingerings:
    mechanism = _keyed(drawn, _SAXOPHONE_KEYS, half=False)
    low = list(_rows(_SAXOPHONE, mechanism))
    from_d = [row for row in low if row[0].midi >= Pitch.parse("D4").midi]
    rows = [*low, *_raised(from_d, "octave", 7, _OCTAVE), *_rows(_SAXOPHONE_TOP, mechanism)]
    return _table(mechanism, _MEMORY, f"{_ALT}; low C and F6 are slips of the pen there", rows)


def _brass(kind: Kind, names: tuple[str, ...], first: str, ends: tuple[str, str]) -> Fingerings:
    mechanism = Mechanism(kind, valves=names)
    low, high = (Pitch.parse(end) for end in ends)
    steps = _POSITIONS if kind is Kind.SLIDE else _VALVES
    how = (
        "each position lowers by a semitone" if kind is Kind.SLIDE else "valves lower by 2, 1 and 3 semitones"
    )
    rows = _lowered(Pitch.parse(first), low, high, mechanism, steps)
    return _table(mechanism, _RULE.format(how=how), "the rule by a test; no table of others", rows)


_MAKE: dict[str, Callable[[], Fingerings]] = {
    "flute": _flute,
    "piccolo": lambda: _two_octaves("piccolo", _PICCOLO_KEYS, "D4"),
    "alto-flute": lambda: _two_octaves("flute", _FLUTE_KEYS, "C4"),
    "oboe": lambda: Fingerings(_keyed("oboe", _OBOE_KEYS)),
    "clarinet": lambda: _clarinet("clarinet"),
    "bass-clarinet": lambda: _clarinet("bass-clarinet"),
    "bassoon": lambda: Fingerings(_keyed("bassoon", _BASSOON_KEYS)),
    "saxophone": lambda: _saxophone("saxophone"),
    "tin-whistle": lambda: Fingerings(_keyed("tin-whistle", {"left": {}, "right": {}})),
    "trumpet": lambda: _brass(Kind.VALVES, ("1", "2", "3"), "C3", ("F#3", "C6")),
    "trombone": lambda: _brass(Kind.SLIDE, _POSITIONS, "Bb1", ("E2", "F4")),
    "euphonium": lambda: _brass(Kind.VALVES, ("1", "2", "3", "4"), "Bb1", ("E2", "Bb4")),
    "horn": lambda: Fingerings(Mechanism(Kind.VALVES, valves=("thumb", "1", "2", "3"))),
    "tuba": lambda: Fingerings(Mechanism(Kind.VALVES, valves=("1", "2", "3", "4", "5", "6"))),
}

FAMILIES = tuple(_MAKE)
"""The names that an instrument may give for its fingerings."""
