"""The files a site offers for the stand, and the page that lists them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ..press import Pressed
from .form import PAPERS, Form
from .make import lettering, made, of_key, site_choices
from .study import Press


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

    @property
    def files(self) -> Iterable[PrintFile]:
        """Every file of the page."""
        return (file for shelf in self.shelves for group in shelf.groups for file in group.files)


def offer(pressed: Pressed) -> PrintView:
    """Lay out every file the site offers: each key, each exercise and the whole book."""
    paper = PAPERS[pressed.book.paper]
    press = Press(pressed.inked, Form(paper), lettering)
    found = []
    for shelf in pressed.shelves:
        root = f"{shelf.instrument.slug}/" if len(pressed.shelves) > 1 else ""
        groups: dict[str, list[PrintFile]] = {}
        for name, group, words, choice in site_choices(shelf):
            wanted = of_key(shelf, choice)
            printed = made(pressed.book.name, wanted, choice, press)
            file = PrintFile(f"{root}print/{name}.pdf", words, printed.pages, printed.data)
            groups.setdefault(group, []).append(file)
        rows = tuple(PrintGroup(title, tuple(files)) for title, files in groups.items())
        found.append(PrintShelf(shelf.instrument.name, root, paper.name, rows))
    return PrintView(tuple(found))
