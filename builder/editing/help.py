"""What a word means, and which words may stand at a place.

Everything comes from the tables of the language and of the variations, so a new word needs nothing here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from ..language.field_words import FIELDS
from ..language.namings import ENGLISH, NAMINGS, Naming, example_by
from ..language.notes.figure_words import FIGURE_WORDS
from ..language.trade_words import plain_word
from ..language.words import CLEFS, DIRECTION_WORDS, GROUPS, KEY_STEPS, MARKS, SIGNS, VALUES, WORDS
from ..music.event import LEVELS
from ..music.figures import FIGURES
from ..music.keys import MODES
from ..variations import variations
from ..variations.equal_names import plain_name
from ..variations.registry import leading_name
from .places import (
    INTERVAL,
    PITCH,
    LinePart,
    field_at,
    is_words,
    item_at,
    known_field,
    naming_of,
    word_at,
)

_TYPED = re.compile(r"[^\s(),|\"]*$")
_WISHES = "variations"
"""The form of fields that hold ways of playing."""

_VALUES: dict[str, tuple[str, ...]] = {
    "home": ("in", "without key", *MODES),
    "meter": ("free",),
    "tempo": tuple(name for name in VALUES if len(name) > 1),
    "pickup": tuple(name for name in VALUES if len(name) > 1),
    "travel": ("twelve keys", *KEY_STEPS, *DIRECTION_WORDS, "through the range", "from", "then"),
    "notes": tuple(NAMINGS),
    "spelling": ("flats", "sharps"),
    "doubles": ("keep",),
    "second": ("canon at the", "pedal on", "block chords"),
}
"""Words of the fields that are neither music nor ways of playing."""


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a word means and an example of it; `span` is where it stands."""

    span: LinePart
    name: str
    means: str
    example: str


@dataclass(frozen=True, slots=True)
class Choice:
    """A word that may stand at a place: what to write, from the column `start` on, and what it means.

    `kind` is `field`, `word` or `variation`.
    """

    name: str
    written: str
    start: int
    kind: str
    means: str = ""
    example: str = ""


def meaning_at(lines: Sequence[str], line: int, column: int, naming: Naming = ENGLISH) -> Meaning | None:
    """What stands at a place means; None where it means nothing to the language.

    `naming` is how the book names notes; examples name them as the text does.
    """
    found = _meaning_at(lines, line, column)
    if found is None:
        return None
    named = naming_of(lines, naming)
    is_pitch = re.fullmatch(PITCH, found.name) and not named.is_english
    means = named.explained() if is_pitch else found.means
    return replace(found, means=means, example=example_by(named, found.name, found.example))


def _meaning_at(lines: Sequence[str], line: int, column: int) -> Meaning | None:
    if line >= len(lines):
        return None
    row, place = lines[line], field_at(lines, line)
    if not place.name:
        return None
    if column < place.value:
        said = row[: place.value].rstrip().removesuffix(":").rstrip()
        field = FIELDS[place.name]
        return Meaning(
            LinePart(said, 0, len(said)), place.name, field.means, f"{place.name}: {_one_line(field.example)}"
        )
    if is_words(row, column, place.form):
        return None
    if place.form == _WISHES:
        return _variation(item_at(row, column, place.value))
    if place.form == "music":
        return _word(word_at(row, column))
    return None


def _one_line(example: str) -> str:
    return example if "\n" not in example else "\n" + example


def _variation(span: LinePart) -> Meaning | None:
    name = leading_name(plain_name(span.text), variations())
    if name is None:
        return None
    found = variations()[name]
    return Meaning(span, name, found.means, f"{name} {found.takes}".strip())


def _word(span: LinePart) -> Meaning | None:
    name = plain_word(span.text)
    if name in FIGURES:
        figure = FIGURES[name]
        return Meaning(span, name, figure.means, figure.example)
    found = GROUPS.get(name) or MARKS.get(name) or SIGNS.get(_sign_of(name)) or FIGURE_WORDS.get(name)
    return Meaning(span, name, found.means, found.example) if found else None


def is_plain_word(name: str) -> bool:
    """Whether the name of a sign is a word to type: `rest`, `da-capo`, but not `q` or `|:`."""
    return len(name) > 1 and name.replace("-", "").isalpha()


def _sign_of(text: str) -> str:
    """The sign in the language's table that stands for a text such as `F#5`, `h.`, `mf`."""
    if re.fullmatch(PITCH, text):
        return "D5"
    if re.fullmatch(INTERVAL, text):
        return "+M3"
    if text in LEVELS:
        return "p"
    if text.rstrip(".") in VALUES and text.endswith("."):
        return "h."
    if text in VALUES or text == "dotted":
        return "q"
    return {"||": "|", ":|": "|:"}.get(text, text)


def choices_at(
    lines: Sequence[str],
    line: int,
    column: int,
    named: Iterable[str] = (),
    naming: Naming = ENGLISH,
) -> tuple[Choice, ...]:
    """The words that may stand at a place; `named` are the book's own ways of playing.

    `naming` is how the book names notes; examples name them as the text does.
    """
    naming = naming_of(lines, naming)
    return tuple(
        replace(choice, example=example_by(naming, choice.name, choice.example))
        for choice in _choices_at(lines, line, column, named)
    )


def _choices_at(lines: Sequence[str], line: int, column: int, named: Iterable[str]) -> tuple[Choice, ...]:
    row = lines[line] if line < len(lines) else ""
    before = row[:column]
    if before[:1].strip() == "" and before.strip() == "" and not before:
        return tuple(_fields(lines, line, 0))
    if not before[0].isspace() and not before.startswith("#") and ":" not in before:
        return tuple(_fields(lines, line, 0))
    place = field_at(lines, line)
    if not place.name or is_words(row, column, place.form):
        return ()
    if place.form == _WISHES:
        return tuple(_wishes(item_at(before, column, place.value).start, named))
    typed = _TYPED.search(before)
    start = typed.start() if typed else column
    if place.form == "music":
        return tuple(_music(before[start:], start))
    return tuple(Choice(word, word, start, "word") for word in _VALUES.get(place.name, ()))


def _fields(lines: Sequence[str], line: int, start: int) -> Iterator[Choice]:
    """The fields that the text does not have yet."""
    rows = [row.partition(":")[0] for number, row in enumerate(lines) if number != line and ":" in row]
    there = {known_field(row) for row in rows if row and not row[0].isspace()}
    for field in FIELDS.values():
        if field.name not in there:
            yield Choice(
                field.name,
                f"{field.name}: ",
                start,
                "field",
                field.means,
                f"{field.name}: {_one_line(field.example)}",
            )


def _wishes(start: int, named: Iterable[str]) -> Iterator[Choice]:
    for name in named:
        yield Choice(name, name, start, "variation", "A way of playing that the book names in mkdocs.yml.")
    for name, found in variations().items():
        yield Choice(name, name, start, "variation", found.means, f"{name} {found.takes}".strip())


def _music(typed: str, start: int) -> Iterator[Choice]:
    """Words of small letters; pitches, values and bar lines are quicker typed than chosen."""
    if typed and not typed[0].islower():
        return
    for word in WORDS:
        if word.name in MARKS or word.name in GROUPS or is_plain_word(word.name):
            written = f"{word.name}( " if word.name in GROUPS else word.name
            yield Choice(word.name, written, start, "word", word.means, word.example)
    for figure in FIGURES.values():
        yield Choice(figure.name, f"{figure.name}( ", start, "word", figure.means, figure.example)
    for word in FIGURE_WORDS.values():
        yield Choice(word.name, word.name, start, "word", word.means, word.example)
    for clef in CLEFS:
        yield Choice(clef, clef, start, "word", "A clef, in `clef( )`.", f"clef( {clef} )")
