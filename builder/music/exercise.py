"""An exercise as its author wrote it: one form (or one for rising and one for falling) in its home key."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from functools import lru_cache

from ..translation.said import NOTHING, Said, phrase, term
from .accidentals import PLAIN
from .chords import ChordRow
from .event import BREATH, Event, Place, Tempo, Value
from .keys import Key
from .pitch import Pitch
from .score import Bar, Meter

FALLING = "falling"
RISING = "rising"
DIRECTIONS = (FALLING, RISING)
DIRECTION_TEXT = {FALLING: term("going down"), RISING: term("going up"), "": NOTHING}
"""How a player reads a direction."""


@dataclass(frozen=True, slots=True)
class GeneratedFigure:
    """A figure that a rule made, as a form holds it: the rule's name, and `count` events from `first` on.

    `figure` and `words` are as the text names them, words that belong together as one (`two octaves`).
    `first` counts all events of the form from 0. `marks` are those of the author on each of its notes.
    """

    figure: str
    words: tuple[str, ...]
    value: Value
    first: int
    count: int
    marks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Form:
    """Music in the home key. `direction` is empty where it serves both ways; `made` are its figures.

    `second` is the second part of a duet, where it is written out: as many bars, each as long.
    """

    direction: str
    bars: tuple[Bar, ...]
    made: tuple[GeneratedFigure, ...] = ()
    second: Form | None = None


@dataclass(frozen=True, slots=True)
class KeySequence:
    """How an exercise goes through the keys.

    `step` is semitones from one key to the next, `directions` the ways in order. It has twelve keys if
    `first` and `last` are None, else every start pitch between them; with `whole_range`, every start pitch
    that the instrument allows. `keys` are those that its author names, in order, instead of twelve.
    """

    step: int = 1
    directions: tuple[str, ...] = (FALLING,)
    first: Pitch | None = None
    last: Pitch | None = None
    whole_range: bool = False
    keys: tuple[Key, ...] = ()

    @property
    def by_pitch(self) -> bool:
        """Whether it moves through a range by start pitch, not once through twelve keys."""
        return self.whole_range or self.first is not None


@dataclass(frozen=True, slots=True)
class VariationRequest:
    """A variation that an exercise asks for: the names it joins, in the order they are applied.

    `called` is its own name, where the exercise or the book gave it one.
    """

    names: tuple[str, ...]
    place: Place
    called: str = ""

    @property
    def label(self) -> str:
        """Its own name, or `slurred + swell up`."""
        return self.called or " + ".join(self.names)


@dataclass(frozen=True, slots=True)
class Canon:
    """A second part that follows the first, some steps of the key away and some bars later.

    `steps` are from -7 (the octave below) to 7 (the octave above), 0 the unison; `bars` is at least 1.
    """

    steps: int
    bars: int


@dataclass(frozen=True, slots=True)
class Pedal:
    """A second part that holds one note, begun anew in each bar; `tied` holds it on where nobody breathes."""

    pitch: Pitch
    tied: bool = False


@dataclass(frozen=True, slots=True)
class BlockChords:
    """A second part of the exercise's chords, for a keyboard, in the `bass` or the `treble` clef."""

    clef: str = "bass"


@dataclass(frozen=True, slots=True)
class Exercise:
    """One text file of the book, read and checked.

    `passes` is empty, or says how the music is played the first and the second time. `prefer` is `flats` or
    `sharps` where its author prefers one, and `named` are the keys asked for by name. `courtesy` is how its
    book prints courtesy accidentals. `grade` is 1 to 5, or 0 where none is stated, and `way_grades` are those
    of variations by their labels. `breath` is how long a breath lasts in free time: at least and at most, in
    seconds. `added` is the day when it came into the book and `changed` that of its last change, each where
    its author states it; they decide no music. `second` is a rule for the second part of a duet, where none
    is written out; `chords` are those of each bar in the home key. Its travel is written at `travel_at` in
    `file`.
    """

    slug: str
    title: str
    home: Pitch
    key: Key
    meter: Meter
    tempo: Tempo
    forms: tuple[Form, ...]
    travel: KeySequence
    wanted: tuple[VariationRequest, ...] = ()
    passes: tuple[VariationRequest, ...] = ()
    pickup: Fraction = Fraction(0)
    purpose: str = ""
    attend: tuple[str, ...] = ()
    about: str = ""
    source: str = ""
    rights: str = ""
    kind: str = ""
    drone: Pitch | None = None
    prefer: str = ""
    named: tuple[Key, ...] = ()
    keep_doubles: bool = False
    courtesy: str = PLAIN
    grade: int = 0
    way_grades: tuple[tuple[str, int], ...] = ()
    breath: tuple[int, int] = BREATH
    added: date | None = field(default=None, repr=False)
    changed: date | None = field(default=None, repr=False)
    second: Canon | Pedal | BlockChords | None = None
    chords: tuple[ChordRow, ...] = ()
    file: str = field(default="", compare=False, repr=False)
    travel_at: Place | None = field(default=None, compare=False, repr=False)

    @property
    def publishable(self) -> bool:
        """Whether its rights are stated and allow it to be published."""
        return bool(self.rights) and "private" not in self.rights.lower().replace(",", " ").split()

    @property
    def is_duet(self) -> bool:
        """Whether it has a second part."""
        return self.second is not None or any(form.second for form in self.forms)

    @property
    def has_long_notes(self) -> bool:
        """Whether a note of it is held as long as the breath."""
        return any(event.value.held for event in self._events())

    @property
    def is_counted(self) -> bool:
        """Whether it has a note or a rest with a value to count."""
        return any(not event.value.held for event in self._events())

    @property
    def breath_words(self) -> Said:
        """How long a breath lasts in free time: `8 to 12 seconds`."""
        shortest, longest = self.breath
        if shortest == longest:
            return phrase("{count} seconds", count=shortest)
        return phrase("{shortest} to {longest} seconds", shortest=shortest, longest=longest)

    def _events(self) -> Iterator[Event]:
        return (event for form in self.forms for bar in form.bars for event in bar.events)

    def form(self, direction: str) -> Form:
        """The form for a direction; the only form serves both."""
        for form in self.forms:
            if form.direction in ("", direction):
                return form
        return self.forms[0]


@lru_cache(maxsize=4096)
def exercise_fingerprint(exercise: Exercise) -> str:
    """All of an exercise as a string: equal exercises have equal strings."""
    return repr(exercise)
