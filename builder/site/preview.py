"""While a book is served: a saved exercise is shown in one key at once, before the whole book is made again.

The key is the one that a browser shows at that moment, else the first that can be played.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from ..book.addresses import setting_address
from ..book.pieces import InstrumentBook, KeyPage, instrument_book_of, instrument_root, scores
from ..book.read import Book
from ..engrave.engraved_book import EngravedBook, engrave_scores
from ..engrave.engravings import Engravings
from ..engrave.processes.scheduler import Pool
from ..language.read import SUFFIX
from ..views.incipits import ScreenMusic, engrave_for_screens
from ..views.page_views import InKeyView
from ..views.view_factory import in_key_view

_LARGE = 1_000_000
"""Bytes: a picture among the book's pages, perhaps."""


@dataclass(frozen=True, slots=True)
class Saved:
    """The files of a book at some moment: their bytes, or of a large one its size and time."""

    files: Mapping[Path, object]

    @classmethod
    def of(cls, exercises: Path, others: Iterable[Path]) -> Saved:
        """What lies below a folder of exercises, and some other files."""
        found: dict[Path, object] = {}
        for path in (*exercises.rglob(f"*{SUFFIX}"), *others):
            # An editor may take a file away for a moment while it saves.
            with suppress(OSError):
                status = path.stat()
                large = status.st_size > _LARGE
                found[path] = (status.st_size, status.st_mtime_ns) if large else path.read_bytes()
        return cls(found)

    def changed_to(self, now: Saved) -> str:
        """The slug of the one exercise that differs or is new; empty where anything else has changed too."""
        different = [path for path in now.files if now.files[path] != self.files.get(path)]
        if len(different) != 1 or self.files.keys() - now.files.keys() or different[0].suffix != SUFFIX:
            return ""
        return different[0].name.removesuffix(SUFFIX)


def preview(book: Book, slug: str, watched: Iterable[str], pool: Pool | None = None) -> InKeyView | None:
    """An exercise's page in one key, with nothing else engraved; None where it has none to show.

    `watched` are addresses of pages from the site's root, those that were looked at last first.
    """
    exercises = tuple(each for each in book.published if each.slug == slug)
    plan = tuple(
        instrument_book_of(exercises, instrument, book.page_words) for instrument in book.instruments
    )
    pages = {
        setting_address(instrument_root(each.instrument, len(plan)), slug, page.key): (each, page)
        for each in plan
        for _, group in each.exercises
        for page in group
        if any(part.score for placed in page.placed for part in placed.parts)
    }
    if not pages:
        return None
    address = _nearest(watched, list(pages))
    engraved_book, screen_music = _engraved(book, plan, *pages[address], pool)
    return in_key_view(engraved_book, screen_music, address)


def _nearest(watched: Iterable[str], addresses: list[str]) -> str:
    """The page that is looked at, or the same key's of this exercise, or the first."""
    for address in watched:
        key = address.rstrip("/").rpartition("/")[2]
        for found in addresses:
            if found == address or found.endswith(f"/{key}/"):
                return found
    return addresses[0]


def _engraved(
    book: Book, plan: tuple[InstrumentBook, ...], found: InstrumentBook, page: KeyPage, pool: Pool | None
) -> tuple[EngravedBook, ScreenMusic]:
    alone = replace(found, exercises=((page.exercise, (page,)),))
    engravings: Engravings[str] = engrave_scores(scores((alone,)), pool)
    screen_music = engrave_for_screens(EngravedBook(book, (alone,), engravings), pool)
    return EngravedBook(book, plan, engravings), screen_music
