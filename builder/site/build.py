"""The content of a site, step by step: what `build_content` says is the order of a build.

Before it, `plugin.py` has read mkdocs.yml and opened the book. After it, MkDocs writes the pages from their
templates, and the plugin adds the files that are no pages.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass

from ..book.addresses import FIND, LANGUAGE
from ..book.read import Book
from ..engrave.engraved_book import EngravedBook, engrave_book, stop_where_most_failed
from ..engrave.engravings import Engravings
from ..engrave.processes.background import BackgroundThread
from ..engrave.processes.scheduler import Pool
from ..engrave.processes.worker_processes import WorkerPool
from ..jobs.pool import HelperPool
from ..jobs.progress import progress
from ..music.keys import in_words
from ..paper.pdf import reader, writer
from ..paper.prefetch import extraction_tasks
from ..paper.text import Text
from ..prints.edition_layouts import engrave_editions, site_editions
from ..translation.catalog import Translation
from ..translation.said import joined, phrase, term
from ..views import daily_page, print_page
from ..views.daily_page import daily_pages, plan_tasks
from ..views.incipits import ScreenMusic, engrave_for_screens
from ..views.language_page import LanguageView, language_view
from ..views.page import Page
from ..views.page_views import BookView, InKeyView
from ..views.print_page import PrintCatalogue
from ..views.search_page import find_view
from ..views.view_factory import book_view

PRELOAD = tuple(module.__name__ for module in (daily_page, print_page, reader, writer))
"""The modules that helpers need for plans and prints."""


@dataclass(frozen=True, slots=True)
class SiteContent:
    """All that a site shows. `pages` are by their places in the site's sources, such as `daily/index.md`."""

    engraved_book: EngravedBook
    screen_music: ScreenMusic
    editions: Engravings[str]
    prints: PrintCatalogue
    language: LanguageView
    book: BookView
    pages: dict[str, Page]

    @property
    def translation(self) -> Translation:
        """What says the book's own words in its language."""
        return self.engraved_book.book.translation

    @property
    def failures(self) -> tuple[str, ...]:
        """The pieces that could not be engraved, each in a sentence and once."""
        sets = (
            self.engraved_book.failures,
            self.editions.failures,
            self.language.failures,
            self.screen_music.failures,
        )
        return tuple(dict.fromkeys(str(failure) for failures in sets for failure in failures))


def build_content(
    book: Book, description: str, helpers: HelperPool, pool: Pool, quiet: bool = False
) -> SiteContent:
    """Engrave a book with the workers of `pool`, and make the views of all pages.

    With `quiet` there is no bar of progress. At the end the helpers are still at work on plans and prints.
    Raises EngraverMissing, and EngraverAtFault where most of what had to be engraved failed.
    """
    # 1. Engrave the pieces, and behind them the book edition and the words of the prints.
    with closing(BackgroundThread()) as background:
        with progress("Engraving", quiet) as report:
            engraved_book = engrave_book(book, pool, report, background)
            editions = engrave_editions(
                site_editions(engraved_book.instrument_books), pool=pool, behind=background
            )
            prints = PrintCatalogue(engraved_book, editions, description)
            words = prints.engrave_words(pool, background)
            language = language_view(book.naming)
            engraved_book.engravings.wait()
        stop_where_most_failed(engraved_book.engravings)
        # 2. Engrave what only screens show: which lines are too wide for a phone is known by now.
        screen_music = engrave_for_screens(engraved_book, pool, background)
        editions.wait()
        words.wait()
        prints.note_words(words)
        screen_music.wait()
    if isinstance(pool, WorkerPool):
        pool.end_soon()
    # 3. The engravers are gone, so the helpers have the cores and the memory.
    submit_tasks(helpers, engraved_book, prints, words)
    # 4. Make the views. What the helpers are at work on stands last.
    view = book_view(engraved_book, screen_music)
    pages = dict(_pages_of_book(view))
    pages[f"{LANGUAGE}index.md"] = Page("language.html", term("The language of the exercises"), language)
    pages[f"{FIND}index.md"] = Page("find.html", term("Find in the book"), find_view(view, book.translation))
    pages |= daily_pages(engraved_book)
    pages |= prints.pages
    return SiteContent(engraved_book, screen_music, editions, prints, language, view, pages)


def submit_tasks(
    helpers: HelperPool,
    engraved_book: EngravedBook,
    prints: PrintCatalogue,
    words: Engravings[Text],
) -> None:
    """Have helpers plan the daily sets, and take pieces apart and lay out prints of them."""
    helpers.share(engraved_book)
    helpers.submit(plan_tasks(engraved_book))
    helpers.submit(
        extraction_tasks(prints.not_extracted(engraved_book.engravings, words), helpers.count),
        prints.layout_tasks(helpers.count),
    )


def in_key_page(view: InKeyView) -> Page:
    """The page of an exercise in a key."""
    return Page("in_key.html", joined((view.exercise.title, in_words(view.key_name))), view)


def _pages_of_book(book: BookView) -> Iterator[tuple[str, Page]]:
    """The pages of exercises and keys, each with its place in the site's sources."""
    yield "index.md", Page("home.html", book.name, book)
    for instrument_book in book.instrument_books:
        if instrument_book.root:
            title = term(instrument_book.instrument.name)
            yield f"{instrument_book.root}index.md", Page("home.html", title, instrument_book)
        for exercise in instrument_book.exercises:
            yield f"{exercise.address}index.md", Page("exercise.html", exercise.exercise.title, exercise)
            for view in exercise.keys:
                yield f"{view.address}index.md", in_key_page(view)
        for key in instrument_book.keys:
            yield (
                f"{key.address}index.md",
                Page("key.html", phrase("Every exercise in {key}", key=key.name), key),
            )
