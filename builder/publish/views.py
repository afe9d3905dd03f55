"""What the templates in site_src are given: plain frozen values, one view a page."""

from __future__ import annotations

from dataclasses import dataclass

from builder.book import Book
from builder.engrave.batch import Engraved, Failure
from builder.engrave.svg import Drawing, sprite
from builder.language.words import FIELDS, WORDS, Field, Word
from builder.music.exercise import FALLING, RISING, Exercise
from builder.music.figures import FIGURES, Figure
from builder.music.instruments import Instrument
from builder.music.keys import KEY_SLUGS
from builder.variations import Variation, variations

from .plan import InKey, Part, Placed, Shelf
from .spoken import spoken, value_name

_POINTS_A_MILLIMETRE = 72 / 25.4
_DIRECTIONS = {FALLING: "going down", RISING: "going up", "": ""}
KEY_NAMES = dict(
    zip(KEY_SLUGS, ("C", "D♭", "D", "E♭", "E", "F", "F♯", "G", "A♭", "A", "B♭", "B"), strict=True)
)


@dataclass(frozen=True, slots=True)
class Music:
    """An engraved piece on a page; `width` and `height` in points, the empty paper beside it left out."""

    body: str
    width: float
    height: float
    words: str
    drawing: Drawing


def music(engraved: Engraved, words: str) -> Music:
    """An engraved piece with its text alternative."""
    ink = engraved.drawing
    right = max(system.right for system in engraved.systems) + 2
    width = min(ink.width, right * _POINTS_A_MILLIMETRE)
    return Music(ink.body, round(width, 1), ink.height, words, ink)


@dataclass(frozen=True, slots=True)
class Link:
    """A way to another page: its address from the site's root, ending in a slash, and its words."""

    address: str
    words: str
    current: bool = False


@dataclass(frozen=True, slots=True)
class PartView:
    """One variation on a page: engraved, or left out with the reason, or failed with the engraver's line."""

    label: str
    means: str
    music: Music | None
    left_out: str


@dataclass(frozen=True, slots=True)
class SettingView:
    """One setting: where it starts, in which register, what to know, and its parts."""

    anchor: str
    start: str
    register: str
    direction: str
    remarks: tuple[str, ...]
    parts: tuple[PartView, ...]


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
    before: Link | None
    after: Link | None
    keys: tuple[Link, ...]
    key_page: Link
    exercise_page: Link
    sprite: str

    @property
    def glance(self) -> SettingView | None:
        """The first setting that has music, for a page that shows every key at once."""
        return next((view for view in self.settings if any(part.music for part in view.parts)), None)


@dataclass(frozen=True, slots=True)
class ExerciseView:
    """An exercise and every key of it at a glance."""

    exercise: Exercise
    instrument: Instrument
    address: str
    tempo: str
    keys: tuple[InKeyView, ...]
    sprite: str


@dataclass(frozen=True, slots=True)
class KeyView:
    """A key page: every exercise in it."""

    key: str
    name: str
    address: str
    instrument: Instrument
    exercises: tuple[InKeyView, ...]
    before: Link
    after: Link
    sprite: str


@dataclass(frozen=True, slots=True)
class ShelfView:
    """One instrument's book; `root` is its address, empty where the site has one instrument."""

    instrument: Instrument
    root: str
    exercises: tuple[ExerciseView, ...]
    keys: tuple[KeyView, ...]


@dataclass(frozen=True, slots=True)
class BookView:
    """The whole site."""

    name: str
    shelves: tuple[ShelfView, ...]


@dataclass(frozen=True, slots=True)
class WordView:
    """A word of the language with its example engraved."""

    word: Word
    music: Music


@dataclass(frozen=True, slots=True)
class LanguageView:
    """The language's own page."""

    fields: tuple[Field, ...]
    words: tuple[WordView, ...]
    figures: tuple[Figure, ...]
    variations: tuple[Variation, ...]
    sprite: str


Inked = dict[str, Engraved | Failure]
"""Each part's ink by the part's name, or the engraver's failure."""


def tempo_words(exercise: Exercise) -> str:
    """`quarter = 54 to 66`."""
    tempo = exercise.tempo
    numbers = f"{tempo.low}" if tempo.low == tempo.high else f"{tempo.low} to {tempo.high}"
    return f"{value_name(tempo.beat)} = {numbers}"


def _part(part: Part, inked: Inked) -> PartView:
    if part.score is None:
        return PartView(part.label, part.means, None, part.left_out)
    ink = inked[part.name]
    if isinstance(ink, Failure):
        return PartView(part.label, part.means, None, f"The engraver could not write this out: {ink.said}")
    return PartView(part.label, part.means, music(ink, spoken(part.score)), "")


def _setting(placed: Placed, instrument: Instrument, inked: Inked) -> SettingView:
    setting = placed.setting
    return SettingView(
        anchor=setting.name,
        start=setting.start.spoken,
        register=instrument.register(setting.start) if setting.fits else "",
        direction=_DIRECTIONS[setting.direction],
        remarks=setting.remarks,
        parts=tuple(_part(part, inked) for part in placed.parts),
    )


def _sprite(settings: tuple[SettingView, ...]) -> str:
    return sprite([part.music.drawing for view in settings for part in view.parts if part.music])


def _exercise(root: str, exercise: Exercise, pages: tuple[InKey, ...], inked: Inked) -> ExerciseView:
    address = f"{root}exercises/{exercise.slug}/"
    links = [Link(f"{address}{page.key}/", page.name) for page in pages]
    tempo = tempo_words(exercise)
    views = []
    for number, page in enumerate(pages):
        settings = tuple(_setting(placed, page.instrument, inked) for placed in page.placed)
        views.append(
            InKeyView(
                exercise=exercise,
                instrument=page.instrument,
                key=page.key,
                key_name=page.name,
                address=links[number].address,
                tempo=tempo,
                settings=settings,
                before=links[number - 1] if number else None,
                after=links[number + 1] if number + 1 < len(links) else None,
                keys=tuple(
                    Link(link.address, link.words, place == number) for place, link in enumerate(links)
                ),
                key_page=Link(f"{root}keys/{page.key}/", KEY_NAMES[page.key]),
                exercise_page=Link(address, exercise.title),
                sprite=_sprite(settings),
            )
        )
    glances = tuple(view.glance for view in views)
    first = [part.music.drawing for view in glances if view for part in view.parts[:1] if part.music]
    return ExerciseView(exercise, pages[0].instrument, address, tempo, tuple(views), sprite(first))


def _keys(root: str, instrument: Instrument, exercises: tuple[ExerciseView, ...]) -> tuple[KeyView, ...]:
    found = []
    for number, key in enumerate(KEY_SLUGS):
        pages = tuple(page for view in exercises for page in view.keys if page.key == key)
        names = dict.fromkeys(page.key_name.rsplit(" ", 1)[0] for page in pages)
        before, after = KEY_SLUGS[number - 1], KEY_SLUGS[(number + 1) % 12]
        plain = [part.music for page in pages for view in page.settings for part in view.parts[:1]]
        found.append(
            KeyView(
                key=key,
                name=" and ".join(names) or KEY_NAMES[key],
                address=f"{root}keys/{key}/",
                instrument=instrument,
                exercises=pages,
                before=Link(f"{root}keys/{before}/", KEY_NAMES[before]),
                after=Link(f"{root}keys/{after}/", KEY_NAMES[after]),
                sprite=sprite([music.drawing for music in plain if music]),
            )
        )
    return tuple(found)


def book_view(book: Book, shelves: tuple[Shelf, ...], inked: Inked) -> BookView:
    """The whole site as views."""
    found = []
    for shelf in shelves:
        root = f"{shelf.instrument.slug}/" if len(shelves) > 1 else ""
        exercises = tuple(
            _exercise(root, exercise, pages, inked) for exercise, pages in shelf.exercises if pages
        )
        found.append(ShelfView(shelf.instrument, root, exercises, _keys(root, shelf.instrument, exercises)))
    return BookView(book.name, tuple(found))


def language_view(examples: dict[str, Engraved]) -> LanguageView:
    """The language's page; `examples` holds each word's example, engraved."""
    words = tuple(WordView(word, music(examples[word.name], f"{word.example}, engraved")) for word in WORDS)
    return LanguageView(
        fields=tuple(FIELDS.values()),
        words=words,
        figures=tuple(FIGURES.values()),
        variations=tuple(variations().values()),
        sprite=sprite([view.music.drawing for view in words]),
    )
