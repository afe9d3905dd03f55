"""What a teacher fixes of daily sets for one student or several; the fields of its file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from .words import Field

STUDENT_FIELDS: dict[str, Field] = {
    each.name: each
    for each in (
        Field("student", "text", "The student's name; it begins her or his part of the file.", "Robin"),
        Field("minutes", "text", "The most minutes a day.", "12"),
        Field("days", "text", "How many days.", "7"),
        Field("instrument", "text", "The instrument (default: the book's first).", "flute"),
        Field("level", "text", "Only what suits this ability.", "beginner"),
        Field("opening", "text", "The exercise that begins each day.", "slow-tide"),
        Field("always", "text", "Exercises that come each day.", "new-britain"),
        Field(
            "each day",
            "text",
            "Ways of playing of which one comes each day: a way, or a word that several have.",
            "swell",
        ),
        Field("exercises", "text", "Only these exercises.", "slow-tide, late-light"),
        Field("ways", "text", "Only these ways of playing.", "swell up, slurred"),
        Field(
            "leave out", "text", "Exercises or ways of playing that never come.", "far-shore, eight levels"
        ),
        Field("more of", "text", "Exercises that count twice.", "late-light"),
        Field("less of", "text", "Exercises that count half.", "widening-gate"),
    )
}


@dataclass(frozen=True, slots=True)
class Student:
    """A student's wishes; exercises by their addresses, ways by their labels.

    `minutes` and `days` are 0, `instrument` and `level` empty where the file does not say. `exercises` and
    `ways` are those that may come, empty for all of the book.
    """

    name: str = ""
    minutes: int = 0
    days: int = 0
    instrument: str = ""
    level: str = ""
    opening: str = ""
    always: tuple[str, ...] = ()
    each_day: tuple[str, ...] = ()
    exercises: tuple[str, ...] = ()
    ways: tuple[str, ...] = ()
    more: tuple[str, ...] = ()
    less: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class KnownBook:
    """What may be named: exercises with their titles, ways of playing, instruments, and words for abilities.

    `levels` leads from each word for an ability to the program's own, `printed` from what a book prints of a
    way to its name (`growing` to `swell up`). `most_minutes` and `most_days` are the largest numbers that a
    plan may have.
    """

    exercises: Mapping[str, str]
    ways: Sequence[str]
    instruments: Sequence[str]
    levels: Mapping[str, str]
    most_minutes: int
    most_days: int
    printed: Mapping[str, str] = field(default_factory=dict)
