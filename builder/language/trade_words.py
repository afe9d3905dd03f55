"""Musicians' words that the language accepts beside its own, and what to write for those it does not have.

Common practice, no source.
"""

from __future__ import annotations

from .field_words import FIELDS
from .words import GROUPS, MARKS, SIGNS

EQUAL_WORDS: dict[str, str] = {
    "crescendo": "louder",
    "cresc": "louder",
    "diminuendo": "softer",
    "dim": "softer",
    "decrescendo": "softer",
    "decresc": "softer",
    "hold": "fermata",
    "pause": "fermata",
    "syllable": "say",
    "metronome": "tempo",
    "metre": "meter",
    "arpeggio": "broken-chord",
    "gliss": "glissando",
    "rit": "ritardando",
    "ritard": "ritardando",
    "rall": "ritardando",
    "rallentando": "ritardando",
    "accel": "accelerando",
    "flutter-tongue": "flutter",
    "flatterzunge": "flutter",
    "whisper-tone": "whistle-tone",
    "pralltriller": "inverted-mordent",
    "bisbigliando": "timbral-trill",
}
"""Words of the music, each with the language's own word for the same thing."""

EQUAL_FIELDS: dict[str, str] = {
    "transpose": "travel",
    "metronome": "tempo",
    "metre": "meter",
    "time signature": "meter",
    "upbeat": "pickup",
    "pick-up": "pickup",
    "focus": "attend",
    "double-accidentals": "doubles",
}
"""Fields of an exercise, each with the language's own name of the same field."""

_ACCENT = "write `accent` after the note, and its dynamic, such as `h D5 accent f`"
_AS_WORDS = "the language has no sign for it: write it as words, such as `above "

WORD_HINTS: dict[str, str] = {
    **dict.fromkeys(("sf", "sfz", "fz", "rfz", "sforzando"), _ACCENT),
    **dict.fromkeys(("fp", "sfp"), "write `f` after the note and `p` after the next one"),
    **dict.fromkeys(("appoggiatura", "acciaccatura"), f"write `{GROUPS['grace'].example}`"),
    **dict.fromkeys(("legato", "ligature"), f"write `{GROUPS['slur'].example}`"),
    "repeat": f"write `{SIGNS['|:'].example}`",
    **dict.fromkeys(("key", "transpose"), "the key is in the field `home`, and the other keys in `travel`"),
    **dict.fromkeys(("measure", "bar", "barline"), "write `|` at the end of a bar"),
    **dict.fromkeys(
        ("breve", "held", "open"),
        "write `long` before a note that is held as long as the breath, with `meter: free`",
    ),
    **dict.fromkeys(("cadenza", "free"), "for free time write the field `meter: free`"),
    "silence": "write `rest`",
    "in": 'for words in one key or register write `in B-flat above "long fingering"`',
    "portamento": f'{_AS_WORDS}"port."`',
    "piano": "write `p`",
    "forte": "write `f`",
    "mezzoforte": "write `mf`",
    "mezzopiano": "write `mp`",
    "pianissimo": "write `pp`",
    "fortissimo": "write `ff`",
    "dot": "write `staccato`",
    "swell": "write `louder( h D5 p E5 ) softer( F#5 mf E5 )`",
}
"""What to write for words of the music that the language does not have."""

_RANGE = (
    "to go through the instrument's range, write `travel: semitones up through the range`; "
    "its highest note is `tops` in mkdocs.yml"
)

_SECOND = (
    f"write the second part in `music second`, or a rule for it: `second: {FIELDS['second'].example}`, "
    "`second: pedal on D4` or `second: block chords`"
)

FIELD_HINTS: dict[str, str] = {
    **dict.fromkeys(("harmony", "accompaniment"), f"write `chords: {FIELDS['chords'].example}`"),
    **dict.fromkeys(("duet", "canon", "round", "pedal", "second part", "second voice"), _SECOND),
    "key": f"write the note it starts from and its key, `home: {FIELDS['home'].example}`",
    "range": _RANGE,
    "compass": _RANGE,
    "melody": "write the notes in the field `music`",
    "time": f"write `meter: {FIELDS['meter'].example}`",
    "composer": "write `source` for where the music is from, or `rights` for who made it",
    "author": "write `rights` for who made it",
    **dict.fromkeys(("copyright", "license", "licence"), f"write `rights: {FIELDS['rights'].example}`"),
    **dict.fromkeys(
        ("date", "day"), f"write `added: {FIELDS['added'].example}` for when it came into the book"
    ),
    "description": "write `purpose`, or `about` for more",
    "level": "ability is in mkdocs.yml: write `level` among the options there",
    "instrument": "write the instruments in mkdocs.yml, such as `instruments: [flute]`",
}
"""What to write for fields that an exercise does not have."""


def plain_word(name: str) -> str:
    """The language's own word for a word of the music."""
    return EQUAL_WORDS.get(name, name)


def plain_field(name: str) -> str:
    """The language's own name of a field."""
    return EQUAL_FIELDS.get(name, name)


def example_of(name: str) -> str:
    """The example of a group or a mark, with the word that its author knows it by."""
    plain = plain_word(name)
    return (GROUPS.get(plain) or MARKS[plain]).example.replace(plain, name)
