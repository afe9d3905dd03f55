"""`stavewright check`: every fault of a book, and where it has none, what else there is to know."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from ..book.book_language import locale_remark
from ..book.config import Config
from ..book.durations import long_breaths
from ..book.read import Book, BookProblem
from ..language.faults import BookFaults, Fault
from ..language.namings import Naming
from ..music.exercise import Exercise
from ..music.settings.moves import moves_words
from ..music.settings.transpositions import settings_of
from ..plurals import count_of
from ..site.settings import open_publishable
from ..translation.catalog import missing
from ..views.tuning_table import offer_words
from ..visible import shown, visible
from .saying import say, say_json


@dataclass(frozen=True, slots=True)
class Remark:
    """Something to know of an exercise that is no fault.

    `setting` names its key, and `ways` its ways of playing, where not all of it is meant. `line` and `column`
    are 0 where it has no place in the file.
    """

    exercise: str
    file: str
    says: str
    setting: str = ""
    ways: str = ""
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        if self.line:
            return f"{visible(self.file)}:{self.line}:{self.column}: remark: {self.says}"
        setting = f", {self.setting}" if self.setting else ""
        ways = f" ({self.ways})" if self.ways else ""
        return f"{self.exercise}{setting}{ways}: {self.says}"

    def retold(self, naming: Naming) -> Remark:
        """The same with the names of notes that the book has."""
        return replace(self, says=naming.retold(self.says), setting=naming.retold(self.setting))


def check(folder: Path, with_coverage: bool, as_json: bool) -> int:
    """Say what is to be known of a book. Raises BookProblem or BookFaults, or as JSON returns 1."""
    if as_json:
        return _check_for_scripts(folder, with_coverage)
    config, book = open_publishable(folder)
    for sentence in language_remarks(config, book):
        say(sentence)
    for remark in remarks(book):
        say(remark.retold(book.naming))
    say(f"{count_of(len(book.exercises), 'exercise')}, no faults.")
    if with_coverage:
        from .daily import tell_coverage

        tell_coverage(book)
    return 0


def _check_for_scripts(folder: Path, with_coverage: bool) -> int:
    """The same as one JSON object, whatever the book is."""
    told: dict[str, Any] = {"good": False, "problem": "", "exercises": None, "faults": [], "remarks": []}
    told["language"], told["untranslated"] = "", []
    try:
        _, book = open_publishable(folder)
    except BookFaults as found:
        told["faults"] = [_fault(each) for each in found.faults]
    except BookProblem as problem:
        told["problem"] = str(problem)
    else:
        told |= {"good": True, "exercises": len(book.exercises)}
        told |= {"language": book.language, "untranslated": list(missing(book.language))}
        told["remarks"] = [asdict(each) for each in remarks(book)]
        if with_coverage:
            from .daily import coverage_json

            told["coverage"] = coverage_json(book)
    told["counts"] = {"faults": len(told["faults"]), "remarks": len(told["remarks"])}
    say_json(told)
    return 0 if told["good"] else 1


def _fault(fault: Fault) -> dict[str, Any]:
    found = asdict(fault)
    found["source"] = found.pop("text")
    return found


def language_remarks(config: Config, book: Book) -> Iterator[str]:
    """What of the book's own words stays English, though `theme.locale` names another language."""
    if remark := locale_remark(config):
        yield remark
    for message in missing(book.language):
        yield f"theme: locale: the catalog {shown(book.language)} lacks {shown(message)}, so it stays English"


def remarks(book: Book) -> Iterator[Remark]:
    """What stays out of the site, what was moved or lies out of range, drones, and long breaths."""
    exercises = {each.slug: each for each in book.exercises}

    def remark(slug: str, says: str) -> Remark:
        return Remark(slug, exercises[slug].file, says)

    withheld = [each.slug for each in book.exercises if not each.publishable]
    for slug, sentence in zip(withheld, book.withheld, strict=True):
        yield remark(slug, sentence.removeprefix(f"{slug}: "))
    for exercise in book.exercises:
        yield from _placing(book, exercise)
        if offer := offer_words(exercise):
            yield remark(exercise.slug, f"over its drone, {offer}.")
    for slug, ways, sentence in long_breaths(book):
        yield Remark(slug, exercises[slug].file, sentence, ways=ways)


def _placing(book: Book, exercise: Exercise) -> Iterator[Remark]:
    for instrument in book.instruments:
        found = settings_of(exercise, instrument)
        if (moves := moves_words(found)) and (at := exercise.travel_at):
            yield Remark(exercise.slug, exercise.file, moves, line=at.line, column=at.column)
        for setting in found:
            if not setting.fits:
                where = f"{instrument.said}, " if len(book.instruments) > 1 else ""
                key = f"{where}{setting.called.name}"
                yield Remark(exercise.slug, exercise.file, setting.remarks[-1], setting=key)
