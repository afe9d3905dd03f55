"""What the templates may call: on every page the same, and what belongs to one page."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from mkdocs.structure.files import Files
from mkdocs.structure.pages import Page as MkDocsPage
from mkdocs.utils import normalize_url

from ..book.own_pages import OwnPage
from ..daily.cautions import GENERAL
from ..translation.said import term
from ..views.page_views import BookView, InstrumentBookView, Link
from .build import SiteContent
from .menu import MenuEntry, own_page_views, pages_without_way
from .news import page_days


def template_values(content: SiteContent, files: Files, menu: tuple[MenuEntry, ...]) -> dict[str, Any]:
    """What every template may call, by its name there."""
    named = {each.file for each in content.engraved_book.book.contents if isinstance(each, OwnPage)}
    without_way = pages_without_way(files, content.pages, named, menu)
    own_pages = own_page_views(files, content.pages)
    return {
        "book": content.book,
        "cautions": GENERAL,
        "menu": menu,
        "page_days": page_days(content.book),
        "own_pages": own_pages,
        "more_pages": [page for page in own_pages if page.address in without_way],
    }


def link_from(page: MkDocsPage) -> Callable[[str], str]:
    """What makes an address from the site's root into a relative link of a page.

    A folder's link names its page, so that it holds from a sub-path and from a folder without a server.
    """

    def to(address: str) -> str:
        path, hash_sign, anchor = address.partition("#")
        if not path or path.endswith("/"):
            path += "index.html"
        return normalize_url(path, page) + hash_sign + anchor

    return to


def instrument_book_at(book: BookView, uri: str) -> InstrumentBookView | None:
    """The instrument's book that a page belongs to; the only one belongs to every page."""
    if len(book.instrument_books) == 1:
        return book.instrument_books[0]
    return next((each for each in book.instrument_books if uri.startswith(each.root)), None)


def peers_of(content: SiteContent, uri: str) -> list[Link]:
    """A page for each instrument of the book, or where that has no such page, its contents."""
    instrument_books = content.book.instrument_books
    here = instrument_book_at(content.book, uri)
    if len(instrument_books) < 2 or here is None:
        return []
    found = []
    for instrument_book in instrument_books:
        same = instrument_book.root + uri.removeprefix(here.root)
        address = same if same in content.pages else f"{instrument_book.root}index.md"
        name = term(instrument_book.instrument.name)
        found.append(Link(address.removesuffix("index.md"), name, instrument_book is here))
    return found
