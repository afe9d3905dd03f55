"""`stavewright print`: what to print, and where to."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from builder.book import BookProblem, open_book
from builder.language.faults import nearest
from builder.music.keys import KEY_SLUGS, key_class
from builder.publish.paper.form import PAPERS, Form
from builder.publish.paper.make import Choice, print_choice


class WrongUse(Exception):
    """Raised where the command line asks for something that does not exist."""


def printing(arguments: argparse.Namespace) -> int:
    """Print; 1 where the book has a fault or a piece could not be engraved, 2 where the wish is not clear."""
    try:
        return _printing(arguments)
    except WrongUse as wrong:
        print(wrong, file=sys.stderr)
        return 2


def _printing(arguments: argparse.Namespace) -> int:
    key = _key(arguments.key) if arguments.key else ""
    if not (key or arguments.exercise or arguments.all):
        raise WrongUse("say what to print: --key KEY, --exercise NAME or --all")
    book = open_book(arguments.book)
    slugs = [exercise.slug for exercise in book.exercises]
    if arguments.exercise and arguments.exercise not in slugs:
        raise WrongUse(_unknown("exercise", arguments.exercise, slugs))
    instruments = [instrument.slug for instrument in book.instruments]
    instrument = arguments.instrument or instruments[0]
    if instrument not in instruments:
        raise WrongUse(_unknown("instrument", instrument, instruments))
    out: Path = arguments.out
    if not out.parent.is_dir():
        raise WrongUse(f"{out}: cannot be written: there is no folder {out.parent}")
    if not os.access(out.parent, os.W_OK):
        raise WrongUse(f"{out}: cannot be written: the folder lets nobody write")
    form = Form(
        PAPERS[arguments.paper or book.paper], arguments.staff_size, arguments.booklet, arguments.single_sided
    )
    printed = print_choice(book, Choice(instrument, key, arguments.exercise or ""), form)
    fresh = out.with_name(f".{out.name}.new")
    try:
        fresh.write_bytes(printed.data)
        fresh.replace(out)
    except OSError as error:
        raise BookProblem(f"{out}: cannot be written: {error.strerror}") from None
    print(f"{printed.pages} page{'s' if printed.pages != 1 else ''}: {out}")
    return 0


def _key(words: str) -> str:
    found = key_class(words)
    if found is None:
        raise WrongUse(_unknown("key", words, KEY_SLUGS))
    return KEY_SLUGS[found]


def _unknown(kind: str, word: str, known: list[str] | tuple[str, ...]) -> str:
    guess = nearest(word, known)
    mend = f"did you mean {guess!r}? " if guess else ""
    return f"there is no {kind} {word[:60]!r}; {mend}there are: {', '.join(known)}"
