"""What a print has of a book: which keys, which exercises, which variations."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from ..book.addresses import key_print_name
from ..book.pieces import AS_WRITTEN, InstrumentBook, KeyPage, Rendition
from ..book.read import Book
from ..music.exercise import Exercise
from ..music.keys import KEY_SLUGS
from ..music.settings.transpositions import in_keys, settings_of
from ..translation.said import phrase, term
from .parts import PARTS, SECOND, in_part, one_part
from .whole_documents import every_in, key_name


@dataclass(frozen=True, slots=True)
class PrintChoice:
    """What to print for one instrument: some keys, some exercises, both, or the whole book.

    `keys` are addresses of key pages and `exercises` addresses of exercises, each once, in the order of the
    print; `variations` are the labels of the parts to print. Empty stands for all. `written_out` prints every
    variation in every key; what names keys always does. `part` is one of PARTS, for one part of duets alone.
    """

    instrument: str
    keys: tuple[str, ...] = ()
    exercises: tuple[str, ...] = ()
    variations: tuple[str, ...] = ()
    written_out: bool = False
    part: str = ""

    @property
    def is_bound(self) -> bool:
        """Whether it is printed as the book is: ways of playing once, the line in every key."""
        return not self.written_out and not self.keys

    def has(self, part: Rendition) -> bool:
        """Whether a part is to be printed."""
        return not self.variations or part.label in self.variations


class NothingToPrint(Exception):
    """Raised where a choice leaves nothing; the text says why."""


def chosen(found: InstrumentBook, choice: PrintChoice) -> InstrumentBook:
    """The part of an instrument's book that a choice names, in its order.

    Raises NothingToPrint where there is none.
    """
    found = one_part(found, choice.part) if choice.part else found
    kept = (
        (each, tuple(page for page in _in_order(pages, choice.keys) if _wanted(page, choice)))
        for each, pages in _exercises_in_order(found, choice.exercises)
    )
    left = tuple((each, pages) for each, pages in kept if pages)
    if not left:
        has = "all that, with a second part" if choice.part == SECOND else "all that"
        raise NothingToPrint(f"no exercise of the book has {has}: nothing to print")
    return InstrumentBook(found.instrument, left)


def _exercises_in_order(
    found: InstrumentBook, slugs: tuple[str, ...]
) -> Iterator[tuple[Exercise, tuple[KeyPage, ...]]]:
    by_slug = {each.slug: (each, pages) for each, pages in found.exercises}
    return (by_slug[slug] for slug in slugs or by_slug if slug in by_slug)


def _in_order(pages: tuple[KeyPage, ...], keys: tuple[str, ...]) -> Iterator[KeyPage]:
    by_key = {page.key: page for page in pages}
    return (by_key[key] for key in keys or by_key if key in by_key)


def _wanted(page: KeyPage, choice: PrintChoice) -> bool:
    parts = [part for placed in page.placed for part in placed.parts]
    return any(map(choice.has, parts)) if choice.variations else True


def absent(book: Book, choice: PrintChoice) -> Iterator[str]:
    """A sentence for each exercise without music in some keys of a choice, or for each key without any.

    Likewise for each exercise that is named and has no second part, where that is asked for.
    """
    if choice.part == SECOND:
        named = (each for each in book.exercises if each.slug in choice.exercises)
        yield from (f"{each.slug}: has no second part" for each in named if not each.is_duet)
    instrument = next(each for each in book.instruments if each.slug == choice.instrument)
    if not choice.exercises and len(choice.keys) < 2:
        return
    every: set[str] = set()
    for exercise in book.exercises:
        if exercise.slug in (choice.exercises or (exercise.slug,)):
            there = in_keys(settings_of(exercise, instrument))
            every |= {*there}
            missing = [key for key in choice.keys if key not in there]
            if choice.exercises and missing:
                yield f"{exercise.slug}: not in {', '.join(missing)}; its keys are {', '.join(there)}"
    if not choice.exercises:
        yield from (f"no exercise is in {key}" for key in choice.keys if key not in every)


def labels(book: Book) -> tuple[str, ...]:
    """The name of every part that the book's exercises ask for."""
    wanted = (each.label for exercise in book.exercises for each in exercise.wanted)
    return tuple(dict.fromkeys((AS_WRITTEN, *wanted)))


def site_choices(found: InstrumentBook) -> Iterator[tuple[str, str, str, PrintChoice]]:
    """The files the site offers for an instrument: name, group, words, and what is in it."""
    slug = found.instrument.slug
    if found.exercises:
        yield "book", term("The whole book"), term("Every exercise in every key"), PrintChoice(slug)
    for key in KEY_SLUGS:
        pages = found.in_key(key)
        if pages:
            said = every_in(key_name(pages))
            yield key_print_name(key), term("One key"), said, PrintChoice(slug, keys=(key,))
    for each, pages in found.exercises:
        if pages:
            said, group = phrase("{title} in every key", title=each.title), term("One exercise")
            choice = PrintChoice(slug, exercises=(each.slug,))
            yield f"exercise-{each.slug}", group, said, choice
            for part in PARTS if each.is_duet else ():
                said = phrase("{title}, in every key", title=in_part(each.title, part))
                yield f"exercise-{each.slug}-{part}-part", group, said, replace(choice, part=part)
