"""The files a site offers for the stand, and the page that lists them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

from builder.engrave.cache import PieceCache

from ..plan import Shelf
from ..press import Pressed
from .form import PAPERS, Form
from .make import Choice, chosen, kept_print, made, made_for, site_choices
from .workshop import Workshop


@dataclass(frozen=True, slots=True)
class PrintFile:
    """A PDF of the site: its address from the site's root, its paper, its pages and its bytes.

    The file itself is fetched when it is written, so that not all of a large book are in memory at once.
    """

    address: str
    paper: str
    pages: int
    length: int
    fetch: Callable[[], bytes]

    @property
    def data(self) -> bytes:
        """The file."""
        return self.fetch()

    @property
    def size(self) -> str:
        """`84 KB` or `1.2 MB`."""
        kilobytes = self.length / 1000
        return f"{kilobytes:.0f} KB" if kilobytes < 1000 else f"{kilobytes / 1000:.1f} MB"


@dataclass(frozen=True, slots=True)
class PrintItem:
    """Something to print, on every paper, the book's own first."""

    words: str
    files: tuple[PrintFile, ...]


@dataclass(frozen=True, slots=True)
class PrintGroup:
    """Items of one sort below a heading."""

    title: str
    items: tuple[PrintItem, ...]


@dataclass(frozen=True, slots=True)
class PrintShelf:
    """One instrument's files; `root` is its address, empty where the site has one instrument."""

    instrument: str
    root: str
    groups: tuple[PrintGroup, ...]


@dataclass(frozen=True, slots=True)
class PrintView:
    """A page of files. `problems` says in plain sentences what could not be shown in them."""

    shelves: tuple[PrintShelf, ...]
    problems: tuple[str, ...] = ()

    @property
    def files(self) -> Iterator[PrintFile]:
        """Every file of the page."""
        for shelf in self.shelves:
            for group in shelf.groups:
                for item in group.items:
                    yield from item.files

    @property
    def pages(self) -> dict[str, PrintView]:
        """Every page of files by its address: the site's, and each instrument's where there are several."""
        own = {f"{shelf.root}print/": PrintView((shelf,)) for shelf in self.shelves if shelf.root}
        return {"print/": self, **own}


def offer(pressed: Pressed, description: str) -> PrintView:
    """Lay out every file the site offers: each key, each exercise and the whole book, on every paper."""
    own = pressed.book.paper
    papers = (own, *(name for name in PAPERS if name != own))
    workshop = Workshop(pressed.inked, Form(PAPERS[own]), PieceCache())
    workshop.ahead(pressed.inked)
    workshops = {name: workshop.on(Form(PAPERS[name])) for name in papers}
    several = len(pressed.shelves) > 1
    shelves = tuple(
        _shelf(
            shelf, f"{shelf.instrument.slug}/" if several else "", pressed.book.name, description, workshops
        )
        for shelf in pressed.shelves
        if shelf.exercises
    )
    return PrintView(shelves, tuple(workshop.problems))


def _shelf(
    shelf: Shelf, root: str, name: str, description: str, workshops: dict[str, Workshop]
) -> PrintShelf:
    groups: dict[str, list[PrintItem]] = {}
    for file, group, words, choice in site_choices(shelf):
        files = []
        what = name, description, chosen(shelf, choice), choice
        prints = made_for(*what, list(workshops.values()))
        for number, ((paper, workshop), printed) in enumerate(zip(workshops.items(), prints, strict=True)):
            address = f"{root}print/{file}{f'-{paper}' if number else ''}.pdf"
            if printed.key:
                fetch = partial(_fetched, workshop, printed.key, what)
            else:
                fetch = partial(bytes, printed.data)
            paper_name = workshop.form.paper.name
            files.append(PrintFile(address, paper_name, printed.pages, len(printed.data), fetch))
        groups.setdefault(group, []).append(PrintItem(words, tuple(files)))
    rows = tuple(PrintGroup(title, tuple(items)) for title, items in groups.items())
    return PrintShelf(shelf.instrument.name, root, rows)


def _fetched(workshop: Workshop, key: str, what: tuple[str, str, Shelf, Choice]) -> bytes:
    """A print from where it is kept, or made once more."""
    return kept_print(workshop, key) or made(*what, workshop).data
