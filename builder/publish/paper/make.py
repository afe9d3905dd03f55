"""Prints from a book: engrave what is wanted, then lay it out."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from builder.book import Book
from builder.engrave.batch import Engraved, Failure, Progress, engrave
from builder.engrave.cache import PieceCache
from builder.engrave.notation import notation
from builder.music.keys import KEY_SLUGS

from ..plan import InKey, Shelf, scores, shelf
from ..press import ink
from ..views import KEY_NAMES
from .form import Form
from .study import Press, Printed, study
from .words import Text, pieces
from .write import About


@dataclass(frozen=True, slots=True)
class Choice:
    """What to print of a book for one instrument: a key page, an exercise, both (one page), or all."""

    instrument: str
    key: str = ""
    exercise: str = ""


def lettering(texts: Sequence[Text]) -> dict[Text, Engraved]:
    """Engrave words, with the user's cache. Raises ValueError where the engraver fails."""
    wanted = pieces(texts)
    cache = PieceCache()
    try:
        made = dict(zip(wanted, engrave(wanted.values(), None, None, cache), strict=True))
    finally:
        cache.close()
    found = {}
    for words, result in made.items():
        if isinstance(result, Failure):
            raise ValueError(str(result))
        found[words] = result
    return found


def print_choice(book: Book, choice: Choice, form: Form, progress: Progress | None = None) -> Printed:
    """Engrave and lay out, private exercises too."""
    instrument = next(each for each in book.instruments if each.slug == choice.instrument)
    found = of_key(shelf(book.exercises, instrument), choice)
    inked = ink(
        {name: notation(score) for name, score in scores((found,)).items()}, None, progress, form.layout
    )
    return made(book.name, found, choice, Press(inked, form, lettering))


def made(name: str, found: Shelf, choice: Choice, press: Press) -> Printed:
    """A print of pieces that are engraved."""
    pages = [page for _, group in found.exercises for page in group]
    title, heading = _titles(name, pages, choice)
    return study(title, pages, press, heading, About(title, name))


def _titles(name: str, pages: list[InKey], choice: Choice) -> tuple[str, Callable[[InKey], str]]:
    if choice.key and choice.exercise:
        return pages[0].exercise.title, lambda page: page.name
    if choice.exercise:
        return pages[0].exercise.title, lambda page: page.name
    if choice.key:
        return (
            f"Every exercise in {KEY_NAMES[choice.key]}",
            lambda page: f"{page.exercise.title}, {page.name}",
        )
    return name, lambda page: f"{page.exercise.title}, {page.name}"


def of_key(found: Shelf, choice: Choice) -> Shelf:
    """The part of a shelf that a choice names."""
    kept = (
        (each, tuple(page for page in pages if choice.key in ("", page.key)))
        for each, pages in found.exercises
        if choice.exercise in ("", each.slug)
    )
    return Shelf(found.instrument, tuple((each, pages) for each, pages in kept if pages))


def site_choices(found: Shelf) -> Iterator[tuple[str, str, str, Choice]]:
    """The files the site offers for an instrument: name, group, words, and what is in it."""
    slug = found.instrument.slug
    yield "book", "The whole book", "Every exercise in every key", Choice(slug)
    for key in KEY_SLUGS:
        if found.in_key(key):
            yield f"key-{key}", "One key", f"Every exercise in {KEY_NAMES[key]}", Choice(slug, key=key)
    for each, pages in found.exercises:
        if pages:
            yield (
                f"exercise-{each.slug}",
                "One exercise",
                f"{each.title} in every key",
                Choice(slug, exercise=each.slug),
            )
