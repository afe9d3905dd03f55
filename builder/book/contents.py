"""The order of a book, as its author gives it in mkdocs.yml:

contents:
  - preface.md              a page of the author's own, from the folder of pages (docs_dir)
  - slow-tide               an exercise, by the name of its file
  - Away from home:         a chapter: its title, and its exercises
      - widening-gate
      - far-shore

Exercises that it does not name follow at the end, sorted by their titles.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

from ..language.faults import did_you_mean, shown
from ..language.read import SUFFIX
from .config import Steps
from .own_pages import HOME_PAGE, PAGE_SUFFIX, OwnPage
from .players import PlayersProblem

OPTION = "contents"
"""The plugin's option."""

REST = "Further exercises"
"""The chapter of the exercises that no chapter names, in a book that has chapters."""

_WRITE = "write one entry a line, each after a dash: an exercise, a page such as `preface.md`, or a chapter"
_CHAPTER = "write a chapter as in `- Long tones: [slow-tide, far-shore]`"


@dataclass(frozen=True, slots=True)
class Named:
    """An exercise or a page that the list names; `steps` lead to the name from the options."""

    name: str
    steps: Steps

    @property
    def is_page(self) -> bool:
        """Whether it names a page of the author's."""
        return self.name.endswith(PAGE_SUFFIX)


@dataclass(frozen=True, slots=True)
class NamedChapter:
    """A chapter that the list names."""

    title: str
    exercises: tuple[Named, ...]


Entries: TypeAlias = tuple[Named | NamedChapter, ...]
"""What the list names, in its order."""


@dataclass(frozen=True, slots=True)
class Section:
    """Exercises that follow each other, by their names: a chapter, or those between two without a title."""

    title: str
    exercises: tuple[str, ...]


Contents: TypeAlias = tuple[Section | OwnPage, ...]
"""A whole book in its order; empty where the author gives none."""


def read_contents(given: Any) -> tuple[Entries, list[PlayersProblem]]:
    """The list, and every problem that can be seen in it alone; what has a problem is left out."""
    if given is None:
        return (), []
    if not isinstance(given, list):
        what = f"{OPTION}: this is not a list"
        return (), [PlayersProblem((OPTION,), what, _WRITE)]
    reader = _Reader()
    return tuple(reader.entries(given)), reader.problems


class _Reader:
    """Reads a list, and notes its problems."""

    def __init__(self) -> None:
        self.problems: list[PlayersProblem] = []
        self._names: set[str] = set()
        self._titles: set[str] = set()

    def entries(self, given: list[Any]) -> Iterator[Named | NamedChapter]:
        """Each entry that is right."""
        for number, each in enumerate(given):
            steps = (OPTION, number)
            if isinstance(each, Mapping):
                yield from self._chapter(each, steps)
            elif found := self._named(each, steps):
                yield found

    def _note(self, steps: Steps, what: str, mend: str, at_name: bool = False) -> None:
        self.problems.append(PlayersProblem(steps, f"{OPTION}: {what}", mend, at_name))

    def _named(self, name: Any, steps: Steps) -> Named | None:
        if isinstance(name, list) or name is None:
            self._note(steps, "this names neither an exercise nor a page", _WRITE)
        elif not isinstance(name, str):
            self._note(steps, f"{shown(str(name))} is not text", "write it in quotation marks")
        elif name == HOME_PAGE:
            what = f"{HOME_PAGE} is shown on the home page already"
            self._note(steps, what, "leave it out, or give the page another name")
        elif name in self._names:
            self._note(steps, f"{shown(name)} is named twice", "name it once")
        else:
            self._names.add(name)
            return Named(name, steps)
        return None

    def _chapter(self, given: Mapping[Any, Any], steps: Steps) -> Iterator[NamedChapter]:
        if len(given) != 1:
            self._note(steps, "a chapter has one title here", f"{_CHAPTER}, each after a dash of its own")
            return
        ((title, listed),) = given.items()
        steps = (*steps, str(title))
        if not isinstance(title, str) or not title.strip():
            said = f"the chapter's title {shown(str(title))} is not text"
            self._note(steps, said, "write it in quotation marks", at_name=True)
        elif title.casefold() in self._titles:
            said = f"there are two chapters {shown(title)}"
            self._note(steps, said, "give one of them another title, or join them", at_name=True)
        elif not isinstance(listed, list) or not listed:
            said = f"the chapter {shown(title)} lists no exercises"
            self._note(steps, said, _CHAPTER, at_name=True)
        else:
            self._titles.add(title.casefold())
            yield NamedChapter(title, tuple(self._exercises(listed, steps)))

    def _exercises(self, listed: list[Any], steps: Steps) -> Iterator[Named]:
        for number, each in enumerate(listed):
            there = (*steps, number)
            if isinstance(each, Mapping):
                self._note(there, "a chapter lies within a chapter", "set it as far out as the other")
            elif isinstance(each, str) and each.endswith(PAGE_SUFFIX):
                what = f"the page {shown(each)} stands within a chapter, which holds exercises alone"
                self._note(there, what, "name it before the chapter or after it")
            elif found := self._named(each, there):
                yield found


def absent(entries: Entries, slugs: Collection[str], pages: Collection[str]) -> list[PlayersProblem]:
    """A problem for each name that the book has not. `pages` are files of the folder of pages."""
    problems = []
    for each in _every(entries):
        if each.name in (pages if each.is_page else slugs):
            continue
        if each.is_page:
            what = f"{OPTION}: there is no page {shown(each.name)}"
            mend = did_you_mean(each.name, pages, "put it into the folder that `docs_dir` names")
        else:
            what = f"{OPTION}: there is no exercise {shown(each.name)}"
            mend = f"write the name of its file without {SUFFIX}"
            mend = did_you_mean(each.name, [*slugs, *pages], mend)
        problems.append(PlayersProblem(each.steps, what, mend))
    return problems


def page_names(entries: Entries) -> tuple[str, ...]:
    """The pages that the list names."""
    return tuple(each.name for each in _every(entries) if each.is_page)


def _every(entries: Entries) -> Iterator[Named]:
    for entry in entries:
        yield from entry.exercises if isinstance(entry, NamedChapter) else (entry,)


def arrange(entries: Entries, slugs: Iterable[str], pages: Mapping[str, OwnPage]) -> Contents:
    """The whole book in the order of the list. `slugs` are all exercises, in the order for the rest.

    It is empty where the list is. Raises KeyError for a page that is not among `pages`.
    """
    found: list[Section | OwnPage] = []
    named: set[str] = set()
    for entry in entries:
        if isinstance(entry, NamedChapter):
            section = Section(entry.title, tuple(each.name for each in entry.exercises))
            found.append(section)
            named.update(section.exercises)
        elif entry.is_page:
            found.append(pages[entry.name])
        else:
            _append(found, (entry.name,))
            named.add(entry.name)
    rest = tuple(slug for slug in slugs if slug not in named)
    if not entries or not rest:
        return tuple(found)
    if any(isinstance(each, Section) and each.title for each in found):
        found.append(Section(REST, rest))
    else:
        _append(found, rest)
    return tuple(found)


def _append(found: list[Section | OwnPage], exercises: tuple[str, ...]) -> None:
    """Set exercises without a title behind what there is, in one section with those before."""
    last = found[-1] if found else None
    if isinstance(last, Section) and not last.title:
        found[-1] = Section("", (*last.exercises, *exercises))
    else:
        found.append(Section("", exercises))


def exercises_in(contents: Contents) -> tuple[str, ...]:
    """Every exercise's name, in the order of the book."""
    return tuple(slug for each in contents if isinstance(each, Section) for slug in each.exercises)


def with_only(contents: Contents, slugs: Collection[str]) -> Contents:
    """The order with only these exercises, and without chapters that have none of them."""
    kept: list[Section | OwnPage] = []
    for each in contents:
        if isinstance(each, OwnPage):
            kept.append(each)
        elif left := tuple(slug for slug in each.exercises if slug in slugs):
            kept.append(Section(each.title, left))
    return tuple(kept)
