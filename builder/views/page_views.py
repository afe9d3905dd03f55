"""What the templates in site_src are given: plain frozen values, one view a page.

What is engraved is read when a page that shows it is written, and not kept: a large book is never in memory
as a whole.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Set
from dataclasses import dataclass

from ..book.durations import lasts_words
from ..engrave.drawings.svg import Drawing, sprite
from ..engrave.drawings.svg_short import shorten_body
from ..engrave.piece import Engraved
from ..music.exercise import Exercise
from ..music.keys import KEY_SLUGS, in_words, tonic_words
from ..music.pitch import LETTERS
from ..music.winds.instrument import register_words
from ..music.winds.instruments import Instrument
from ..translation.catalog import TO_ENGLISH, Translation
from ..translation.said import Said, capital, joined, listed, phrase, term
from ..units import POINTS_PER_MM
from .playback import heads
from .tuning_table import TuningView, offer_words

_BESIDE = 1
"""Millimetres of paper kept beside a short piece."""


@dataclass(frozen=True, slots=True)
class Music:
    """An engraved piece on a page; `width` and `height` in points, the empty paper beside it left out.

    `body` is that of the drawing in fewer characters. `systems` are the top and the bottom of each of its
    lines, one after another, in points from its own top. `narrow` is the same piece in shorter lines for a
    phone, where this one is too wide for it; it stands in a file beside the page (phone_file.py).
    """

    body: str
    width: float
    height: float
    words: str
    drawing: Drawing
    systems: tuple[float, ...]
    narrow: Music | None = None

    @property
    def line(self) -> int:
        """How many points its room on a page is wide: those of the shortest usual line that holds it."""
        return next((line for line in _LINES if self.width <= line + 0.5), _LINES[-1])

    @property
    def heads(self) -> str:
        """Where its note heads are, if the drawing does not number them itself."""
        return heads(self.drawing)


def inline_music(engraved: Engraved, words: str, narrow: Engraved | None = None) -> Music:
    """An engraved piece with its text alternative."""
    ink = engraved.drawing
    right = max(system.right for system in engraved.systems) + _BESIDE
    width = min(ink.width, right * POINTS_PER_MM)
    small = inline_music(narrow, words) if narrow else None
    edges = (edge for system in engraved.systems for edge in (system.top, system.bottom))
    systems = tuple(round(edge * POINTS_PER_MM, 1) for edge in edges)
    return Music(shorten_body(ink.body), round(width, 1), round(ink.height, 1), words, ink, systems, small)


_LINES = 264, 323, 516
"""Points across a line on a phone, of how an exercise begins, and on paper: `book.css` has them too."""


@dataclass(frozen=True, slots=True)
class Link:
    """A way to another page: its address from the site's root, ending in a slash, and its words.

    `sign` says a key in short, `D♭`; the page around it says which mode.
    """

    address: str
    words: str
    current: bool = False
    sign: str = ""


@dataclass(frozen=True, slots=True)
class Shown:
    """What a page shows of a part: its music, and its play-through as the page's scripts read it."""

    music: Music
    play: str


@dataclass(frozen=True, slots=True)
class PartView:
    """One variation on a page: engraved, or left out for a `reason`, or failed with the engraver's line.

    `anchor` is its place on the page of its exercise in one key.
    """

    anchor: str
    label: str
    means: str
    reason: str
    time: str = ""
    find: Callable[[], Shown | str] | None = None

    @property
    def _found(self) -> Shown | str:
        return self.find() if self.find else self.reason

    @property
    def music(self) -> Music | None:
        """The engraved piece, where there is one."""
        return found.music if isinstance(found := self._found, Shown) else None

    @property
    def play(self) -> str:
        """Its play-through, empty where there is none."""
        return found.play if isinstance(found := self._found, Shown) else ""

    @property
    def left_out(self) -> str:
        """Why there is no music, in a sentence."""
        return found if isinstance(found := self._found, str) else ""


@dataclass(frozen=True, slots=True)
class SettingView:
    """One setting: where it starts, in which register it lies, what to know, and its parts."""

    anchor: str
    start: str
    register: str
    direction: str
    remarks: tuple[str, ...]
    parts: tuple[PartView, ...]
    files: tuple[Link, ...]
    tuning: TuningView | None

    @property
    def place(self) -> Said:
        """`From D6, high register, going down`."""
        register = register_words(self.register) if self.register else ""
        return joined((phrase("From {note}", note=self.start), register, self.direction), ", ")


@dataclass(frozen=True, slots=True)
class InKeyView:
    """An exercise in one key."""

    exercise: Exercise
    instrument: Instrument
    key: str
    key_name: str
    address: str
    tempo: str
    settings: tuple[SettingView, ...]
    begins: Callable[[], Music | None]
    before: Link | None
    after: Link | None
    keys: tuple[Link, ...]
    key_page: Link
    exercise_page: Link
    ground: str
    total: str
    ink: tuple[str, ...]
    """The keys of all that is engraved on it; empty where something of it is not to be."""
    failed: Callable[[], Set[str]]
    """The keys of what is known by now to have failed."""
    sign: str = ""

    @property
    def link(self) -> Link:
        """The way here."""
        return Link(self.address, self.key_name, sign=self.sign)

    @property
    def in_key(self) -> Said:
        """`in D flat major`, or `on D flat` where it has no key: what follows its title."""
        return in_words(self.key_name)

    @property
    def heading(self) -> Said:
        """`D flat major`, or `On D flat`."""
        return capital(self.key_name)

    @property
    def mode(self) -> Said:
        """The mode of its key, or `no key`."""
        return mode_words(self.exercise)

    @property
    def opening(self) -> Music | None:
        """How it begins in this key, where it can be played."""
        return self.begins()

    @property
    def shown(self) -> list[Music]:
        """The music on its page, in order."""
        return [music for view in self.settings for part in view.parts if (music := part.music)]

    @property
    def sprite(self) -> str:
        """The glyphs of its page."""
        return sprite_of(self.shown)

    @property
    def glance(self) -> SettingView | None:
        """The first setting that has music, for a page that shows every key at once."""
        return next((view for view in self.settings if any(part.find for part in view.parts)), None)


@dataclass(frozen=True, slots=True)
class ExerciseView:
    """An exercise and every key of it at a glance."""

    exercise: Exercise
    instrument: Instrument
    address: str
    tempo: str
    seconds: float
    keys: tuple[InKeyView, ...]
    ranges: Callable[[], Music | None]
    registers: tuple[str, ...] = ()
    """The registers that its notes pass through in the home key, in the instrument's order."""
    before: Link | None = None
    after: Link | None = None
    """The exercises before it and after it in the book."""

    @property
    def span(self) -> Music | None:
        """The range that it uses."""
        return self.ranges()

    @property
    def sprite(self) -> str:
        """The glyphs of its page."""
        return sprite_of([self.span, *(view.opening for view in self.keys)])

    @property
    def opening(self) -> Music | None:
        """How it begins, in the first key that can be played."""
        return next((view.opening for view in self.keys if view.opening), None)

    @property
    def lasts(self) -> Said:
        """About how long one key takes as written, at the slowest tempo: `about 40 seconds`."""
        return lasts_words(self.seconds)

    @property
    def mode(self) -> Said:
        """`major`: the mode of all its keys, or `no key`."""
        return mode_words(self.exercise)

    @property
    def offer(self) -> Said:
        """How much of it locks over its drone, in words; empty where it has none."""
        return offer_words(self.exercise)

    @property
    def lies_in(self) -> Said:
        """Its registers in words: `low and middle register`."""
        return phrase("{register} register", register=listed(map(term, self.registers)))


@dataclass(frozen=True, slots=True)
class KeyView:
    """A key page: every exercise in it. `pdf` is the address of its print."""

    key: str
    name: str
    sign: str
    address: str
    instrument: Instrument
    exercises: tuple[InKeyView, ...]
    before: Link
    after: Link
    ground: str
    total: str
    pdf: str

    @property
    def shown(self) -> list[Music]:
        """The music on its page, in order."""
        settings = (view for page in self.exercises for view in page.settings)
        return [music for view in settings for part in view.parts[:1] if (music := part.music)]

    @property
    def sprite(self) -> str:
        """The glyphs of its page."""
        return sprite_of(self.shown)


@dataclass(frozen=True, slots=True)
class ChapterView:
    """Exercises that follow each other in the contents; `title` is empty where they are no chapter.

    `first` is the first one's number in the book, from 1.
    """

    title: str
    first: int
    exercises: tuple[ExerciseView, ...]


@dataclass(frozen=True, slots=True)
class OwnPageView:
    """A page of the author's in the contents; `file` is its place in the folder of pages."""

    file: str
    title: str


@dataclass(frozen=True, slots=True)
class InstrumentBookView:
    """One instrument's book; `root` is its address, empty where the site has one instrument.

    `contents` has the same exercises as `exercises`, with chapters and the author's pages.
    """

    instrument: Instrument
    root: str
    exercises: tuple[ExerciseView, ...]
    keys: tuple[KeyView, ...]
    contents: tuple[ChapterView | OwnPageView, ...]

    @property
    def sprite(self) -> str:
        """The glyphs of its contents page."""
        return sprite_of(view.opening for view in self.exercises)


@dataclass(frozen=True, slots=True)
class BookView:
    """The whole site."""

    name: str
    instrument_books: tuple[InstrumentBookView, ...]

    @property
    def instruments(self) -> Said:
        """`flute and oboe`."""
        return listed(each.instrument.said for each in self.instrument_books)

    @property
    def sprite(self) -> str:
        """The glyphs of its contents page; a book for several instruments has one each."""
        return self.instrument_books[0].sprite if len(self.instrument_books) == 1 else ""


def tempo_words(exercise: Exercise) -> Said:
    """`quarter = 54 to 66`."""
    tempo = exercise.tempo
    numbers: str = f"{tempo.low}"
    if tempo.low != tempo.high:
        numbers = phrase("{low} to {high}", low=tempo.low, high=tempo.high)
    said: list[str] = []
    if exercise.is_counted:
        said.append(phrase("{beat} = {tempo}", beat=term(tempo.beat.name), tempo=numbers))
    said += [term(str(exercise.meter))] if exercise.meter.is_free else []
    if exercise.has_long_notes and exercise.is_counted:
        said.append(term("long notes held as long as the breath"))
    elif exercise.has_long_notes:
        said.append(term("held as long as the breath"))
    if exercise.has_long_notes:
        said.append(phrase("about {time}", time=exercise.breath_words))
    return joined(said, ", ")


def mode_words(exercise: Exercise) -> Said:
    """The mode of an exercise's keys, or `no key`."""
    return term(exercise.key.mode) if exercise.key.mode else term("no key")


def key_sign(name: str, translation: Translation = TO_ENGLISH) -> str:
    """A key's name in short: `D♭` for `D flat minor` and for `on D flat`; `Des` in German."""
    letter, *rest = tonic_words(name).split()
    word = rest[0] if rest else ""
    english = letter + {"flat": "♭", "sharp": "♯"}.get(word, "")
    return translation.sign(LETTERS.index(letter), {"flat": -1, "sharp": 1}.get(word, 0), english)


def key_signs(translation: Translation) -> dict[str, str]:
    """The twelve key pages in short, by their addresses."""
    return {key: key_sign(f"on {key.replace('-', ' ').capitalize()}", translation) for key in KEY_SLUGS}


def sprite_of(found: Iterable[Music | None]) -> str:
    return sprite([music.drawing for music in found if music])
