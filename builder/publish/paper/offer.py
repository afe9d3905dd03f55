"""The files a site offers for the stand, and the page that lists them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from builder.engrave.cache import PieceCache

from ..press import Pressed
from .form import PAPERS, Form
from .make import chosen, made, site_choices
from .workshop import Workshop


@dataclass(frozen=True, slots=True)
class PrintFile:
    """A PDF of the site: its address from the site's root, its words, its pages and its size."""

    address: str
    words: str
    pages: int
    data: bytes

    @property
    def size(self) -> str:
        """`84 KB` or `1.2 MB`."""
        kilobytes = len(self.data) / 1000
        return f"{kilobytes:.0f} KB" if kilobytes < 1000 else f"{kilobytes / 1000:.1f} MB"


@dataclass(frozen=True, slots=True)
class PrintGroup:
    """Files of one sort below a heading."""

    title: str
    files: tuple[PrintFile, ...]


@dataclass(frozen=True, slots=True)
class PrintShelf:
    """One instrument's files; `root` is its address, empty where the site has one instrument."""

    instrument: str
    root: str
    paper: str
    groups: tuple[PrintGroup, ...]


@dataclass(frozen=True, slots=True)
class PrintView:
    """The page of all files."""

    shelves: tuple[PrintShelf, ...]
    problems: tuple[str, ...] = ()

    @property
    def files(self) -> Iterable[PrintFile]:
        """Every file of the page."""
        return (file for shelf in self.shelves for group in shelf.groups for file in group.files)


def offer(pressed: Pressed, description: str) -> PrintView:
    """Lay out every file the site offers: each key, each exercise and the whole book."""
    form = Form(PAPERS[pressed.book.paper])
    return _offered(pressed, description, Workshop(pressed.inked, form, PieceCache()))


def _offered(pressed: Pressed, description: str, workshop: Workshop) -> PrintView:
    found = []
    for shelf in pressed.shelves:
        root = f"{shelf.instrument.slug}/" if len(pressed.shelves) > 1 else ""
        groups: dict[str, list[PrintFile]] = {}
        for name, group, words, choice in site_choices(shelf):
            printed = made(pressed.book.name, description, chosen(shelf, choice), choice, workshop)
            file = PrintFile(f"{root}print/{name}.pdf", words, printed.pages, printed.data)
            groups.setdefault(group, []).append(file)
        rows = tuple(PrintGroup(title, tuple(files)) for title, files in groups.items())
        found.append(PrintShelf(shelf.instrument.name, root, workshop.form.paper.name, rows))
    return PrintView(tuple(found), tuple(workshop.problems))
