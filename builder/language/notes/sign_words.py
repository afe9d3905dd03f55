"""The words of a wind player's signs, each with its meaning and an example; words.py adds them to its own."""

from __future__ import annotations

from typing import NamedTuple


class SignWord(NamedTuple):
    """A word for a sign on one note; the fields are those of `words.Word`."""

    name: str
    kind: str
    means: str
    example: str
    on_each: bool = False


_EACH = "as a group, on each note in it."

SIGN_WORDS = (
    SignWord(
        "harmonic",
        "mark",
        "A harmonic with a circle: the note sounds as an overtone of a fingering that you choose.",
        "h B5 harmonic E6 harmonic",
    ),
    SignWord(
        "harmonic( B4 )",
        "sign",
        "A harmonic over a fingered fundamental: the note sounds, small, over a diamond for the fingering in "
        "brackets. The note must be one of its overtones (partials 2 to 8: octave, twelfth, double octave "
        "...). Both are transposed, and both must be in the instrument's range.",
        "h D5 harmonic( D4 ) A5 harmonic( D4 )",
    ),
    SignWord(
        "flutter",
        "mark",
        f"Flutter-tongue: three strokes on the stem; {_EACH}",
        "flutter( h D5 q E5 F#5 )",
        on_each=True,
    ),
    SignWord(
        "air-tone",
        "mark",
        f"More air than tone, on the fingering of the note: a crossed head; {_EACH}",
        "h D5 air-tone air-tone( q E5 F#5 )",
        on_each=True,
    ),
    SignWord(
        "whistle-tone",
        "mark",
        f"A whistle tone: hardly any air over the mouth hole, ended by `ord.`; {_EACH}",
        "h D6 whistle-tone D5",
        on_each=True,
    ),
    SignWord(
        "tongue-ram",
        "mark",
        "A tongue ram: the tongue stops the mouth hole. It sounds a major seventh below the fingering, which "
        f"has a triangle for a head; {_EACH}",
        "q D4 tongue-ram E4 tongue-ram h D5",
        on_each=True,
    ),
    SignWord(
        "key-click",
        "mark",
        f"A click of the keys without air: a crossed head; {_EACH}",
        "key-click( q D4 E4 ) h D5",
        on_each=True,
    ),
    SignWord(
        "mordent",
        "mark",
        "A mordent: the note, the next note of the key below, and the note.",
        "h D5 mordent E5",
    ),
    SignWord(
        "inverted-mordent",
        "mark",
        "An inverted mordent: the note, the next note of the key above, and the note.",
        "h D5 inverted-mordent E5",
    ),
    SignWord(
        "turn",
        "mark",
        "A turn: the next note of the key above, the note, the next one below, and the note.",
        "h D5 turn E5",
    ),
    SignWord(
        "mordent( sharp )",
        "sign",
        "A mordent whose lower note has an accidental of its own, as a trill's upper note may have.",
        "h D5 mordent( sharp ) E5",
    ),
    SignWord(
        "inverted-mordent( flat )",
        "sign",
        "An inverted mordent whose upper note has an accidental of its own.",
        "h D5 inverted-mordent( flat ) E5",
    ),
    SignWord(
        "turn( flat sharp below )",
        "sign",
        "A turn with accidentals of its own: of the upper note, then of the lower, or of one of them "
        "(`turn( flat )`, `turn( sharp below )`).",
        "h D5 turn( flat ) G5 turn( sharp below )",
    ),
    SignWord(
        "short-fermata", "mark", "A short fermata: hold the note a little.", "h D5 E5 short-fermata | w D5"
    ),
    SignWord("long-fermata", "mark", "A long fermata: hold the note twice as long.", "w D5 long-fermata"),
    SignWord(
        "glissando",
        "mark",
        "A slide to the next note, through every semitone on the way.",
        "h D5 glissando A5",
    ),
    SignWord("bend-up", "mark", "The pitch bends up at the end of the note.", "h D5 bend-up E5"),
    SignWord("bend-down", "mark", "The pitch bends down at the end of the note.", "h D5 bend-down E5"),
    SignWord(
        "timbral-trill",
        "mark",
        "A trill between two fingerings of the same pitch.",
        "w D5 timbral-trill",
    ),
    SignWord(
        "4 times",
        "sign",
        "After `:|`, how often the repeated passage is played, from 2 to 16 times. A first ending is played "
        "each time but the last.",
        "|: w D5 | w E5 :| 4 times w F#5",
    ),
    SignWord(
        "da-capo",
        "sign",
        "At the end of a bar: go back to the beginning and play without repeats, to `fine` or `to-coda` if "
        "one is there.",
        "w D5 | w E5 fine | w F#5 da-capo |",
    ),
    SignWord(
        "dal-segno",
        "sign",
        "At the end of a bar: go back to the bar that begins with `segno`.",
        "w D5 | segno w E5 fine | w F#5 dal-segno |",
    ),
    SignWord(
        "segno", "sign", "Before a bar: `dal-segno` leads here.", "w D5 | segno w E5 | w F#5 dal-segno |"
    ),
    SignWord(
        "fine",
        "sign",
        "At the end of a bar: the music ends here after the way back.",
        "w D5 fine | w E5 da-capo |",
    ),
    SignWord(
        "to-coda",
        "sign",
        "At the end of a bar: after the way back, go from here to the coda.",
        "w D5 to-coda | w E5 da-capo || coda w F#5",
    ),
    SignWord(
        "coda", "sign", "Before a bar: `to-coda` leads here.", "w D5 to-coda | w E5 da-capo || coda w D5 |"
    ),
    SignWord(
        "ritardando",
        "group",
        "The tempo slows by and by to the one that stands first, which holds from there on until `tempo( )`.",
        "ritardando( quarter = 40 q D5 E5 F#5 E5 | h D5 C#5 ) | w D5",
    ),
    SignWord(
        "accelerando",
        "group",
        "The tempo quickens by and by to the one that stands first, which holds from there on.",
        "accelerando( quarter = 120 q D5 E5 F#5 E5 ) | w D5",
    ),
    SignWord(
        "fingering",
        "sign",
        "A fingering over its note, in quotes. It holds for this pitch, so it is left out in every setting "
        "in which the note has another.",
        'w C5 fingering "T 1 . . | . . ."',
    ),
    SignWord(
        "fingering-chart",
        "mark",
        "The usual fingering of the note that is printed, drawn over it, or in numbers on brass; as a group, "
        "over each note in it. Where none is known, `check` says so.",
        "h D5 fingering-chart C5",
        on_each=True,
    ),
    SignWord(
        'fingering-chart "..."',
        "sign",
        "A fingering of your own, drawn over its note: the keys of the left hand, then those of the right. "
        "The main ones are 1 2 3, the others have their names. `half` before one closes half of its hole, "
        "`trilled` shades it. It holds for this pitch.",
        'h C5 fingering-chart "half 1 2 3, right 2 E-flat" D5 fingering-chart "thumb 2 3 | trilled D-trill"',
    ),
    SignWord(
        "in D",
        "sign",
        "Before words in quotes: they stand only in one key (`in B-flat`), or only where the note lies in "
        "one register of the instrument (`in low`, `in middle`, `in high` ...).",
        'h D5 in D above "open" A5 in middle below "support"',
    ),
)
"""Every word, in the order of the language page."""
