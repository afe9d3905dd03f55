"""Other names of variations, beside the program's own: those of musicians, and those that a book prints.

Musicians' names: common practice, no source.
"""

from __future__ import annotations

from .registry import leading_name

EQUAL_NAMES: dict[str, str] = {
    "staccato": "detached",
    "legato": "slurred",
    "portato": "soft-tongued",
    "crescendo": "swell up",
    "diminuendo": "swell down",
    "decrescendo": "swell down",
    "messa di voce": "swell from pp to f to pp",
    "dal niente": "from silence",
    "al niente": "to silence",
    "dynamic": "level",
    "eight dynamics": "eight levels",
    "terraced dynamics": "terraces",
    "straight tone": "without vibrato",
    "senza vibrato": "without vibrato",
    "non vibrato": "without vibrato",
    "con vibrato": "with vibrato",
    "single tonguing": "tonguing single",
    "double tonguing": "tonguing double",
    "triple tonguing": "tonguing triple",
    "interval numbers": "figured",
    "soft tongue": "soft-tongued",
    "growing": "swell up",
    "fading": "swell down",
    "from nothing": "from silence",
    "to nothing": "to silence",
    "eight dynamic levels": "eight levels",
    "with figures": "figured",
    "late vibrato": "vibrato late",
    "fading vibrato": "vibrato fading",
    "measured vibrato": "vibrato measured",
    "jumps of register": "register jump",
    "dotted in reverse": "reverse dotted",
    "twice as long": "doubled",
    "sing and play": "singing",
    "single tongue": "tonguing single",
    "double tongue": "tonguing double",
    "triple tongue": "tonguing triple",
    "back tongue": "tonguing back",
    "reverse double tongue": "tonguing reverse double",
}
"""Names with the variation that each means, in the variation's own words."""

NAME_HINTS: dict[str, str] = {
    "vibrato": "write `with vibrato`, `without vibrato`, or such as `vibrato late`",
    "flutter tonguing": 'write it as words in the music, such as `above "flutter-tongue"`',
    "forte": "write `level f`",
    "piano": "write `level p`",
    "transposed": "the keys are in the field `travel`",
    "octave higher": "write `upper octave first`",
    "octave lower": "write `lower octave first`",
    "inverted": "this variation does not exist; write another exercise",
    "retrograde": "this variation does not exist; write another exercise",
}
"""What to write for names that no variation has."""


def plain_name(wish: str) -> str:
    """A wish with an equal name replaced by the variation's own: `crescendo by last note`."""
    name = leading_name(wish, EQUAL_NAMES)
    return wish if name is None else EQUAL_NAMES[name] + wish.removeprefix(name)
