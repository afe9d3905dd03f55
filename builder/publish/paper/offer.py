"""The files a site offers for the stand, and the page that lists them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial

from builder.engrave.batch import cores
from builder.engrave.cache import PieceCache

from ..helpers import Helpers
from ..plan import Shelf
from ..press import Pressed
from .form import PAPERS, Form
from .make import Choice, chosen, kept_print, made, made_for, print_keys, site_choices
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

    @property
    def pages(self) -> dict[str, PrintView]:
        """Every page of files by its address: the site's, and each instrument's where there are several."""
        own = {f"{shelf.root}print/": PrintView((shelf,)) for shelf in self.shelves if shelf.root}
        return {"print/": self, **own}


class Offering:
    """The files that a site offers: each key, each exercise and the whole book, on every paper.

    Helpers begin to lay out what is not kept yet as soon as this is made; `offer` waits for them.
    """

    def __init__(self, pressed: Pressed, description: str, jobs: int | None = None) -> None:
        """`jobs` is the number of helpers at most, a core each where None."""
        own = pressed.book.paper
        papers = own, *(name for name in PAPERS if name != own)
        self._share = _Share(pressed, description, papers, tuple(_jobs(pressed)))
        self._workshops = self._share.workshops(PieceCache())
        self._workshops[0].ahead(pressed.inked)
        missing = [job for job in self._share.jobs if not self._kept(job)]
        shares = _shares(missing, min(jobs or cores(), cores()))
        self._helpers = Helpers(
            lay_out,
            [replace(self._share, jobs=tuple(share)) for share in shares],
            self._workshops[0].kept,
        )

    def _kept(self, job: Job) -> bool:
        return all(map(self._workshops[0].kept.has, print_keys(*job.what(self._share), self._workshops)))

    def stop(self) -> None:
        """End the helpers."""
        self._helpers.stop()

    def offer(self) -> PrintView:
        """Every file, laid out."""
        self._helpers.wait()
        groups: dict[int, dict[str, list[PrintItem]]] = {}
        for job in self._share.jobs:
            item = PrintItem(job.words, tuple(self._files(job)))
            groups.setdefault(job.shelf, {}).setdefault(job.group, []).append(item)
        shelves = self._share.pressed.shelves
        found = tuple(
            PrintShelf(
                shelves[number].instrument.name,
                self._share.root(number),
                tuple(PrintGroup(title, tuple(items)) for title, items in rows.items()),
            )
            for number, rows in groups.items()
        )
        workshop = self._workshops[0]
        return PrintView(found, tuple(workshop.problems), tuple(workshop.failed))

    def _files(self, job: Job) -> Iterator[PrintFile]:
        what = job.what(self._share)
        made_now = made_for(*what, self._workshops)
        papers = self._share.papers
        for paper, workshop, printed in zip(papers, self._workshops, made_now, strict=True):
            other = "" if paper == papers[0] else f"-{paper}"
            address = f"{self._share.root(job.shelf)}print/{job.file}{other}.pdf"
            fetch = (
                partial(_fetched, workshop, printed.key, what)
                if printed.key
                else partial(bytes, printed.data)
            )
            yield PrintFile(address, workshop.form.paper.name, printed.pages, len(printed.data), fetch)


@contextmanager
def offering(pressed: Pressed, description: str, jobs: int | None = None) -> Iterator[Offering]:
    """The files that a site offers; no helper is left at work at the end."""
    found = Offering(pressed, description, jobs)
    try:
        yield found
    finally:
        found.stop()


_WORTH = 500
"""Pieces to lay out that are worth a helper: about a second's work."""


def _shares(jobs: Sequence[Job], most: int) -> list[list[Job]]:
    """Jobs in shares of about equal work; none where they are not worth it."""
    count = min(most, sum(job.weight for job in jobs) // _WORTH)
    if count < 2:
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

    def what(self, share: _Share) -> tuple[str, str, Shelf, Choice]:
        """What `made_for` is asked for."""
        pressed = share.pressed
        found = chosen(pressed.shelves[self.shelf], self.choice)
        return pressed.book.name, share.description, found, self.choice


@dataclass(frozen=True, slots=True)
class _Share:
    """All that it takes to lay out some of a book's prints, as plain values."""

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


def lay_out(share: _Share, kept: PieceCache) -> None:
    """A helper's part: lay out prints, to be found in the cache."""
    workshops = share.workshops(kept)
    for job in share.jobs:
        for _ in made_for(*job.what(share), workshops):
            pass


def _fetched(workshop: Workshop, key: str, what: tuple[str, str, Shelf, Choice]) -> bytes:
    """A print from where it is kept, or made once more."""
    return kept_print(workshop, key) or made(*what, workshop).data
