"""`stavewright new`: an exercise that is valid as it stands, with comments to start from or with a melody."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path

from ..book.book_language import language_of
from ..book.options import read_options
from ..book.plain_files import read_plain_file
from ..book.read import BookProblem, read_config
from ..bringing_in.bring_in import NoSuchPart, ReaderMissing, bring_in
from ..bringing_in.tune_file import Unreadable
from ..language.fields import MAX_BYTES
from ..language.read import SUFFIX, read, slug_of
from ..music.winds.instruments import INSTRUMENTS
from ..visible import shown, visible
from .saying import say, short

_STARTER = """\
# {title}: an exercise to start from. Lines that begin with # are remarks; change the rest.
# `stavewright check` says whether all is well; every word is explained on the site's language page.

title: {title}
kind: stepwise cell
purpose: Say in a sentence what it is for.
attend:
  - one thing to attend to a line
  - the start of each note clean

# Who made it and on what terms others may have it. Without this line, or with `private`, it stays out of
# the site but can still be printed.
rights: written for this book, all rights reserved

# The pitch it starts from, and the key it is written in. C4 is middle C.
home: D5 in D major
meter: 4/4
tempo: quarter = 54 to 66

# `twelve keys, semitones down`, or from pitch to pitch: `semitones down from D6 to D4, then up`.
travel: twelve keys, semitones down
variations: slurred, swell up, swell down

# w h q e s are whole to sixteenth; a dot lengthens; | ends a bar; a comma is a breath.
# For notes held as long as the breath, write `meter: free` without a tempo, and `long D5`.
music:
  slur( h D5 mf q C#5 D5 ) | slur( h E5 D5 ) | w D5 p fermata ,
"""


def new(book: Path, slug: str, tune: Path | None = None, part: int | None = None) -> int:
    """Write an exercise: the starter, or the melody of a file.

    2 where the name will not do or the file is not there, 1 where an exercise of that name is there or the
    file holds no melody.
    """
    try:
        slug_of(slug + SUFFIX)
    except ValueError as error:
        say(f"{shown(slug)} cannot be an address; {error}")
        return 2
    if part is not None and tune is None:
        say("--part chooses a part of the file that --from names; add --from FILE", sys.stderr)
        return 2
    config = read_config(book)
    options, _ = read_options(config.options(), INSTRUMENTS)
    path = book / options.exercises / f"{slug}{SUFFIX}"
    if tune is None:
        title = slug.replace("-", " ").capitalize()
        _write(path, options.naming.retold(_STARTER).format(title=title))
        say(f"{visible(path)}: written. Next: `stavewright check`, then `stavewright build`.")
        return 0
    others = sorted(path.parent.rglob(f"*{SUFFIX}"))
    for other in others:
        if other.name == path.name:
            raise _taken(other)
    try:
        brought = bring_in(tune, slug, part or 0, list(_titles(others)), options.naming, language_of(config))
    except (ReaderMissing, NoSuchPart) as wrong:
        say(f"{visible(tune)}: {wrong}", sys.stderr)
        return 2
    except Unreadable as problem:
        raise BookProblem(f"{visible(tune)}: {problem}. Nothing is written") from None
    except OSError as error:
        say(f"{short(tune)}: cannot be read: {error.strerror}; name a file with a melody", sys.stderr)
        return 2
    _write(path, brought.text)
    for sentence in brought.remarks:
        say(f"{slug}: {sentence}")
    say(
        f"{visible(path)}: written. Next: fill in its line `rights:`; until then it stays out of the site. "
        "Then `stavewright check`."
    )
    return 0


def _titles(paths: Iterable[Path]) -> Iterator[str]:
    """The titles of exercises that can be read."""
    for path in paths:
        with suppress(OSError):
            exercise = read(path.name, read_plain_file(path, MAX_BYTES + 1)).exercise
            if exercise is not None:
                yield exercise.title


def _taken(path: Path) -> BookProblem:
    return BookProblem(f"{visible(path)}: there is an exercise of that name; choose another")


def _write(path: Path, text: str) -> None:
    """Write a new exercise. Raises BookProblem where one is there already, or the file cannot be written."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise _taken(path) from None
    except OSError as error:
        raise BookProblem(f"{visible(path)}: cannot be written: {error.strerror}") from None
