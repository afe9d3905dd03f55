"""The author's own pages in the site: the menu that `nav:` makes, and pages that nothing else leads to."""

from __future__ import annotations

import html
import re
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from mkdocs.structure.files import File, Files
from mkdocs.structure.nav import Link, Section
from mkdocs.structure.pages import Page

from ..book.own_pages import HOME_PAGE
from ..book.sorting import title_order

_TAG = re.compile(r"<[^>]*>")
_FOLDER_LINK = re.compile(r'(<a\b[^>]*?\shref=")(?![a-zA-Z][a-zA-Z0-9+.-]*:|/)([^"#?]*/)(?=["#?])')


@dataclass(frozen=True, slots=True)
class MenuEntry:
    """A page, a link or a section of the menu.

    `address` is from the site's root (`news/`), or begins with `/` or a scheme where it leads out of the
    book. A section has none, but `entries`.
    """

    words: str
    address: str = ""
    entries: tuple[MenuEntry, ...] = ()

    @property
    def leads_out(self) -> bool:
        """Whether its address is no page of this site."""
        return self.address.startswith("/") or ":" in self.address.partition("/")[0]


@dataclass(frozen=True, slots=True)
class OwnPageView:
    """A page of the author's: its title, its address from the site's root, and its words without marks."""

    title: str
    address: str
    text: str


def menu_of(items: Iterable[Any]) -> tuple[MenuEntry, ...]:
    """The menu that MkDocs's navigation items make; the home page has a link of its own and stays out."""
    return tuple(_entries(items))


def _entries(items: Iterable[Any]) -> Iterator[MenuEntry]:
    for item in items:
        if isinstance(item, Section):
            if below := menu_of(item.children):
                yield MenuEntry(item.title, entries=below)
        elif isinstance(item, Link):
            yield MenuEntry(item.title or item.url, item.url)
        elif isinstance(item, Page) and item.file.src_uri != HOME_PAGE and item.file.inclusion.is_included():
            yield MenuEntry(str(item.title), item.file.url)


def own_page_views(files: Files, made: Collection[str]) -> tuple[OwnPageView, ...]:
    """The author's published pages, by their titles; `made` are the places of the book's own pages."""
    pages = (file.page for file in own_page_files(files, made) if file.page)
    found = [OwnPageView(str(page.title), page.file.url, _words(page.content or "")) for page in pages]
    return tuple(sorted(found, key=lambda page: (title_order(page.title), page.address)))


def own_page_files(files: Files, made: Collection[str]) -> Iterator[File]:
    """The files of the author's pages, without the home page and those that MkDocs leaves out."""
    for file in files.documentation_pages():
        if file.src_uri not in made and file.src_uri != HOME_PAGE and file.inclusion.is_included():
            yield file


def pages_without_way(
    files: Files, made: Collection[str], named: Collection[str], menu: Iterable[MenuEntry]
) -> frozenset[str]:
    """The addresses of own pages that neither the contents (`named`) nor the menu leads to.

    A page that the author keeps out of the navigation (`not_in_nav:`) is none of them.
    """
    in_menu = set(_addresses(menu))
    return frozenset(
        file.url
        for file in own_page_files(files, made)
        if file.src_uri not in named and file.url not in in_menu and file.inclusion.is_in_nav()
    )


def _addresses(menu: Iterable[MenuEntry]) -> Iterator[str]:
    for entry in menu:
        yield entry.address
        yield from _addresses(entry.entries)


def name_index_files(page: str) -> str:
    """A page's HTML with links to folders made links to their pages, so that they hold without a server."""
    return _FOLDER_LINK.sub(r"\1\2index.html", page)


def _words(page: str) -> str:
    """A page's words, without its marks."""
    return " ".join(html.unescape(_TAG.sub(" ", page)).split())
