"""What a book's pages hold: every exercise for every instrument, in every key, in every variation."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ..music.exercise import Exercise
from ..music.instruments import Instrument
from ..music.score import Score
from ..music.transpositions import Setting, in_keys, settings
from ..variations import Unsuitable, apply, find
from ..variations.passes import played_twice, replaces_passes
from .read import Book


@dataclass(frozen=True, slots=True)
class Part:
    """A setting as written, or in one variation. `score` is None where `left_out` says why.

    `name` is unique in the book and names the piece in messages.
    """

    name: str
    label: str
    means: str
    score: Score | None
    left_out: str = ""


@dataclass(frozen=True, slots=True)
class Placed:
    """A setting with all its parts; none where it cannot be played."""

    setting: Setting
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class InKey:
    """An exercise in one key: `key` is the key page's address, `name` the key as it is called here."""

    exercise: Exercise
    instrument: Instrument
    key: str
    name: str
    placed: tuple[Placed, ...]


@dataclass(frozen=True, slots=True)
class Shelf:
    """An instrument's book: each exercise's keys in the order of travel."""

    instrument: Instrument
    exercises: tuple[tuple[Exercise, tuple[InKey, ...]], ...]

    def in_key(self, key: str) -> tuple[InKey, ...]:
        """Every exercise on one key page."""
        return tuple(page for _, pages in self.exercises for page in pages if page.key == key)


AS_WRITTEN = "as written"


def parts(setting: Setting) -> tuple[Part, ...]:
    """The setting as written, then each variation its exercise asks for, or why one is left out."""
    if not setting.fits:
        return ()
    once = setting.score()
    passes = [each.names for each in setting.exercise.passes]
    plain = played_twice(once, *passes) if passes else once
    where = f"{setting.exercise.slug}, {setting.instrument.name.lower()}, {setting.key.name}, "
    where += " ".join(filter(None, (f"from {setting.start.spoken}", setting.direction)))
    found = [Part(f"{where}, {AS_WRITTEN}", AS_WRITTEN, "", plain)]
    for wanted in setting.exercise.wanted:
        name = f"{where}, {wanted.label}"
        means = " ".join(find(wish)[0].means for wish in wanted.names)
        try:
            # A way of playing of its own takes the place of what the two times have.
            score = once if passes and replaces_passes(wanted.names) else plain
            found.append(Part(name, wanted.label, means, apply(score, wanted.names)))
        except Unsuitable as reason:
            found.append(Part(name, wanted.label, means, None, f"Left out here: {reason}."))
    return tuple(found)


def shelf(exercises: tuple[Exercise, ...], instrument: Instrument) -> Shelf:
    """An instrument's book of these exercises."""
    found = []
    for exercise in exercises:
        pages = []
        for key, group in in_keys(settings(exercise, instrument)).items():
            placed = tuple(Placed(setting, parts(setting)) for setting in group)
            pages.append(InKey(exercise, instrument, key, group[0].called.name, placed))
        found.append((exercise, tuple(pages)))
    return Shelf(instrument, tuple(found))


def shelves(book: Book) -> tuple[Shelf, ...]:
    """The published book, an instrument a shelf."""
    return tuple(shelf(book.published, instrument) for instrument in book.instruments)


def pieces(pages: Iterable[InKey]) -> list[Part]:
    """The parts of some pages that have music, in the order of the plan."""
    return [
        part for page in pages for placed in page.placed for part in placed.parts if part.score is not None
    ]


def scores(found: tuple[Shelf, ...]) -> dict[str, Score]:
    """Every score to engrave, by its part's name."""
    return {
        part.name: part.score
        for shelf in found
        for _, pages in shelf.exercises
        for part in pieces(pages)
        if part.score is not None
    }


def shelf_root(instrument: Instrument, count: int) -> str:
    """An instrument's address in a site for so many: empty where it is the only one."""
    return f"{instrument.slug}/" if count > 1 else ""
