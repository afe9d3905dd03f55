"""From an engraved book to the views of its pages."""

from __future__ import annotations

from collections.abc import Callable, Set
from dataclasses import dataclass, replace
from functools import lru_cache, partial

from ..book.addresses import exercise_address, key_address, key_print_address, piece_anchor
from ..book.contents import Contents, with_only
from ..book.durations import BookTimes
from ..book.own_pages import OwnPage
from ..book.pieces import InstrumentBook, KeyPage, Rendition, SettingPieces, pieces
from ..cache.memo import memo_json
from ..cache.store import CacheStore
from ..daily.measure import register_of_setting, registers_passed
from ..engrave.engraved_book import EngravedBook
from ..engrave.piece import Engraved, Failure
from ..export.downloads import addresses
from ..music.description import describe_score
from ..music.exercise import DIRECTION_TEXT, Exercise, exercise_fingerprint
from ..music.keys import KEY_SLUGS, tonic_words
from ..music.score import Score
from ..music.sounding.performance import performance_fingerprint
from ..music.sounding.timing import length
from ..music.winds.instruments import Instrument
from ..translation.catalog import Translation
from ..translation.said import listed, phrase
from ..variations.printed_names import label_words
from .incipits import ScreenMusic, first_score
from .page_views import (
    BookView,
    ChapterView,
    ExerciseView,
    InKeyView,
    InstrumentBookView,
    KeyView,
    Link,
    Music,
    OwnPageView,
    PartView,
    SettingView,
    Shown,
    inline_music,
    key_sign,
    key_signs,
    tempo_words,
)
from .playback import ground_json, key_ground_json, play_through, play_through_json
from .short_play import shorten_play
from .tuning_table import tuning_view


@dataclass(frozen=True, slots=True)
class _Inputs:
    """Everything engraved for the site."""

    screen: ScreenMusic
    times: BookTimes
    a4: float
    shown: Callable[[str], Shown | str]
    keys: Callable[[KeyPage], tuple[str, ...]]
    failed: Callable[[], Set[str]]
    translation: Translation


def seconds_of(pages: tuple[KeyPage, ...]) -> float:
    """How long one key takes as written, at the slowest tempo; 0 where nothing of it can be played."""
    score = first_score(pages)
    return float(length(score).longest) if score else 0.0


def _part(placed: SettingPieces, part: Rendition, inputs: _Inputs) -> PartView:
    anchor = piece_anchor(placed.setting.name, part.label)
    if part.score is None:
        return PartView(anchor, label_words(part.label), part.means, part.left_out)
    time = inputs.times.of(placed, part)
    shown = partial(inputs.shown, part.name)
    return PartView(anchor, label_words(part.label), part.means, "", time.words if time else "", shown)


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
    translation = engraved_book.book.translation
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
            return wide.instead if isinstance(wide, Failure) else ""
        parts = (
            engraved_book.engravings.key(name),
            performance_fingerprint(score),
            instruments[instrument.slug],
            translation.language,
        )
        words, play = memo_json(store, "shown", parts, partial(_heard, score, instrument, translation))
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


def _heard(score: Score, instrument: Instrument, translation: Translation) -> tuple[str, str]:
    """A piece in words, and as the page's scripts play it."""
    words = describe_score(score, translation=translation)
    return words, shorten_play(play_through_json(play_through(score, instrument), translation))


def _setting(placed: SettingPieces, register: str, inputs: _Inputs, folder: str) -> SettingView:
    setting = placed.setting
    return SettingView(
        anchor=setting.name,
        start=setting.start.spoken,
        register=register,
        direction=DIRECTION_TEXT[setting.direction],
        remarks=(*setting.remarks, *inputs.times.cautions(placed)),
        parts=tuple(_part(placed, part, inputs) for part in placed.parts),
        files=tuple(Link(address, kind) for kind, address in addresses(folder, placed)),
        tuning=tuning_view(setting, inputs.a4, inputs.translation) if setting.fits else None,
    )


def _opening(inputs: _Inputs, place: tuple[str, str, str]) -> Music | None:
    found = inputs.screen.incipit(place)
    return inline_music(found[1], describe_score(found[0], translation=inputs.translation)) if found else None


def _range(screen: ScreenMusic, place: tuple[str, str]) -> Music | None:
    found = screen.ambitus(place)
    return (
        inline_music(found[1], phrase("The range on the staff, {range}", range=found[0].words))
        if found
        else None
    )


def _registers(exercise: Exercise, pages: tuple[KeyPage, ...]) -> list[list[str]]:
    """The register of every setting on every page; kept, so that what has not changed is not played again."""

    def make() -> list[list[str]]:
        return [[register_of_setting(placed.setting) for placed in page.placed] for page in pages]

    decided = exercise_fingerprint(exercise), repr(pages[0].instrument), *(page.key for page in pages)
    found: list[list[str]] = memo_json(CacheStore(), "registers", decided, make)
    return found


def _registers_at_home(exercise: Exercise, pages: tuple[KeyPage, ...]) -> tuple[str, ...]:
    """The registers that the notes pass through in the home key, or in the first; kept like the others."""

    def make() -> list[str]:
        home = next((page for page in pages if page.name == exercise.key.name), pages[0])
        return list(registers_passed([placed.setting for placed in home.placed]))

    decided = exercise_fingerprint(exercise), repr(pages[0].instrument), *(page.key for page in pages)
    return tuple(memo_json(CacheStore(), "registers at home", decided, make))


def _exercise(root: str, exercise: Exercise, pages: tuple[KeyPage, ...], inputs: _Inputs) -> ExerciseView:
    address = exercise_address(root, exercise.slug)
    links = [
        Link(f"{address}{page.key}/", page.name, sign=key_sign(page.name, inputs.translation))
        for page in pages
    ]
    tempo = tempo_words(exercise)
    place = exercise.slug, pages[0].instrument.slug
    views = []
    signs = key_signs(inputs.translation)
    registers = _registers(exercise, pages)
    for number, page in enumerate(pages):
        settings = tuple(
            _setting(placed, register, inputs, links[number].address)
            for placed, register in zip(page.placed, registers[number], strict=True)
        )
        views.append(
            InKeyView(
                exercise=exercise,
                instrument=page.instrument,
                key=page.key,
                key_name=page.name,
                address=links[number].address,
                tempo=tempo,
                settings=settings,
                begins=partial(_opening, inputs, (*place, page.key)),
                before=links[number - 1] if number else None,
                after=links[number + 1] if number + 1 < len(links) else None,
                keys=tuple(replace(link, current=place == number) for place, link in enumerate(links)),
                key_page=Link(key_address(root, page.key), signs[page.key]),
                exercise_page=Link(address, exercise.title),
                ground=ground_json(page.placed[0].setting, inputs.a4, inputs.translation),
                total=inputs.times.total([page]),
                ink=inputs.keys(page),
                failed=inputs.failed,
                sign=links[number].sign,
            )
        )
    return ExerciseView(
        exercise=exercise,
        instrument=pages[0].instrument,
        address=address,
        tempo=tempo,
        seconds=seconds_of(pages),
        keys=tuple(views),
        ranges=partial(_range, inputs.screen, place),
        registers=_registers_at_home(exercise, pages),
    )


def in_key_view(engraved_book: EngravedBook, screen: ScreenMusic, address: str) -> InKeyView | None:
    """One exercise's page in one key by its address; None where the book has no such page.

    Nothing but this page's pieces need be engraved.
    """
    inputs = _inputs_of(engraved_book, screen)
    for instrument_book in engraved_book.instrument_books:
        root = engraved_book.root(instrument_book.instrument)
        for exercise, pages in instrument_book.exercises:
            if address.startswith(exercise_address(root, exercise.slug)):
                views = _exercise(root, exercise, pages, inputs).keys
                return next((view for view in views if view.address == address), None)
    return None


def _inputs_of(engraved_book: EngravedBook, screen: ScreenMusic) -> _Inputs:
    times = BookTimes(engraved_book.book.breath_seconds, CacheStore())
    finders = (
        _finder(engraved_book, screen),
        _key_finder(engraved_book, screen),
        partial(_failed, engraved_book, screen),
    )
    return _Inputs(screen, times, engraved_book.book.a4, *finders, engraved_book.book.translation)


def _failed(engraved_book: EngravedBook, screen: ScreenMusic) -> Set[str]:
    return {*engraved_book.engravings.keys_and_failures()[1], *screen.narrow.keys_and_failures()[1]}


def _keys(
    root: str, instrument_book: InstrumentBook, exercises: tuple[ExerciseView, ...], inputs: _Inputs
) -> tuple[KeyView, ...]:
    found = []
    signs = key_signs(inputs.translation)
    for number, key in enumerate(KEY_SLUGS):
        pages = tuple(page for view in exercises for page in view.keys if page.key == key)
        names = dict.fromkeys(tonic_words(page.key_name) for page in pages)
        before, after = KEY_SLUGS[number - 1], KEY_SLUGS[(number + 1) % 12]
        found_here = instrument_book.in_key(key)
        found.append(
            KeyView(
                key=key,
                name=listed(names) or signs[key],
                sign=signs[key],
                address=key_address(root, key),
                instrument=instrument_book.instrument,
                exercises=pages,
                before=Link(key_address(root, before), signs[before]),
                after=Link(key_address(root, after), signs[after]),
                ground=key_ground_json(found_here[0].placed[0].setting, inputs.a4, inputs.translation)
                if found_here
                else "",
                total=inputs.times.total(found_here, as_written=True),
                pdf=key_print_address(root, key),
            )
        )
    return tuple(found)


def _linked(exercises: tuple[ExerciseView, ...]) -> tuple[ExerciseView, ...]:
    """Exercises with the ways to the one before and the one after."""
    links = [None, *(Link(view.address, view.exercise.title) for view in exercises), None]
    return tuple(
        replace(view, before=before, after=after)
        for view, before, after in zip(exercises, links, links[2:], strict=False)
    )


def _contents(
    contents: Contents, exercises: tuple[ExerciseView, ...]
) -> tuple[ChapterView | OwnPageView, ...]:
    """The author's order of these exercises; one list of them where she gives none."""
    if not contents:
        return (ChapterView("", 1, exercises),)
    views = {view.exercise.slug: view for view in exercises}
    found: list[ChapterView | OwnPageView] = []
    first = 1
    for each in with_only(contents, views):
        if isinstance(each, OwnPage):
            found.append(OwnPageView(each.file, each.title))
        else:
            found.append(ChapterView(each.title, first, tuple(views[slug] for slug in each.exercises)))
            first += len(each.exercises)
    return tuple(found)


def book_view(engraved_book: EngravedBook, screen: ScreenMusic) -> BookView:
    """The whole site as views."""
    inputs = _inputs_of(engraved_book, screen)
    found = []
    for instrument_book in engraved_book.instrument_books:
        root = engraved_book.root(instrument_book.instrument)
        exercises = tuple(
            _exercise(root, exercise, pages, inputs) for exercise, pages in instrument_book.exercises if pages
        )
        exercises = _linked(exercises)
        keys = _keys(root, instrument_book, exercises, inputs)
        contents = _contents(engraved_book.book.published_contents, exercises)
        found.append(InstrumentBookView(instrument_book.instrument, root, exercises, keys, contents))
    return BookView(engraved_book.book.name, tuple(found))
