"""One part of duets by itself, for its player's stand."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from ..book.pieces import InstrumentBook, KeyPage, Rendition
from ..music.exercise import BlockChords, Exercise
from ..music.settings.second_part import part_alone
from ..translation.said import Said, joined, term

FIRST, SECOND = PARTS = ("first", "second")
"""The parts of a duet, by the words that ask for them."""

_NAMES = {FIRST: term("first part"), SECOND: term("second part")}


def in_part(name: str, part: str) -> Said:
    """The name of something, and the one of PARTS that it has of that: `Lantern, first part`."""
    return joined((name, _NAMES[part]), ", ")


def one_part(found: InstrumentBook, part: str) -> InstrumentBook:
    """An instrument's book with one of PARTS of its duets; it has other exercises for the first part only."""
    kept = [(exercise, pages) for exercise, pages in found.exercises if exercise.is_duet or part == FIRST]
    return InstrumentBook(found.instrument, tuple(_part_of(*each, part) for each in kept))


def duet_parts(found: Iterable[InstrumentBook]) -> Iterator[InstrumentBook]:
    """The books with each part of the duets alone, as far as there are duets."""
    for each in found:
        duets = tuple((exercise, pages) for exercise, pages in each.exercises if exercise.is_duet)
        if duets:
            yield from (one_part(InstrumentBook(each.instrument, duets), part) for part in PARTS)


def _part_of(
    exercise: Exercise, pages: tuple[KeyPage, ...], part: str
) -> tuple[Exercise, tuple[KeyPage, ...]]:
    if not exercise.is_duet:
        return exercise, pages
    # Block chords are the same in every way of playing.
    once = part == SECOND and isinstance(exercise.second, BlockChords)
    named = replace(exercise, title=in_part(exercise.title, part))
    named = replace(named, wanted=(), passes=()) if once else named

    def rendition(whole: Rendition) -> Rendition:
        score = whole.score and part_alone(whole.score, PARTS.index(part) + 1)
        return replace(whole, name=f"{whole.name}, {part} part", score=score)

    return named, tuple(
        replace(
            page,
            exercise=named,
            placed=tuple(
                replace(placed, parts=tuple(map(rendition, placed.parts[:1] if once else placed.parts)))
                for placed in page.placed
            ),
        )
        for page in pages
    )
