"""Brings in a melody: asks the process that reads it, and makes sure that the answer is a valid exercise."""

from __future__ import annotations

import json
import threading
from collections.abc import Collection
from contextlib import suppress
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

from ..jobs.children import start_child
from ..language.format import formatted
from ..language.namings import ENGLISH, Naming
from ..language.read import SUFFIX
from ..translation.catalog import ENGLISH as IN_ENGLISH
from .tune_file import Unreadable, open_tune_file

LONGEST = 120.0
"""Seconds that reading may take; a melody takes three, most of them to import music21."""


class ReaderMissing(Exception):
    """Raised where music21 is not installed; the text says how to install it."""


class NoSuchPart(Exception):
    """Raised where it is not clear which part is meant, or there is none of that number; it names them."""


@dataclass(frozen=True, slots=True)
class Brought:
    """An exercise's text, and what it could not keep, in sentences."""

    text: str
    remarks: tuple[str, ...]


def bring_in(
    path: Path,
    slug: str,
    part: int = 0,
    titles: Collection[str] = (),
    naming: Naming = ENGLISH,
    language: str = IN_ENGLISH,
) -> Brought:
    """The melody of a file as an exercise with this address; `part` counts from 1, 0 means the first.

    `titles` are taken by other exercises. `naming` is how the book names notes, and `language` the code of
    its own words.
    Raises ReaderMissing, NoSuchPart, OSError, or Unreadable.
    """
    if find_spec("music21") is None:
        raise ReaderMissing(
            "music21, which reads melodies, is not installed: pip install 'stavewright[import]'"
        )
    tune = open_tune_file(path)
    asked = {
        "kind": tune.kind,
        "bytes": len(tune.data),
        "part": part,
        "file": path.name,
        "slug": slug,
        "titles": [title.casefold() for title in titles],
        "notes": naming.name,
        "language": language,
        "title": slug.replace("-", " ").capitalize(),
    }
    answer = _answer(json.dumps(asked).encode() + b"\n" + tune.data)
    if "text" not in answer:
        if answer.get("use"):
            raise NoSuchPart(f"{answer['what']}; {answer['mend']}")
        raise Unreadable(answer["what"], answer["mend"])
    text = formatted(f"{slug}{SUFFIX}", answer["text"].encode(), naming)
    if not isinstance(text, str):
        raise Unreadable(f"the melody does not fit an exercise ({text[0].what})", text[0].mend)
    return Brought(text, tuple(answer["remarks"]))


def _answer(question: bytes) -> dict[str, str]:
    """What the process answers. Raises Unreadable where it takes too long, or ends without a word."""
    child = start_child(f"{__package__}.reader")
    late = threading.Event()

    def end() -> None:
        late.set()
        child.process.kill()

    clock = threading.Timer(LONGEST, end)
    clock.start()
    line = b""
    try:
        with suppress(OSError, EOFError):
            answers = child.listen()
            child.questions.write(question)
            child.questions.flush()
            line = answers.readline()
    finally:
        clock.cancel()
        child.process.kill()
        child.close()
        child.process.wait()
    if late.is_set():
        what = f"reading takes more than {LONGEST:.0f} seconds"
        raise Unreadable(what, "export the one melody, in a file of its own")
    if not line:
        raise Unreadable("the program that reads melodies ended without a word", "export the melody again")
    answer: dict[str, str] = json.loads(line)
    return answer
