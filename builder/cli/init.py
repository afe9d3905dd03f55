"""`stavewright init`: the files of a new book, in a folder where none of them is."""

from __future__ import annotations

import json
import os
import stat
import sys
from collections.abc import Callable
from contextlib import suppress
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path, PurePosixPath
from typing import TypeVar

from .. import __version__
from ..book.new_book import DEFAULT_TITLE, EXERCISE, TEMPLATES, WORKFLOW, NewBook, new_book_files, tidy_title
from ..book.options import PAPERS
from ..book.read import BookProblem
from ..engrave.processes.finding import look_for_engraver
from ..engrave.processes.lilypond import EngraverMissing
from ..jobs.signals import signals_held
from ..music.winds.instrument import Instrument
from ..music.winds.instruments import FLUTE, INSTRUMENTS
from ..visible import visible
from .saying import say, short
from .selectors import WrongUse, paper_wish, split_lists, unknown

_USUAL = {"clarinet": "clarinet-b-flat"}
"""A word that names several instruments, and the one that players mean by it (common practice, no source)."""

_HERE = "./"
"""How a file of the book's folder begins for pip."""

_NEXT = (
    ("stavewright serve", "shows the book at 127.0.0.1:8000, and anew when you save a file"),
    ("stavewright new evening-bell", "writes another exercise to start from"),
    ("stavewright print --all -o book.pdf", "prints the book"),
)
"""The commands to go on with, and what each does."""

_T = TypeVar("_T")


def init(folder: Path, title: str | None, instruments: str | None, paper: str | None) -> int:
    """Begin a book. What is None is asked for on a terminal; elsewhere it is a default.

    Returns 2 where a wish is not clear or one of the files is there, 1 where they cannot be written.
    """
    try:
        # All that can be wrong already is told before the first question.
        known_title = None if title is None else _title(title)
        known_instruments = None if instruments is None else _instruments(instruments)
        known_paper = None if paper is None else _paper(paper)
        _check_free(folder)
        book = NewBook(
            known_title or _answer("Title", DEFAULT_TITLE, _title),
            known_instruments or _answer("Instruments, with commas between", FLUTE.slug, _instruments),
            known_paper or _answer(f"Paper, {' or '.join(PAPERS)}", PAPERS[0], _paper),
            _program(),
        )
    except WrongUse as wrong:
        say(wrong, file=sys.stderr)
        return 2
    except EOFError:
        say("There was no answer, so nothing is written.", file=sys.stderr)
        return 2
    _write(folder, new_book_files(book))
    _tell(folder, book)
    try:
        look_for_engraver()
    except EngraverMissing as problem:
        say(f"The book cannot be engraved yet: {problem}", file=sys.stderr)
    return 0


def _title(text: str) -> str:
    try:
        return tidy_title(text)
    except ValueError as error:
        raise WrongUse(str(error)) from None


def _instruments(text: str) -> tuple[Instrument, ...]:
    """The instruments of a list with commas, by their addresses or their names. Raises WrongUse."""
    by_word = {each.name.lower(): each for each in INSTRUMENTS.values()}
    by_word |= {word: INSTRUMENTS[slug] for word, slug in _USUAL.items()} | INSTRUMENTS
    found = []
    for word in split_lists([text]):
        if word.lower() not in by_word:
            raise WrongUse(unknown("instrument", word, list(INSTRUMENTS)))
        found.append(by_word[word.lower()])
    if not found:
        raise WrongUse("no instrument is named; name one or several, such as flute,clarinet-b-flat")
    return tuple(dict.fromkeys(found))


def _paper(text: str) -> str:
    paper = paper_wish(text.strip())
    if not paper:
        raise WrongUse(f"no paper is named; write {' or '.join(PAPERS)}")
    return paper


def _answer(question: str, default: str, read: Callable[[str], _T]) -> _T:
    """What a user answers on the terminal, asked until it can be read; without a terminal, the default.

    Raises EOFError where there is no answer.
    """
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        return read(default)
    while True:
        say(f"{question} [{default}]:")
        try:
            line = sys.stdin.readline()
            if not line:
                raise EOFError
            return read(line.strip() or default)
        except UnicodeDecodeError:
            say("This is not UTF-8 text; type it again.", file=sys.stderr)
        except WrongUse as wrong:
            say(wrong, file=sys.stderr)


def _check_free(folder: Path) -> None:
    """Raises WrongUse where the folder is none, or holds something at the place of a file of a new book."""
    try:
        if not stat.S_ISDIR(folder.stat().st_mode):
            raise WrongUse(f"{short(folder)}: this is a file; name a folder")
    except FileNotFoundError:
        if folder.is_symlink():
            raise WrongUse(f"{short(folder)}: this link leads nowhere; name a folder") from None
        return
    except OSError as error:
        raise WrongUse(f"{short(folder)}: this cannot be a folder: {error.strerror}") from None
    try:
        there = [path for path in reversed(TEMPLATES) if os.path.lexists(folder / path)]
        in_the_way = sorted({path for file in TEMPLATES for path in _in_the_way(folder, file)})
    except OSError as error:
        raise WrongUse(f"{short(folder)}: cannot be read: {error.strerror}") from None
    if in_the_way:
        mend = "folders must be here, not files or links; move them away"
        raise WrongUse(f"{short(folder)}: {', '.join(in_the_way)}: {mend}")
    if there:
        mend = "nothing is overwritten; move them away, or name another folder"
        raise WrongUse(f"{short(folder)}: already there: {', '.join(there)}; {mend}")


def _in_the_way(folder: Path, file: str) -> list[str]:
    """What stands where the folders of a file must be; a link may lead out of the book."""
    above = [str(path) for path in PurePosixPath(file).parents if path.name]
    return [
        path
        for path in above
        if os.path.lexists(folder / path) and not stat.S_ISDIR((folder / path).lstat().st_mode)
    ]


def _program() -> str:
    """What pip has to install for this version: from where this copy came, by PEP 610.

    From an index it is a release, from a host an address or a commit. A copy from this machine is none of
    these; for it, it is a wheel in the book's folder. No other program of that name can then take its place.
    """
    try:
        told = json.loads(distribution("stavewright").read_text("direct_url.json") or "{}")
        address, commit = str(told.get("url", "")), told.get("vcs_info", {}).get("commit_id", "")
    except (PackageNotFoundError, ValueError, AttributeError):
        address, commit = "file:", ""
    if not address:
        return f"stavewright=={__version__}"
    if address.startswith("https://"):
        return f"stavewright @ git+{address}@{commit}" if commit else f"stavewright @ {address}"
    return f"{_HERE}stavewright-{__version__}-py3-none-any.whl"


def _write(folder: Path, files: dict[str, str]) -> None:
    """Write the files and their folders, or none of them. Raises BookProblem."""
    made: list[Path] = []
    path = folder
    try:
        for name, text in files.items():
            path = folder / name
            _make_folders(path.parent, made)
            with signals_held(), path.open("x", encoding="utf-8", newline="\n") as file:
                made.append(path)
                file.write(text)
    except BaseException as error:
        for each in reversed(made):
            with suppress(OSError):
                each.rmdir() if each.is_dir() else each.unlink()
        if isinstance(error, OSError):
            raise BookProblem(f"{short(path)}: cannot be written: {error.strerror}") from None
        raise


def _make_folders(folder: Path, made: list[Path]) -> None:
    """Make a folder and those above it, and note which were not there, from the top."""
    missing = []
    while not os.path.lexists(folder):
        missing.append(folder)
        folder = folder.parent
    for path in reversed(missing):
        with signals_held():
            path.mkdir()
            made.append(path)


def _tell(folder: Path, book: NewBook) -> None:
    players = ", ".join(each.said for each in book.instruments)
    say(f"{visible(folder.absolute())}: a new book, {book.title}, for {players}, on paper {book.paper}.")
    for name in reversed(TEMPLATES):
        say(f"  {name}")
    say(f"In {EXERCISE}, write your name and terms into the line `rights:`; the preface is yours to write.")
    if book.program.startswith(_HERE):
        wheel = book.program.removeprefix(_HERE)
        say(f"To publish the book, put {wheel} into it; the remarks in {WORKFLOW} say how.")
    say("Next:" if folder.absolute() == Path.cwd() else f"Next, in the folder {visible(folder)}:")
    width = max(len(command) for command, _ in _NEXT)
    for command, does in _NEXT:
        say(f"  {command:{width}}  {does}")
