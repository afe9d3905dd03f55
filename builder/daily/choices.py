"""Lists what a set can choose from: exercises in a key, as written or varied, with their real length."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import ceil

from ..book.pieces import InstrumentBook, KeyPage, Rendition, SettingPieces
from ..music.pitch import Pitch
from ..music.score import LEVELS, Score, pitch_range
from ..music.timing import clock
from .difficulty import difficulty
from .measure import Moment, main_register, moments

_LOUD = LEVELS.index("f")


@dataclass(frozen=True, slots=True)
class Choice:
    """An exercise in a key from a start pitch, as written or in a variation.

    `name` is unique in the book. `topic`, the exercise in that key, must not come again the next day.
    `seconds` is its length at the slowest tempo and `rest` the short rest after it, both whole seconds,
    rounded up; `loud` of its seconds are at f or above. `difficulty` is in tenths of a point. `key` is the
    key page's address, `anchor` the setting's place on its page, `number` its place in the order of travel.
    `tongued` where it has syllables for the tongue.
    """

    name: str
    exercise: str
    title: str
    key: str
    key_name: str
    anchor: str
    start: str
    direction: str
    variation: str
    register: str
    seconds: int
    rest: int
    difficulty: int
    loud: int = 0
    number: int = 0
    tongued: bool = False

    @property
    def topic(self) -> tuple[str, str]:
        """The exercise in its key."""
        return self.exercise, self.key

    @property
    def work(self) -> tuple[str, str]:
        """The exercise in its variation."""
        return self.exercise, self.variation

    @property
    def pair(self) -> tuple[str, str]:
        """The key in its register."""
        return self.key, self.register

    @property
    def whole(self) -> int:
        """Its length and the rest after it, in seconds."""
        return self.seconds + self.rest


def rest_after(seconds: int) -> int:
    """The short rest after a piece, in seconds: five to turn the page, and a quarter of what was played.

    Common practice, no source: a wind player rests the lips often and briefly.
    """
    return 5 + ceil(seconds / 4)


@dataclass(frozen=True, slots=True)
class Measured:
    """A choice, its notes, and its lowest and highest pitch, grace notes included."""

    choice: Choice
    notes: tuple[Moment, ...]
    lowest: Pitch
    highest: Pitch


def measured(instrument_book: InstrumentBook) -> Iterator[Measured]:
    """Everything that an instrument's book offers, in the order of the book."""
    for _, pages in instrument_book.exercises:
        yield from measured_pages(pages)


def measured_pages(pages: Iterable[KeyPage]) -> Iterator[Measured]:
    """What some pages of an instrument's book offer, in their order."""
    for page in pages:
        for placed in page.placed:
            for part in placed.parts:
                if part.score is not None:
                    yield _measured(page, placed, part, part.score)


def _measured(page: KeyPage, placed: SettingPieces, part: Rendition, score: Score) -> Measured:
    notes = moments(score)
    length = clock(score).length
    seconds = ceil(length)
    choice = Choice(
        name=part.name,
        exercise=page.exercise.slug,
        title=page.exercise.title,
        key=page.key,
        key_name=page.name,
        anchor=placed.setting.name,
        start=placed.setting.start.spoken,
        direction=placed.setting.direction,
        variation=part.label,
        register=main_register(notes, page.instrument),
        seconds=seconds,
        rest=rest_after(seconds),
        difficulty=difficulty(notes, float(length), page.instrument).tenths,
        loud=ceil(sum(share for note in notes for level, share in note.levels if level >= _LOUD)),
        number=placed.number,
        # Figures below the notes are digits.
        tongued=any(sign.isalpha() for event in score.line.events() for sign in event.syllable),
    )
    return Measured(choice, notes, *pitch_range(score.line.bars))
