"""What the templates in site_src are given: plain frozen values, one view a page.

What is engraved is read when a page that shows it is written, and not kept: a large book is never in memory
as a whole.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Set
from dataclasses import dataclass, replace
from functools import lru_cache, partial

from ..book.addresses import exercise_address, key_address
from ..book.durations import BookTimes, lasts_words
from ..book.pieces import InstrumentBook, KeyPage, Rendition, SettingPieces, pieces
from ..cache.memo import memo_json
from ..cache.store import CacheStore
from ..daily.measure import register_of_setting
from ..engrave.engraved_book import EngravedBook
from ..engrave.scheduler import Engraved, Failure
from ..engrave.svg import Drawing, sprite
from ..export.downloads import addresses
from ..music.exercise import DIRECTION_TEXT, Exercise
from ..music.instruments import Instrument
from ..music.keys import KEY_SLUGS, in_words, tonic_words
from ..music.performance import performance_fingerprint
from ..music.score import Score
from ..music.timing import length
from ..units import POINTS_PER_MM
from .alt_text import describe_score
from .incipits import ScreenMusic, first_score
from .playback import ground_json, heads, key_ground_json, play_through, play_through_json
from .tuning_table import TuningView, offer_words, tuning_view

_BESIDE = 1
"""Millimetres of paper kept beside a short piece."""
KEY_NAMES = dict(
    zip(KEY_SLUGS, ("C", "D♭", "D", "E♭", "E", "F", "F♯", "G", "A♭", "A", "B♭", "B"), strict=True)
)


@dataclass(frozen=True, slots=True)
class Music:
    """An engraved piece on a page; `width` and `height` in points, the empty paper beside it left out.

    `systems` are the top and the bottom of each of its lines, one after another, in points from its own top.
    `narrow` is the same piece in shorter lines for a phone, where this one is too wide for it.
    """

    body: str
    width: float
    height: float
    words: str
    drawing: Drawing
    systems: tuple[float, ...]
    narrow: Music | None = None

    @property
    def drawings(self) -> list[Drawing]:
        """What its page must carry the glyphs of."""
        return [self.drawing, *(self.narrow.drawings if self.narrow else [])]

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
    return Music(ink.body, round(width, 1), round(ink.height, 1), words, ink, systems, small)


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
    """One variation on a page: engraved, or left out for a `reason`, or failed with the engraver's line."""

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

    @property
    def link(self) -> Link:
        """The way here."""
        return Link(self.address, self.key_name, sign=key_sign(self.key_name))

    @property
    def in_key(self) -> str:
        """`in D flat major`, or `on D flat` where it has no key: what follows its title."""
        return in_words(self.key_name)

    @property
    def heading(self) -> str:
        """`D flat major`, or `On D flat`."""
        return self.key_name[0].upper() + self.key_name[1:]

    @property
    def mode(self) -> str:
        """The mode of its key, or `no key`."""
        return mode_words(self.exercise)

    @property
    def opening(self) -> Music | None:
        """How it begins in this key, where it can be played."""
        return self.begins()

    @property
    def sprite(self) -> str:
        """The glyphs of its page."""
        return sprite_of(part.music for view in self.settings for part in view.parts)

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
    def lasts(self) -> str:
        """About how long one key takes as written, at the slowest tempo: `about 40 seconds`."""
        return lasts_words(self.seconds)

    @property
    def mode(self) -> str:
        """`major`: the mode of all its keys, or `no key`."""
        return mode_words(self.exercise)

    @property
    def offer(self) -> str:
        """How much of it locks over its drone, in words; empty where it has none."""
        return offer_words(self.exercise)

    @property
    def registers(self) -> tuple[str, ...]:
        """The registers it lies in, key by key, in the instrument's order."""
        found = {setting.register for key in self.keys for setting in key.settings}
        return tuple(register.name for register in self.instrument.registers if register.name in found)


@dataclass(frozen=True, slots=True)
class KeyView:
    """A key page: every exercise in it."""

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

    @property
    def sprite(self) -> str:
        """The glyphs of its page."""
        settings = (view for page in self.exercises for view in page.settings)
        return sprite_of(part.music for view in settings for part in view.parts[:1])


@dataclass(frozen=True, slots=True)
class InstrumentBookView:
    """One instrument's book; `root` is its address, empty where the site has one instrument."""

    instrument: Instrument
    root: str
    exercises: tuple[ExerciseView, ...]
    keys: tuple[KeyView, ...]

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
    def sprite(self) -> str:
        """The glyphs of its contents page; a book for several instruments has one each."""
        return self.instrument_books[0].sprite if len(self.instrument_books) == 1 else ""


@dataclass(frozen=True, slots=True)
class Ink:
    """Everything engraved for the site."""

    screen: ScreenMusic
    times: BookTimes
    a4: float
    shown: Callable[[str], Shown | str]
    keys: Callable[[KeyPage], tuple[str, ...]]
    failed: Callable[[], Set[str]]


def tempo_words(exercise: Exercise) -> str:
    """`quarter = 54 to 66`."""
    tempo = exercise.tempo
    numbers = f"{tempo.low}" if tempo.low == tempo.high else f"{tempo.low} to {tempo.high}"
    return f"{tempo.beat.name} = {numbers}"


def mode_words(exercise: Exercise) -> str:
    """The mode of an exercise's keys, or `no key`."""
    return exercise.key.mode or "no key"


def key_sign(name: str) -> str:
    """A key's name in short: `D♭` for `D flat minor` and for `on D flat`."""
    letter, *rest = tonic_words(name).split()
    return letter + {"flat": "♭", "sharp": "♯"}.get(rest[0] if rest else "", "")


def seconds_of(pages: tuple[KeyPage, ...]) -> float:
    """How long one key takes as written, at the slowest tempo; 0 where nothing of it can be played."""
    score = first_score(pages)
    return float(length(score).longest) if score else 0.0


def _part(placed: SettingPieces, part: Rendition, ink: Ink) -> PartView:
    if part.score is None:
        return PartView(part.label, part.means, part.left_out)
    time = ink.times.of(placed, part)
    return PartView(part.label, part.means, "", time.words if time else "", partial(ink.shown, part.name))


def _finder(engraved_book: EngravedBook, screen: ScreenMusic) -> Callable[[str], Shown | str]:
    """Finds what a page shows of a part, or says why it shows nothing, by the part's name."""
    found = {
        part.name: (part.score, instrument_book.instrument)
        for instrument_book in engraved_book.instrument_books
        for _, pages in instrument_book.exercises
        for page in pages
        for placed in page.placed
        for part in placed.parts
    }

    store = CacheStore()
    instruments = {
        instrument_book.instrument.slug: repr(instrument_book.instrument)
        for instrument_book in engraved_book.instrument_books
    }

    # A template asks for the same few parts again and again while it writes a page.
    @lru_cache(maxsize=128)
    def shown(name: str) -> Shown | str:
        score, instrument = found[name]
        wide, narrow = engraved_book.engravings[name], screen.narrow.get(name)
        if isinstance(wide, Failure) or score is None:
            return f"The engraver could not write this out: {wide.said}" if isinstance(wide, Failure) else ""
        parts = (
            engraved_book.engravings.key(name),
            performance_fingerprint(score),
            instruments[instrument.slug],
        )
        words, play = memo_json(store, "shown", parts, partial(_heard, score, instrument))
        return Shown(inline_music(wide, words, narrow if isinstance(narrow, Engraved) else None), play)

    return shown


def _key_finder(engraved_book: EngravedBook, screen: ScreenMusic) -> Callable[[KeyPage], tuple[str, ...]]:
    """Finds the keys of all that a page shows; none where something of it is not to be engraved now."""

    def keys(page: KeyPage) -> tuple[str, ...]:
        names = [part.name for part in pieces((page,))]
        if not all(name in engraved_book.engravings for name in names):
            return ()
        found = [engraved_book.engravings.key(name) for name in names]
        return (*found, *(screen.narrow.key(name) for name in names if name in screen.narrow))

    return keys


def _heard(score: Score, instrument: Instrument) -> tuple[str, str]:
    """A piece in words, and as the page's scripts play it."""
    return describe_score(score), play_through_json(play_through(score, instrument))


def _setting(placed: SettingPieces, ink: Ink, folder: str) -> SettingView:
    setting = placed.setting
    return SettingView(
        anchor=setting.name,
        start=setting.start.spoken,
        register=register_of_setting(setting),
        direction=DIRECTION_TEXT[setting.direction],
        remarks=(*setting.remarks, *ink.times.cautions(placed)),
        parts=tuple(_part(placed, part, ink) for part in placed.parts),
        files=tuple(Link(address, kind) for kind, address in addresses(folder, placed)),
        tuning=tuning_view(setting, ink.a4) if setting.fits else None,
    )


def sprite_of(found: Iterable[Music | None]) -> str:
    return sprite([drawing for music in found if music for drawing in music.drawings])


def _opening(screen: ScreenMusic, place: tuple[str, str, str]) -> Music | None:
    found = screen.incipit(place)
    return inline_music(found[1], describe_score(found[0])) if found else None


def _range(screen: ScreenMusic, place: tuple[str, str]) -> Music | None:
    found = screen.ambitus(place)
    return inline_music(found[1], f"The range on the staff, {found[0].words}") if found else None


def _exercise(root: str, exercise: Exercise, pages: tuple[KeyPage, ...], ink: Ink) -> ExerciseView:
    address = exercise_address(root, exercise.slug)
    links = [Link(f"{address}{page.key}/", page.name, sign=key_sign(page.name)) for page in pages]
    tempo = tempo_words(exercise)
    place = exercise.slug, pages[0].instrument.slug
    views = []
    for number, page in enumerate(pages):
        settings = tuple(_setting(placed, ink, links[number].address) for placed in page.placed)
        views.append(
            InKeyView(
                exercise=exercise,
                instrument=page.instrument,
                key=page.key,
                key_name=page.name,
                address=links[number].address,
                tempo=tempo,
                settings=settings,
                begins=partial(_opening, ink.screen, (*place, page.key)),
                before=links[number - 1] if number else None,
                after=links[number + 1] if number + 1 < len(links) else None,
                keys=tuple(replace(link, current=place == number) for place, link in enumerate(links)),
                key_page=Link(key_address(root, page.key), KEY_NAMES[page.key]),
                exercise_page=Link(address, exercise.title),
                ground=ground_json(page.placed[0].setting, ink.a4),
                total=ink.times.total([page]),
                ink=ink.keys(page),
                failed=ink.failed,
            )
        )
    return ExerciseView(
        exercise=exercise,
        instrument=pages[0].instrument,
        address=address,
        tempo=tempo,
        seconds=seconds_of(pages),
        keys=tuple(views),
        ranges=partial(_range, ink.screen, place),
    )


def in_key_view(engraved_book: EngravedBook, screen: ScreenMusic, address: str) -> InKeyView | None:
    """One exercise's page in one key by its address; None where the book has no such page.

    Nothing but this page's pieces need be engraved.
    """
    ink = _ink(engraved_book, screen)
    for instrument_book in engraved_book.instrument_books:
        root = engraved_book.root(instrument_book.instrument)
        for exercise, pages in instrument_book.exercises:
            if address.startswith(exercise_address(root, exercise.slug)):
                views = _exercise(root, exercise, pages, ink).keys
                return next((view for view in views if view.address == address), None)
    return None


def _ink(engraved_book: EngravedBook, screen: ScreenMusic) -> Ink:
    times = BookTimes(engraved_book.book.breath_seconds)
    finders = (
        _finder(engraved_book, screen),
        _key_finder(engraved_book, screen),
        partial(_failed, engraved_book, screen),
    )
    return Ink(screen, times, engraved_book.book.a4, *finders)


def _failed(engraved_book: EngravedBook, screen: ScreenMusic) -> Set[str]:
    return {*engraved_book.engravings.keys_and_failures()[1], *screen.narrow.keys_and_failures()[1]}


def _keys(
    root: str, instrument_book: InstrumentBook, exercises: tuple[ExerciseView, ...], ink: Ink
) -> tuple[KeyView, ...]:
    found = []
    for number, key in enumerate(KEY_SLUGS):
        pages = tuple(page for view in exercises for page in view.keys if page.key == key)
        names = dict.fromkeys(tonic_words(page.key_name) for page in pages)
        before, after = KEY_SLUGS[number - 1], KEY_SLUGS[(number + 1) % 12]
        found_here = instrument_book.in_key(key)
        found.append(
            KeyView(
                key=key,
                name=" and ".join(names) or KEY_NAMES[key],
                sign=KEY_NAMES[key],
                address=key_address(root, key),
                instrument=instrument_book.instrument,
                exercises=pages,
                before=Link(key_address(root, before), KEY_NAMES[before]),
                after=Link(key_address(root, after), KEY_NAMES[after]),
                ground=key_ground_json(found_here[0].placed[0].setting, ink.a4) if found_here else "",
                total=ink.times.total(found_here, as_written=True),
            )
        )
    return tuple(found)


def book_view(engraved_book: EngravedBook, screen: ScreenMusic) -> BookView:
    """The whole site as views."""
    ink = _ink(engraved_book, screen)
    found = []
    for instrument_book in engraved_book.instrument_books:
        root = engraved_book.root(instrument_book.instrument)
        exercises = tuple(
            _exercise(root, exercise, pages, ink) for exercise, pages in instrument_book.exercises if pages
        )
        keys = _keys(root, instrument_book, exercises, ink)
        found.append(InstrumentBookView(instrument_book.instrument, root, exercises, keys))
    return BookView(engraved_book.book.name, tuple(found))
