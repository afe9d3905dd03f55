"""The words of the music, each with its meaning and an example. The site's language page lists them.

A new word is one entry here.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto
from fractions import Fraction

from ..music.event import OPTIONAL, SLUR, Span
from ..music.exercise import FALLING, RISING
from .notes.sign_words import SIGN_WORDS

VALUES: dict[str, Fraction] = {
    "w": Fraction(1),
    "h": Fraction(1, 2),
    "q": Fraction(1, 4),
    "e": Fraction(1, 8),
    "s": Fraction(1, 16),
    "t": Fraction(1, 32),
    "whole": Fraction(1),
    "half": Fraction(1, 2),
    "quarter": Fraction(1, 4),
    "eighth": Fraction(1, 8),
    "sixteenth": Fraction(1, 16),
    "thirty-second": Fraction(1, 32),
    "semibreve": Fraction(1),
    "minim": Fraction(1, 2),
    "crotchet": Fraction(1, 4),
    "quaver": Fraction(1, 8),
    "semiquaver": Fraction(1, 16),
}


@dataclass(frozen=True, slots=True)
class Enclose:
    """A span over the notes inside."""

    span: Span


@dataclass(frozen=True, slots=True)
class Hairpin:
    """A hairpin over the notes inside; `mark` opens it."""

    mark: str


@dataclass(frozen=True, slots=True)
class Tuplet:
    """`many` notes in the time of `time`; if both are 0, the text says the ratio first."""

    many: int = 0
    time: int = 0


@dataclass(frozen=True, slots=True)
class Vibrato:
    """Vibrato from one part of the notes' whole time to another: 0 is their beginning, 1 their end."""

    start: Fraction
    end: Fraction


@dataclass(frozen=True, slots=True)
class Ending:
    """The bars inside are a first ending (1) or a second ending (2)."""

    number: int


class Next(Enum):
    """What the next note or the next bar gets from the words inside."""

    GRACE_NOTES = auto()
    METER = auto()
    TEMPO = auto()
    CLEF = auto()


Effect = Enclose | Hairpin | Tuplet | Vibrato | Ending | Next
"""What a group does."""


@dataclass(frozen=True, slots=True)
class Word:
    """A word of the music: `kind` is `mark` (after a note), `group` (around notes), `sign` or `figure`.

    `effect` is what a group does; groups.py carries it out. A mark with `on_each` may also stand around
    notes, for each of them: `tenuto( D5 E5 )`.
    """

    name: str
    kind: str
    means: str
    example: str
    effect: Effect | None = None
    on_each: bool = False


_AROUND = "as a group, on each note in it."
_MIDDLE = Fraction(1, 2)

_ALL: tuple[Word, ...] = (
    Word(
        "D5",
        "sign",
        "A pitch: its letter, its accidental and its octave; C4 is middle C. The accidentals are # or ♯ "
        "(sharp), b or ♭ (flat), ## or x (double sharp), bb (double flat) and n (natural, which may be left "
        "out).",
        "h D5 F#5",
    ),
    Word(
        "q",
        "sign",
        "A note value, kept until the next: w h q e s t, or its name (half, minim, dotted quarter).",
        "h D5 q E5 quarter F#5",
    ),
    Word(
        "long",
        "sign",
        "An open note held as long as the breath, kept until the next value; only if the field `meter` says "
        "`free`. A breath follows each, unless a slur or a tie leads on: then they share one breath. Several "
        "seconds each, as the field `breath` says.",
        "long D5 C#5 | slur( D5 E5 )",
    ),
    Word("h.", "sign", "A dot after a note value lengthens it by half.", "h. D5 q E5"),
    Word(
        "+M3",
        "sign",
        "A note by its interval from the starting note (in `home`), up or down.",
        "q +P1 +M3 +P5 -P4",
    ),
    Word("rest", "sign", "A rest of the current value.", "h D5 rest"),
    Word(
        "|",
        "sign",
        "A bar line; every bar is checked against the meter. In free time it divides phrases, and is dashed. "
        "|| is a double bar.",
        "w D5 | w E5",
    ),
    Word("|:", "sign", "A repeated passage, from |: to :|.", "|: w D5 | w E5 :|"),
    Word("p", "sign", "A dynamic, after the note it begins on: ppp pp p mp mf f ff fff.", "h D5 p E5 f"),
    Word(",", "sign", "A breath after the note.", "h D5 , E5"),
    Word("above", "sign", "Words above the staff, in quotes.", 'w D5 above "still"'),
    Word("below", "sign", "Words below the staff, in quotes.", 'w D5 below "inner ear first"'),
    Word("say", "sign", "A tonguing syllable below the note.", 'h D5 say "doo" E5 say "goo"'),
    Word("tie", "mark", "Ties the note to the next, which has the same pitch.", "h D5 q E5 tie E5"),
    Word("breath", "mark", "A breath after the note, like the comma.", "h D5 breath E5"),
    Word("fermata", "mark", "A fermata: hold the note.", "w D5 fermata"),
    Word("staccato", "mark", f"Short, with a dot; {_AROUND}", "q D5 staccato E5 h F#5", on_each=True),
    Word("tenuto", "mark", f"Full length, with a line; {_AROUND}", "tenuto( q D5 E5 ) h F#5", on_each=True),
    Word(
        "portato", "mark", f"Line and dot, nearly full length; {_AROUND}", "portato( h D5 E5 )", on_each=True
    ),
    Word("accent", "mark", f"A stressed beginning; {_AROUND}", "h D5 accent E5", on_each=True),
    Word("trill", "mark", "A trill with the next note of the key above.", "w D5 trill"),
    Word(
        "trill( flat )",
        "sign",
        "A trill whose upper note has an accidental of its own: flat, natural, sharp, double-flat or "
        "double-sharp. It is transposed with the note.",
        "w D5 trill( flat )",
    ),
    Word("marcato", "mark", f"A strongly stressed beginning; {_AROUND}", "h D5 marcato E5", on_each=True),
    Word(
        "slur",
        "group",
        "A slur: tongue only the first note and join the rest.",
        "slur( h D5 q E5 F#5 )",
        Enclose(SLUR),
    ),
    Word(
        "louder",
        "group",
        "A crescendo hairpin, to the end of its last note.",
        "louder( h D5 p E5 ) | w D5 f",
        Hairpin("<"),
    ),
    Word(
        "softer",
        "group",
        "A diminuendo hairpin, to the end of its last note.",
        "softer( h D5 f E5 ) | w D5 p",
        Hairpin(">"),
    ),
    Word(
        "optional",
        "group",
        "A passage in brackets that the player may leave out.",
        "w D5 | optional( w E5 )",
        Enclose(OPTIONAL),
    ),
    Word("triplet", "group", "Three in the time of two.", "triplet( q D5 E5 F#5 ) h D5", Tuplet(3, 2)),
    Word(
        "tuplet",
        "group",
        "Any tuplet: 5:4 is five notes in the time of four.",
        "tuplet( 5:4 e D5 E5 F#5 E5 D5 ) h E5",
        Tuplet(),
    ),
    Word(
        "grace",
        "group",
        "Grace notes before the next note; they take no time from the bar.",
        "grace( C#5 ) h D5 grace( E5 F#5 ) G5",
        Next.GRACE_NOTES,
    ),
    Word(
        "vibrato",
        "group",
        "Vibrato from the start of the first note to the end of the last.",
        "vibrato( w D5 )",
        Vibrato(Fraction(0), Fraction(1)),
    ),
    Word(
        "late-vibrato",
        "group",
        "Straight at first; vibrato from the middle on.",
        "late-vibrato( w D5 )",
        Vibrato(_MIDDLE, Fraction(1)),
    ),
    Word(
        "fading-vibrato",
        "group",
        "Vibrato at first, straight from the middle on.",
        "fading-vibrato( w D5 )",
        Vibrato(Fraction(0), _MIDDLE),
    ),
    Word(
        "first-time",
        "group",
        "A first ending: these bars the first time only.",
        "|: w D5 | first-time( w E5 :| ) second-time( w D5 )",
        Ending(1),
    ),
    Word(
        "second-time",
        "group",
        "A second ending: these bars instead of the first ending when the passage comes again.",
        "|: w D5 | first-time( w E5 :| ) second-time( w D5 )",
        Ending(2),
    ),
    Word(
        "meter",
        "group",
        "A new meter, from the next bar on.",
        "w D5 | meter( 3/4 ) h E5 q F#5",
        Next.METER,
    ),
    Word(
        "tempo",
        "group",
        "A new tempo, from the next bar on.",
        "w D5 | tempo( half = 40 ) w E5",
        Next.TEMPO,
    ),
    Word(
        "clef",
        "group",
        "A change of clef from the next note on: treble, bass, tenor or alto.",
        "h D5 clef( bass ) C4",
        Next.CLEF,
    ),
)

_ALL += tuple(Word(*row[:4], on_each=row.on_each) for row in SIGN_WORDS)

SIGNS: dict[str, Word] = {word.name: word for word in _ALL if word.kind == "sign"}
MARKS: dict[str, Word] = {word.name: word for word in _ALL if word.kind == "mark"}
GROUPS: dict[str, Word] = {word.name: word for word in _ALL if word.kind == "group"}
WORDS: tuple[Word, ...] = _ALL

CLEFS = ("treble", "bass", "tenor", "alto")

KEY_STEPS = {
    "semitones": 1,
    "fifths": 7,
    "fourths": 5,
    "whole tones": 2,
    "minor thirds": 3,
    "major thirds": 4,
    "tritones": 6,
}
"""The words of `travel` for the step from key to key, each in semitones."""

EQUAL_STEPS = {"tones": "whole tones", "whole steps": "whole tones", "half steps": "semitones"}
"""Other words of `travel` for a step, each with the language's own."""

DIRECTION_WORDS = {"down": FALLING, "up": RISING}
"""The words of `travel` for the way through the keys."""

ACCIDENTALS = {"flat": -1, "natural": 0, "sharp": 1, "double-flat": -2, "double-sharp": 2}
"""The words of a trill's upper note, with its alteration in semitones."""

NOTE_MARKS = tuple(name for name, mark in MARKS.items() if mark.on_each)
"""Marks that may also stand as a group around notes, for each of them: `tenuto( D5 E5 )`."""
