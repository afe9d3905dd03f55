"""An exercise on paper: its name, what to attend to, and the music of every key and variation."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Unpack

from ..book.pieces import KeyPage, Rendition, SettingPieces
from ..daily.measure import register_of_setting
from ..engrave.breaks import lines
from ..engrave.piece import STAND, Failure
from ..music.exercise import DIRECTION_TEXT, Exercise
from ..music.score import Score
from ..music.winds.instrument import register_words
from ..paper import text as words
from ..paper.extracted_piece import ExtractedPiece
from ..paper.flow import Cell, Music, Row, RowOptions
from ..paper.tags import Element, heading, list_item
from ..paper.text import Text, text
from ..translation.catalog import TO_ENGLISH, Translation
from ..translation.said import joined, phrase, term
from ..variations.printed_names import label_words

Strips = Callable[[str], ExtractedPiece | Failure]
"""A piece's strip by its part's name, or the engraver's failure."""

Chosen = Callable[[Rendition], bool]


# What a page beginning at a place costs; an empty third of a page costs about 60. None costs less than
# nothing, so that no page is started only to improve its first line.
BEFORE_EXERCISE = 0.0
BEFORE_KEY = 4.0
BEFORE_SETTING = 10.0
BEFORE_PART = 14.0
WITHIN_PART = 70.0
_ONE_APART = 40.0
TURN_BETWEEN_PARTS = 15.0
_TURN_AT_REST = 20.0
TURN_IN_MUSIC = 300.0


@dataclass(frozen=True, slots=True)
class RowBuilder:
    """Makes rows of `width` millimetres, `room` staff spaces; `chosen` says which parts are wanted.

    `letters` is how many times as large as usual words are, `cautions` says what to print of a setting's
    breaths.
    """

    strips: Strips
    width: float
    chosen: Chosen
    room: float = STAND.room
    calm: dict[str, tuple[bool, ...]] = field(default_factory=dict)
    """What is known already of the ends of a part's systems, by its name."""
    letters: float = 1.0
    cautions: Callable[[SettingPieces], tuple[str, ...]] = lambda placed: ()
    translation: Translation = TO_ENGLISH
    """What says the book's own words in its language."""

    def say(self, said: str) -> str:
        """Words in the book's language; an author's own stay as they are."""
        return self.translation.say(said)

    def style(self, style: words.Style) -> words.Style:
        """A manner of lettering as large as this print has it."""
        return style.scaled(self.letters)

    def text(self, style: words.Style, said: str, width: float) -> Text:
        """Words broken into lines of at most `width` millimetres."""
        return text(self.style(style), self.say(said), width)

    def plain(self, style: words.Style, said: str, width: float) -> Text:
        """The same in letters of the usual size, whatever the print's are."""
        return text(style, self.say(said), width)

    def line(self, style: words.Style, said: str, **row: Unpack[RowOptions]) -> Row:
        """Words over the whole width."""
        return Row((Cell(self.text(style, said, self.width)),), **row)


_BREATH_WIDTH = 60.0
"""Millimetres for the words of a breath, which stand in one line."""


def tempo_text(style: words.Style, exercise: Exercise, translation: Translation) -> Text:
    """An exercise's tempo; where nothing is counted, how long a breath lasts: `breath: 8 to 12 seconds`."""
    if exercise.is_counted:
        return words.tempo(style, exercise.tempo, translation)
    said = translation.say(phrase("breath: {time}", time=exercise.breath_words))
    return text(style, said, _BREATH_WIDTH)


def opening(
    row_builder: RowBuilder, exercise: Exercise, title: Text, **row: Unpack[RowOptions]
) -> Iterator[Row]:
    """An exercise's name and tempo, its purpose, and what to attend to in small type."""
    beat = Cell(tempo_text(row_builder.style(words.NUMBER), exercise, row_builder.translation), 1.0)
    options: RowOptions = {**row, "keep": True}
    yield Row((Cell(title, tag=(heading(3),)), beat), **options)
    if exercise.purpose:
        yield row_builder.line(words.ASIDE, exercise.purpose, space=1.2, keep=True)
    if exercise.about:
        yield row_builder.line(words.SMALL, exercise.about, space=1.2, keep=True)
    label = row_builder.text(words.LABEL, term("Focus"), 40)
    for number, point in enumerate(exercise.attend):
        said = row_builder.text(words.SMALL, point, row_builder.width - 30)
        cell = Cell(said, indent=24, tag=list_item(number, "LBody"))
        cells = (Cell(label, tag=(Element("Caption"),)), cell) if number == 0 else (cell,)
        yield Row(cells, space=0.4 if number else 1.6, keep=True, tag=(Element("L", "focus"),))


def in_key(row_builder: RowBuilder, page: KeyPage, told: set[str]) -> Iterator[Row]:
    """The music of an exercise in one key. `told` are the variations already explained, and grows."""
    named = len(page.placed) > 1
    for number, placed in enumerate(page.placed):
        if not placed.parts or any(map(row_builder.chosen, placed.parts)):
            yield from _setting(row_builder, placed, named, number == 0, told)


def _setting(
    row_builder: RowBuilder, placed: SettingPieces, named: bool, first: bool, told: set[str]
) -> Iterator[Row]:
    setting = placed.setting
    if named:
        start = phrase("From {note}", note=setting.start.spoken)
        says = joined((start, DIRECTION_TEXT[setting.direction]), ", ")
        register = register_of_setting(setting)
        cells = [Cell(row_builder.text(words.HEADING, says, row_builder.width * 0.7))]
        if register:
            cells.append(
                Cell(row_builder.text(words.ASIDE, register_words(register), row_builder.width * 0.25), 1.0)
            )
        yield Row(
            tuple(cells),
            space=3.5 if first else 7.0,
            stretch=1.0,
            cost=BEFORE_SETTING,
            turn=TURN_BETWEEN_PARTS / 3,
            keep=True,
        )
    for remark in (*setting.remarks, *row_builder.cautions(placed)):
        yield row_builder.line(words.ASIDE, remark, space=0.8 if named else 2.0, keep=bool(placed.parts))
    for place, part in enumerate(filter(row_builder.chosen, placed.parts)):
        yield from _part(row_builder, part, told, place == 0)


def _part(row_builder: RowBuilder, part: Rendition, told: set[str], first: bool) -> Iterator[Row]:
    """A variation: its name, what it asks for where it was not told before, and its systems."""
    named = row_builder.say(label_words(part.label))
    cells = [Cell(row_builder.text(words.LABEL, named, row_builder.width * 0.5))]
    if part.means and part.label not in told:
        told.add(part.label)
        left = row_builder.width - words.width_of(named, row_builder.style(words.LABEL)) - 4
        cells.append(Cell(row_builder.text(words.SMALL, part.means, left), indent=2.5, after=True))
    label = Row(
        tuple(cells),
        # The first follows its heading closely.
        space=2.0 if first else 5.0,
        stretch=0.5 if first else 1.0,
        cost=BEFORE_PART,
        turn=TURN_BETWEEN_PARTS,
        keep=True,
    )
    yield label
    if part.score is None:
        yield row_builder.line(words.ASIDE, part.left_out, space=0.5)
        return
    strip = row_builder.strips(part.name)
    if isinstance(strip, Failure):
        yield row_builder.line(words.ASIDE, strip.instead, space=0.5)
        return
    calm = row_builder.calm.get(part.name)
    if calm is None:
        calm = row_builder.calm[part.name] = _calm_ends(part.score, len(strip.lines), row_builder.room)
    for number in range(len(strip.lines)):
        yield Row(
            (Cell(Music(part.name, number)),),
            space=3.5 if number else 0.8,
            stretch=1.0 if number else 0.3,
            cost=within_part(number, len(strip.lines)) if number else 0.0,
            turn=_TURN_AT_REST if number and calm[number - 1] else TURN_IN_MUSIC,
        )


def within_part(number: int, systems: int) -> float:
    """The cost of a page that begins with a system of a part, counted from 0, but its first."""
    return WITHIN_PART + (_ONE_APART if number in (1, systems - 1) else 0.0)


def _calm_ends(score: Score, systems: int, room: float) -> tuple[bool, ...]:
    """For each system but the last, whether the player has time at its end; unknown counts as none."""
    if systems == 1:
        return ()
    ends = lines(score, room).ends
    return tuple(end.calm for end in ends) if len(ends) == systems - 1 else (False,) * (systems - 1)


def rights(row_builder: RowBuilder, exercises: Sequence[Exercise], name: bool, space: float) -> Iterator[Row]:
    """Who may do what with the exercises, and where they come from; `space` is that above the first."""
    for number, exercise in enumerate(exercises):
        said = ". ".join(part.rstrip(".") for part in (exercise.source, exercise.rights) if part)
        said = said or row_builder.say(term("no rights stated"))
        said = f"{row_builder.say(exercise.title)}: {said}." if name else f"{said[:1].upper()}{said[1:]}."
        yield row_builder.line(
            words.SMALL, said, space=1.0 if number else space, cost=0.0 if number else 30.0
        )
