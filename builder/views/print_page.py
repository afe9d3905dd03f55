"""The PDFs that a site offers, and the page that lists them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence, Set
from dataclasses import dataclass
from functools import cached_property, partial
from pathlib import Path
from typing import Any

from ..book.addresses import PRINT
from ..book.durations import BookTimes
from ..book.edition import ExerciseEdition
from ..book.pieces import InstrumentBook
from ..cache.memo import memo_key
from ..cache.store import CacheStore
from ..engrave.engraved_book import EngravedBook
from ..engrave.engravings import Engravings
from ..engrave.piece import Failure
from ..engrave.processes.background import BackgroundThread
from ..engrave.processes.scheduler import Pool
from ..jobs.pool import Task
from ..music.exercise import exercise_fingerprint
from ..paper.page_format import PAPERS, PageFormat
from ..paper.prefetch import Pairs
from ..paper.text import Text
from ..paper.typesetter import Typesetter
from ..prints.choice import PrintChoice, chosen, site_choices
from ..prints.documents import (
    PrintRequest,
    compose_prints,
    compose_prints_for,
    kept_print,
    order_of,
    print_keys,
    texts,
)
from ..prints.edition_layouts import editions_known
from ..translation.said import term
from .page import Page


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
    """Something to print, on each paper that the site offers, the book's own first."""

    words: str
    files: tuple[PrintFile, ...]


@dataclass(frozen=True, slots=True)
class PrintGroup:
    """Items of one sort below a heading."""

    title: str
    items: tuple[PrintItem, ...]


@dataclass(frozen=True, slots=True)
class PrintSection:
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

    sections: tuple[PrintSection, ...]
    problems: tuple[str, ...] = ()
    failed: tuple[str, ...] = ()

    @property
    def files(self) -> Iterator[PrintFile]:
        """Every file of the page."""
        for section in self.sections:
            for group in section.groups:
                for item in group.items:
                    yield from item.files


KeysAndFailures = tuple[dict[str, str], dict[str, Failure]]
"""As `Engravings.keys_and_failures` gives them."""


class PrintCatalogue:
    """The files that a site offers: each key, each exercise and the whole book, on its papers."""

    def __init__(self, engraved_book: EngravedBook, editions: Engravings[str], description: str) -> None:
        own, offered = engraved_book.book.paper, engraved_book.book.papers
        papers = own, *(name for name in PAPERS if name != own and name in offered)
        self._prints = _Prints(engraved_book, editions, description, papers, tuple(_jobs(engraved_book)))
        self._store = CacheStore()
        self._typesetters = self._prints.typesetters(self._store)
        self._new_notes: list[str] = []
        self._keys = {job: self._keys_of(job) for job in self._prints.jobs}
        self._missing = [job for job, keys in self._keys.items() if not all(map(self._store.has, keys))]

    def _keys_of(self, job: PrintJob) -> tuple[str, ...]:
        return tuple(print_keys(job.request(self._prints), self._typesetters[job.choice.is_bound]))

    def engrave_words(self, pool: Pool | None, behind: BackgroundThread) -> Engravings[Text]:
        """Engrave the words of what is not kept yet; `note_words` is for afterwards."""
        first = self._typesetters[False][0]
        notes = self._prints.notes_of_words() if self._missing else {}
        noted = {place for place, note in notes.items() if self._store.has(note)}
        self._new_notes = [note for place, note in notes.items() if place not in noted]
        wanted = (words for job in self._missing for words in self._words(job, noted))
        return first.written(wanted, pool, behind)

    def _words(self, job: PrintJob, noted: Set[tuple[int, str]]) -> Iterator[Text]:
        request = job.request(self._prints)
        form = self._typesetters[False][0].form
        return texts(request, form, lambda exercise: (job.instrument_book, exercise.slug) in noted)

    def note_words(self, words: Engravings[Text]) -> None:
        """Note that the words of all exercises are engraved, as `engrave_words` gave them."""
        if not words.failures:
            for note in self._new_notes:
                self._store.put(note, b"")

    def not_extracted(self, *engravings: Engravings[Any]) -> Pairs:
        """What of pieces or words has still to be taken apart."""
        return self._typesetters[False][0].extract(*engravings, self._prints.editions)

    def layout_tasks(self, most: int) -> list[Task]:
        """Tasks for helpers that are told of the book, `most` at most: to lay out what is not kept yet.

        None where it is not worth it.
        """
        failed = self._prints.engraved_book.engravings.keys_and_failures()[1]
        editions = self._prints.editions.keys_and_failures()
        alike = self._prints.description, self._prints.papers, failed, editions
        shares = _shares(self._missing, most)
        return [(lay_out_prints, ({job: self._keys[job] for job in jobs}, *alike)) for jobs in shares]

    @property
    def pages(self) -> dict[str, Page]:
        """The pages that list them, by their places in the site's sources: all files, and an instrument's."""
        views: dict[str, Callable[[], PrintView]] = {PRINT: lambda: self.view}
        for number in dict.fromkeys(job.instrument_book for job in self._prints.jobs):
            if root := self._prints.root(number):
                views[f"{root}{PRINT}"] = partial(self._one, root)
        return {f"{place}index.md": Page("print.html", term("Print"), view) for place, view in views.items()}

    def _one(self, root: str) -> PrintView:
        return PrintView(tuple(section for section in self.view.sections if section.root == root))

    @cached_property
    def view(self) -> PrintView:
        """Every file, laid out."""
        groups: dict[int, dict[str, list[PrintItem]]] = {}
        for job in self._prints.jobs:
            item = PrintItem(job.words, tuple(self._files(job)))
            groups.setdefault(job.instrument_book, {}).setdefault(job.group, []).append(item)
        instrument_books = self._prints.engraved_book.instrument_books
        found = tuple(
            PrintSection(
                term(instrument_books[number].instrument.name),
                self._prints.root(number),
                tuple(PrintGroup(title, tuple(items)) for title, items in rows.items()),
            )
            for number, rows in groups.items()
        )
        firsts = [typesetters[0] for typesetters in self._typesetters.values()]
        problems = tuple(problem for first in firsts for problem in first.problems)
        return PrintView(found, problems, tuple(failed for first in firsts for failed in first.failed))

    def _files(self, job: PrintJob) -> Iterator[PrintFile]:
        request = job.request(self._prints)
        typesetters = self._typesetters[job.choice.is_bound]
        made_now = compose_prints_for(request, typesetters, self._keys[job])
        papers = self._prints.papers
        for paper, typesetter, printed in zip(papers, typesetters, made_now, strict=True):
            other = "" if paper == papers[0] else f"-{paper}"
            address = f"{self._prints.root(job.instrument_book)}{PRINT}{job.file}{other}.pdf"
            fetch = (
                partial(_fetched, typesetter, printed.key, request)
                if printed.key
                else partial(bytes, printed.data)
            )
            yield PrintFile(address, typesetter.form.paper.name, printed.pages, len(printed.data), fetch)


_WORTH = 200
"""Pieces to lay out that are worth a helper: some tenths of a second's work."""


def _shares(jobs: Sequence[PrintJob], most: int) -> list[list[PrintJob]]:
    """Jobs in shares of about equal work; none where they are not worth it."""
    count = min(most, sum(job.weight for job in jobs) // _WORTH)
    if not count:
        return []
    shares: list[list[PrintJob]] = [[] for _ in range(count)]
    work = [0] * count
    for job in sorted(jobs, key=lambda job: -job.weight):
        least = work.index(min(work))
        shares[least].append(job)
        work[least] += job.weight
    return shares


@dataclass(frozen=True, slots=True)
class PrintJob:
    """A print that the site offers: the number of its instrument's book, its words on the page of files, and
    its content.

    `weight` counts its pieces.
    """

    instrument_book: int
    file: str
    group: str
    words: str
    choice: PrintChoice
    weight: int

    def request(self, prints: _Prints) -> PrintRequest:
        """What is to be laid out."""
        engraved_book = prints.engraved_book
        found = chosen(engraved_book.instrument_books[self.instrument_book], self.choice)
        book = engraved_book.book
        order = order_of(book)
        made = prints.editions_made(self.instrument_book)
        return PrintRequest(
            book.name, prints.description, found, self.choice, order, book.translation, prints.times, made
        )


@dataclass(frozen=True)
class _Prints:
    """All that it takes to lay out some of a book's prints; `editions` is the music of the book edition."""

    engraved_book: EngravedBook
    editions: Engravings[str]
    description: str
    papers: tuple[str, ...]
    jobs: tuple[PrintJob, ...]

    @cached_property
    def times(self) -> BookTimes:
        """The times of the book's pieces, reckoned once for all prints."""
        return BookTimes(self.engraved_book.book.breath_seconds, CacheStore())

    @cached_property
    def _made(self) -> dict[int, dict[str, ExerciseEdition]]:
        return {}

    def editions_made(self, number: int) -> dict[str, ExerciseEdition]:
        """The editions of an instrument's book that its prints have made, for those to come."""
        return self._made.setdefault(number, {})

    def root(self, number: int) -> str:
        """The address of an instrument's book: empty where it is the only one."""
        return self.engraved_book.root(self.engraved_book.instrument_books[number].instrument)

    def notes_of_words(self) -> dict[tuple[int, str], str]:
        """Where it is noted that an exercise's words are engraved, by its instrument's book and its name."""
        alike = repr(self.times.limit), repr(self.papers), self.engraved_book.book.language
        return {
            (number, exercise.slug): memo_key(
                "words", (exercise_fingerprint(exercise), repr(each.instrument), *alike)
            )
            for number, each in enumerate(self.engraved_book.instrument_books)
            for exercise, _ in each.exercises
        }

    def typesetters(self, kept: CacheStore) -> dict[bool, list[Typesetter]]:
        """A typesetter for each paper, bound as the book edition is or not."""
        found = {}
        for bound, engravings in ((False, self.engraved_book.engravings), (True, self.editions)):
            first, *others = (PageFormat(PAPERS[paper], bound=bound) for paper in self.papers)
            typesetter = Typesetter(engravings, first, kept)
            found[bound] = [typesetter, *map(typesetter.on, others)]
        return found


def _jobs(engraved_book: EngravedBook) -> Iterator[PrintJob]:
    """Every print of a site."""
    for number, instrument_book in enumerate(engraved_book.instrument_books):
        for file, group, said, choice in site_choices(instrument_book):
            yield PrintJob(number, file, group, said, choice, _pieces(instrument_book, choice))


def _pieces(instrument_book: InstrumentBook, choice: PrintChoice) -> int:
    pages = (page for _, pages in chosen(instrument_book, choice).exercises for page in pages)
    return sum(len(placed.parts) for page in pages for placed in page.placed)


def lay_out_prints(
    engraved_book: EngravedBook,
    share: tuple[dict[PrintJob, tuple[str, ...]], str, tuple[str, ...], dict[str, Failure], KeysAndFailures],
    cache: Path,
) -> None:
    """A helper's part: lay out prints, to be found in the cache."""
    jobs, description, papers, failed, editions = share
    for key, failure in failed.items():
        engraved_book.engravings.store(key, failure)
    store = CacheStore(cache)
    music = editions_known(engraved_book.instrument_books, *editions, store)
    prints = _Prints(engraved_book, music, description, papers, tuple(jobs))
    typesetters = prints.typesetters(store)
    for job, keys in jobs.items():
        for _ in compose_prints_for(job.request(prints), typesetters[job.choice.is_bound], keys):
            pass


def _fetched(typesetter: Typesetter, key: str, request: PrintRequest) -> bytes:
    """A print from where it is kept, or made once more."""
    return kept_print(typesetter, key) or compose_prints(request, typesetter).data
