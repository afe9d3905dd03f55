"""The files a site offers for the stand, and the page that lists them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from pathlib import Path
from typing import Any

from ..book.pieces import Shelf
from ..cache.store import PieceCache
from ..engrave.engraved_book import Pressed
from ..engrave.scheduler import Behind, Failure, Ink
from ..jobs.pool import Task
from ..paper.documents import Choice, chosen, kept_print, made, made_for, print_keys, site_choices, texts
from ..paper.page_format import PAPERS, Form
from ..paper.prefetch import Pairs
from ..paper.text import Text
from ..paper.typesetter import Workshop
from .page import Later, Page


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
    """A page of files.

    `problems` says in plain sentences what could not be shown in them, `failed` those that the engraver is to
    blame for.
    """

    shelves: tuple[PrintShelf, ...]
    problems: tuple[str, ...] = ()
    failed: tuple[str, ...] = ()

    @property
    def files(self) -> Iterator[PrintFile]:
        """Every file of the page."""
        for shelf in self.shelves:
            for group in shelf.groups:
                for item in group.items:
                    yield from item.files


class Offering:
    """The files that a site offers: each key, each exercise and the whole book, on every paper."""

    def __init__(self, pressed: Pressed, description: str) -> None:
        own = pressed.book.paper
        papers = own, *(name for name in PAPERS if name != own)
        self._prints = _Prints(pressed, description, papers, tuple(_jobs(pressed)))
        self._workshops = self._prints.workshops(PieceCache())
        self._missing = [job for job in self._prints.jobs if not self._kept(job)]

    def _kept(self, job: Job) -> bool:
        return all(map(self._workshops[0].kept.has, print_keys(*job.what(self._prints), self._workshops)))

    def words(self, jobs: int | None, behind: Behind) -> Ink[Text]:
        """Engrave the words of what is not kept yet."""
        first = self._workshops[0]
        wanted = (words for job in self._missing for words in texts(*job.what(self._prints), first.form))
        return first.written(wanted, jobs, behind)

    def apart(self, *inked: Ink[Any]) -> Pairs:
        """What of pieces or words has still to be taken apart."""
        return self._workshops[0].apart(*inked)

    def ahead(self, most: int) -> list[Task]:
        """Tasks for helpers that are told of the book, `most` at most: to lay out what is not kept yet.

        None where it is not worth it.
        """
        failed = self._prints.pressed.inked.kept_under()[1]
        alike = self._prints.description, self._prints.papers, failed
        return [(lay_out, (tuple(jobs), *alike)) for jobs in _shares(self._missing, most)]

    @property
    def pages(self) -> dict[str, Page]:
        """The pages that list them, by their places in the site's sources: all files, and an instrument's."""
        views = {"print/": Later(lambda: self.view)}
        for number in dict.fromkeys(job.shelf for job in self._prints.jobs):
            if root := self._prints.root(number):
                views[f"{root}print/"] = Later(partial(self._one, root))
        return {f"{place}index.md": ("print.html", "For the stand", view) for place, view in views.items()}

    def _one(self, root: str) -> PrintView:
        return PrintView(tuple(shelf for shelf in self.view.shelves if shelf.root == root))

    @cached_property
    def view(self) -> PrintView:
        """Every file, laid out."""
        groups: dict[int, dict[str, list[PrintItem]]] = {}
        for job in self._prints.jobs:
            item = PrintItem(job.words, tuple(self._files(job)))
            groups.setdefault(job.shelf, {}).setdefault(job.group, []).append(item)
        shelves = self._prints.pressed.shelves
        found = tuple(
            PrintShelf(
                shelves[number].instrument.name,
                self._prints.root(number),
                tuple(PrintGroup(title, tuple(items)) for title, items in rows.items()),
            )
            for number, rows in groups.items()
        )
        workshop = self._workshops[0]
        return PrintView(found, tuple(workshop.problems), tuple(workshop.failed))

    def _files(self, job: Job) -> Iterator[PrintFile]:
        what = job.what(self._prints)
        made_now = made_for(*what, self._workshops)
        papers = self._prints.papers
        for paper, workshop, printed in zip(papers, self._workshops, made_now, strict=True):
            other = "" if paper == papers[0] else f"-{paper}"
            address = f"{self._prints.root(job.shelf)}print/{job.file}{other}.pdf"
            fetch = (
                partial(_fetched, workshop, printed.key, what)
                if printed.key
                else partial(bytes, printed.data)
            )
            yield PrintFile(address, workshop.form.paper.name, printed.pages, len(printed.data), fetch)


_WORTH = 200
"""Pieces to lay out that are worth a helper: some tenths of a second's work."""


def _shares(jobs: Sequence[Job], most: int) -> list[list[Job]]:
    """Jobs in shares of about equal work; none where they are not worth it."""
    count = min(most, sum(job.weight for job in jobs) // _WORTH)
    if not count:
        return []
    shares: list[list[Job]] = [[] for _ in range(count)]
    work = [0] * count
    for job in sorted(jobs, key=lambda job: -job.weight):
        least = work.index(min(work))
        shares[least].append(job)
        work[least] += job.weight
    return shares


@dataclass(frozen=True, slots=True)
class Job:
    """A print that the site offers: its shelf's number, what stands on the page of files, and its content.

    `weight` counts its pieces.
    """

    shelf: int
    file: str
    group: str
    words: str
    choice: Choice
    weight: int

    def what(self, prints: _Prints) -> tuple[str, str, Shelf, Choice]:
        """What `made_for` is asked for."""
        pressed = prints.pressed
        found = chosen(pressed.shelves[self.shelf], self.choice)
        return pressed.book.name, prints.description, found, self.choice


@dataclass(frozen=True, slots=True)
class _Prints:
    """All that it takes to lay out some of a book's prints."""

    pressed: Pressed
    description: str
    papers: tuple[str, ...]
    jobs: tuple[Job, ...]

    def root(self, number: int) -> str:
        """A shelf's address: empty where it is the only one."""
        return self.pressed.root(self.pressed.shelves[number].instrument)

    def workshops(self, kept: PieceCache) -> list[Workshop]:
        """A workshop for each paper."""
        first = Workshop(self.pressed.inked, Form(PAPERS[self.papers[0]]), kept)
        return [first, *(first.on(Form(PAPERS[paper])) for paper in self.papers[1:])]


def _jobs(pressed: Pressed) -> Iterator[Job]:
    """Every print of a site."""
    for number, shelf in enumerate(pressed.shelves):
        for file, group, said, choice in site_choices(shelf):
            yield Job(number, file, group, said, choice, _pieces(shelf, choice))


def _pieces(shelf: Shelf, choice: Choice) -> int:
    pages = (page for _, pages in chosen(shelf, choice).exercises for page in pages)
    return sum(len(placed.parts) for page in pages for placed in page.placed)


def lay_out(
    pressed: Pressed,
    share: tuple[tuple[Job, ...], str, tuple[str, ...], dict[str, Failure]],
    cache: Path,
) -> None:
    """A helper's part: lay out prints, to be found in the cache."""
    jobs, description, papers, failed = share
    for key, failure in failed.items():
        pressed.inked.hold(key, failure)
    prints = _Prints(pressed, description, papers, jobs)
    workshops = prints.workshops(PieceCache(cache))
    for job in jobs:
        for _ in made_for(*job.what(prints), workshops):
            pass


def _fetched(workshop: Workshop, key: str, what: tuple[str, str, Shelf, Choice]) -> bytes:
    """A print from where it is kept, or made once more."""
    return kept_print(workshop, key) or made(*what, workshop).data
