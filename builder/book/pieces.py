"""What a book's pages hold: every exercise for every instrument, in every key, in every variation."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ..music.exercise import Exercise
from ..music.score import Score
from ..music.settings.transpositions import Setting, in_keys, settings_of
from ..music.winds.instruments import Instrument
from ..translation.said import NOTHING, Said, joined, phrase, term
from ..variations import Unsuitable, apply, find
from ..variations.passes import played_twice, replaces_passes
from .page_words import PLAIN, PageWords
from .read import Book


@dataclass(frozen=True, slots=True)
class Rendition:
    """A setting as written, or in one variation. `score` is None where `reason` says why, as a clause.

    `name` is unique in the book and names the piece in messages.
    """

    name: str
    label: str
    means: str
    score: Score | None
    reason: str = ""

    @property
    def left_out(self) -> Said:
        """Why there is no music, in a sentence; empty where there is some."""
        return phrase("Left out here: {reason}.", reason=self.reason) if self.reason else NOTHING


@dataclass(frozen=True, slots=True)
class SettingPieces:
    """A setting with all its parts; none where it cannot be played.

    `number` is its place in the order of travel, from 0.
    """

    setting: Setting
    parts: tuple[Rendition, ...]
    number: int = 0


@dataclass(frozen=True, slots=True)
class KeyPage:
    """An exercise in one key: `key` is the key page's address, `name` the key as it is called here."""

    exercise: Exercise
    instrument: Instrument
    key: str
    name: str
    placed: tuple[SettingPieces, ...]


@dataclass(frozen=True, slots=True)
class InstrumentBook:
    """An instrument's book: each exercise's keys in the order of travel."""

    instrument: Instrument
    exercises: tuple[tuple[Exercise, tuple[KeyPage, ...]], ...]

    def in_key(self, key: str) -> tuple[KeyPage, ...]:
        """Every exercise on one key page."""
        return tuple(page for _, pages in self.exercises for page in pages if page.key == key)


AS_WRITTEN = term("as written")


def renditions_of(setting: Setting, words: PageWords = PLAIN) -> tuple[Rendition, ...]:
    """The setting as written, then each variation its exercise asks for, or why one is left out.

    `words` are those on the page.
    """
    if not setting.fits:
        return ()
    once = setting.score()
    passes = [each.names for each in setting.exercise.passes]
    plain = played_twice(once, *passes) if passes else once
    where = f"{setting.exercise.slug}, {setting.instrument.name.lower()}, {setting.key.name}, "
    where += " ".join(filter(None, (f"from {setting.start.spoken}", setting.direction)))
    found = [Rendition(f"{where}, {AS_WRITTEN}", AS_WRITTEN, "", words.on(plain))]
    for wanted in setting.exercise.wanted:
        name = f"{where}, {wanted.label}"
        means = joined(find(wish)[0].means for wish in wanted.names)
        try:
            # A way of playing of its own takes the place of what the two times have.
            score = once if passes and replaces_passes(wanted.names) else plain
            varied = words.on(apply(score, wanted.names))
            found.append(Rendition(name, wanted.label, means, varied))
        except Unsuitable as unsuitable:
            found.append(Rendition(name, wanted.label, means, None, unsuitable.reason))
    return tuple(found)


def instrument_book_of(
    exercises: tuple[Exercise, ...], instrument: Instrument, words: PageWords = PLAIN
) -> InstrumentBook:
    """An instrument's book of these exercises, with these words on the page."""
    found = []
    for exercise in exercises:
        pages = []
        settings = settings_of(exercise, instrument)
        numbers = {setting.name: number for number, setting in enumerate(settings)}
        for key, group in in_keys(settings).items():
            placed = tuple(
                SettingPieces(setting, renditions_of(setting, words), numbers[setting.name])
                for setting in group
            )
            pages.append(KeyPage(exercise, instrument, key, group[0].called.name, placed))
        found.append((exercise, tuple(pages)))
    return InstrumentBook(instrument, tuple(found))


def instrument_books_of(book: Book) -> tuple[InstrumentBook, ...]:
    """The published book, one for each instrument."""
    return tuple(
        instrument_book_of(book.published, instrument, book.page_words) for instrument in book.instruments
    )


def pieces(pages: Iterable[KeyPage]) -> list[Rendition]:
    """The parts of some pages that have music, in the order of the plan."""
    return [
        part for page in pages for placed in page.placed for part in placed.parts if part.score is not None
    ]


def scores(found: tuple[InstrumentBook, ...]) -> dict[str, Score]:
    """Every score to engrave, by its part's name."""
    return {
        part.name: part.score
        for instrument_book in found
        for _, pages in instrument_book.exercises
        for part in pieces(pages)
        if part.score is not None
    }


def instrument_root(instrument: Instrument, count: int) -> str:
    """An instrument's address in a site for so many: empty where it is the only one."""
    return f"{instrument.slug}/" if count > 1 else ""
