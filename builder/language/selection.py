"""A selection: what is played, in the author's order, for one student or several; the fields of its file."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from .words import Field

SELECTION_FIELDS: dict[str, Field] = {
    each.name: each
    for each in (
        Field("title", "text", "The name on the page.", "Week of the flats", required=True, limit=120),
        Field("for", "text", "The student's name; without it, the page has a line for the name.", "Robin"),
        Field(
            "words",
            "text",
            "The teacher's words, printed where they stand; an empty line begins a new paragraph.",
            "Softly, and no longer than it is easy.",
            limit=2000,
        ),
        Field(
            "play", "list", "What to play, in this order.", "slow-tide in D, E flat: slurred; low register"
        ),
        Field("keys", "text", "The keys of the items that name none.", "e-flat, a flat"),
        Field("exercises", "text", "Instead of `play`: exercises in all these keys.", "slow-tide"),
        Field(
            "variations",
            "text",
            "The variations of the items that name none (default: as written).",
            "as written, slurred",
        ),
        Field(
            "registers",
            "text",
            "The registers of the items that name none (default: the most comfortable one).",
            "middle, low",
        ),
        Field("instrument", "text", "The instrument (default: the book's first).", "flute"),
    )
}


@dataclass(frozen=True, slots=True)
class Item:
    """An exercise (by its address) in keys (their pages), variations and registers, each in this order.

    Empty `registers` stand for the most comfortable one. All of it is in the book.
    """

    exercise: str
    keys: tuple[str, ...]
    variations: tuple[str, ...]
    registers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Handout:
    """What one student is given: paragraphs of words, and items to play. No name is an empty `student`."""

    title: str
    student: str
    instrument: str
    content: tuple[str | Item, ...]


@dataclass(frozen=True, slots=True)
class Selection:
    """The hand-outs of a file, one at least."""

    handouts: tuple[Handout, ...]


@dataclass(frozen=True, slots=True)
class KnownExercise:
    """What may be named of an exercise: its title and its variations, `as written` among them."""

    title: str
    variations: Sequence[str]


@dataclass(frozen=True, slots=True)
class KnownKey:
    """An exercise in a key: the key's name (`E flat major`) and the registers in which it is there."""

    name: str
    registers: Sequence[str]


KeysOf = Callable[[str, str], Mapping[str, KnownKey]]
"""The keys of an exercise for an instrument, by key page, in the order of travel."""


@dataclass(frozen=True, slots=True)
class Known:
    """What a selection may name: exercises by address, and by instrument the names of its registers.

    `printed` leads from what a book prints of a variation to its name (`growing` to `swell up`).
    """

    exercises: Mapping[str, KnownExercise]
    registers: Mapping[str, Sequence[str]]
    keys_of: KeysOf
    printed: Mapping[str, str] = field(default_factory=dict)
