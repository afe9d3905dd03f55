"""Lists what a day can choose from: exercises in a key, as written or varied, with their real length."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import ceil

from ..book.pieces import InstrumentBook, KeyPage, Rendition, SettingPieces
from ..music.event import LEVELS
from ..music.exercise import Exercise
from ..music.pitch import Pitch
from ..music.score import Score, pitch_range
from ..music.sounding.timing import clock
from ..music.winds.instrument import Instrument
from .grades import LEVEL_GRADES, music_grade, way_grade, width
from .measure import Moment, main_register, moments

_LOUD = LEVELS.index("f")


@dataclass(frozen=True, slots=True)
class Choice:
    """A piece: an exercise in a key from a start pitch, as written or in a variation.

    `name` is unique in the book. `key` is the key page's address, `anchor` the setting's place on its page,
    `number` its place in the order of travel, and `by_pitch` says whether that goes by start pitch; `height`
    is its start pitch as a MIDI number. `seconds` is its length at the slowest tempo and `rest` the short
    rest after it, both whole seconds, rounded up; `loud` of its seconds are at f or above. `grade` is 1 to 5.
    `width` is the mean interval of the music as written, in tenths of a semitone; `drone` where it is played
    over one, `tongued` where it has syllables for the tongue.
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
    loud: int = 0
    number: int = 0
    height: int = 0
    by_pitch: bool = False
    grade: int = 1
    width: int = 0
    drone: bool = False
    tongued: bool = False

    @property
    def setting(self) -> tuple[str, int]:
        """The exercise from its start pitch in its direction, by its place in the order of travel."""
        return self.exercise, self.number

    @property
    def whole(self) -> int:
        """Its length and the rest after it, in seconds."""
        return self.seconds + self.rest


def rest_after(seconds: int) -> int:
    """The short rest after a piece, in seconds: five, and a quarter of what was played.

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

    def suits(self, instrument: Instrument, level: str) -> bool:
        """Whether it suits a player of that level (one of music.instrument.LEVELS).

        Every note lies in that player's reach, grace notes and trills too, and the grade is not above hers.
        """
        reach = instrument.at_level(level).compass
        return self.choice.grade <= LEVEL_GRADES[level] and reach.prefers(self.lowest, self.highest)


def measured(instrument_book: InstrumentBook) -> Iterator[Measured]:
    """Everything that an instrument's book offers, in the order of the book."""
    for _, pages in instrument_book.exercises:
        yield from measured_pages(pages)


def measured_pages(pages: Iterable[KeyPage]) -> Iterator[Measured]:
    """What some pages of an instrument's book offer, in their order."""
    for page in pages:
        for placed in page.placed:
            if not placed.parts:
                continue
            plain = moments(placed.setting.score())
            of_music = page.exercise.grade or music_grade(plain)
            for part in placed.parts:
                if part.score is not None:
                    yield _measured(page, placed, part, part.score, of_music, width(plain))


def _measured(
    page: KeyPage, placed: SettingPieces, part: Rendition, score: Score, of_music: int, wide: int
) -> Measured:
    notes = moments(score)
    seconds = ceil(clock(score).length)
    exercise: Exercise = page.exercise
    choice = Choice(
        name=part.name,
        exercise=exercise.slug,
        title=exercise.title,
        key=page.key,
        key_name=page.name,
        anchor=placed.setting.name,
        start=placed.setting.start.spoken,
        direction=placed.setting.direction,
        variation=part.label,
        register=main_register(notes, page.instrument),
        seconds=seconds,
        rest=rest_after(seconds),
        loud=ceil(sum(share for note in notes for level, share in note.levels if level >= _LOUD)),
        number=placed.number,
        height=placed.setting.start.midi,
        by_pitch=exercise.travel.by_pitch,
        grade=max(of_music, way_grade(exercise, part.label)),
        width=wide,
        drone=exercise.drone is not None,
        # Figures below the notes are digits.
        tongued=any(sign.isalpha() for event in score.line.events() for sign in event.syllable),
    )
    # Of a duet either part may be the player's.
    bars = score.line.bars + (score.second.bars if score.second and not score.second.chords else ())
    return Measured(choice, notes, *pitch_range(bars))
