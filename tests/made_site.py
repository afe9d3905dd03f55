"""Small books, built once for the tests that read their sites or open them in a browser."""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest
from conftest import write_book
from filelock import FileLock

from stavewright.cache.store import CacheStore
from stavewright.cli import main
from stavewright.engrave.processes.finding import find_engraver
from stavewright.views.language_page import language_view

HOST = "https://book.example/practice/"
"""An address for the book: in a folder of a host."""

HOSTILE = "Ebb & flow <script>alert(1)</script> \"x\" 'y'"
"""A title that a careless page would run."""

CELL = f"""\
title: {HOSTILE}
kind: stepwise cell
purpose: To join neighbours </script><b>without</b> a seam.
attend:
  - shoulders loose
  - the start of each note clean
about: Begin in the middle.
rights: written for this test, public domain
home: D5 in D major
tempo: quarter = 54 to 66
travel: semitones down from D6 to B4
variations: slurred, swell up
music:
  slur( h D5 mf q C#5 D5 ) | louder( h E5 D5 ) | w D5 p fermata ,
"""
MINOR = """\
title: Low lantern
kind: phrase in minor
purpose: To shape a phrase.
added: 2026-10-02
rights: written for this test, public domain
source: Made up for this test.
home: A4 in A minor
meter: 3/4
tempo: quarter = 84 to 96
travel: twelve keys, fifths
music:
  slur( h A4 p q B4 | h C5 q D5 ) | slur( h E5 q G#4 | h. A4 ) ,
"""
LONG = """\
title: Long road
kind: melody over a drone
purpose: To tune a melody against a drone.
added: 2026-11-01, changed 2026-11-20
attend:
  - rest until the beating stops
rights: written for this test, public domain
home: G4 in G major
meter: 3/4
pickup: quarter
tempo: quarter = 60 to 72
drone: G3
travel: semitones up from D5 to E5
variations: slurred, upper octave first, swell up, swell down, without vibrato, with vibrato, eight levels
music:
  q D4 mp | slur( h G4 e B4 G4 ) | h B4 q A4 | h G4 q E4 | h D4 , q D4
  | slur( h G4 e B4 G4 ) | louder( h B4 q A4 ) | h. D5 mf tie | h D5 , q B4
  | slur( q. D5 f e B4 ) slur( D5 B4 ) | h G4 q D4 | slur( q. E4 mf e G4 ) slur( G4 E4 ) | h D4 , q D4 mp
  | slur( h G4 e B4 G4 ) | softer( h B4 q A4 ) | h. G4 p tie | h G4 ,
"""
EXERCISES: dict[str, str | bytes] = {"cell": CELL, "low-lantern": MINOR, "long-road": LONG}
PREFACE = """\
What this book is.

| day | how long |
|-----|---------:|
| one |       15 |

## Cautions

Stop when it hurts.
"""


def book_in(folder: Path, instruments: str = "flute", address: str = "") -> Path:
    """The test's book on disk; `address` is its site_url."""
    # A book for several instruments is as many books: one exercise is enough of it.
    several = "," in instruments
    book = write_book(folder, {"low-lantern": MINOR} if several else EXERCISES)
    (book / "pages/index.md").write_text(PREFACE, encoding="utf-8")
    config = book / "mkdocs.yml"
    text = config.read_text(encoding="utf-8").replace("[flute]", f"[{instruments}]")
    config.write_text(text + (f"site_url: {address}\n" if address else ""), encoding="utf-8")
    return book


def built_once(name: str, write: Callable[[Path], Path]) -> Path:
    """The site of a book that `write` writes into a folder. The worker that asks first builds it."""
    folder = Path(os.environ["STAVEWRIGHT_TEST_SITES"]) / name
    folder.mkdir(parents=True, exist_ok=True)
    with FileLock(folder / "lock"):
        if not (folder / "site").exists():
            assert main(["build", "--book", str(write(folder / "book")), "--out", str(folder / "site")]) == 0
    return folder / "site"


@cache
def site(instruments: str = "flute", address: str = "") -> Path:
    """The site of the test's book, built once a run for each way to ask for it."""
    digest = hashlib.sha256(f"{instruments} {address}".encode()).hexdigest()[:12]
    return built_once(digest, lambda folder: book_in(folder, instruments, address))


def keep_language(cache: Path) -> None:
    """Put the ink of the language's page into a cache: every site has it, and it is most of a small site's.

    It is engraved once a run. Nothing else is put there but what is known of the engraver.
    """
    folder = Path(os.environ["STAVEWRIGHT_TEST_SITES"]) / "language"
    folder.mkdir(parents=True, exist_ok=True)
    with FileLock(folder / "lock"):
        if not (folder / "ink").exists():
            with pytest.MonkeyPatch.context() as patch:
                patch.setenv("STAVEWRIGHT_CACHE", str(folder / "made"))
                # What the engraver can do is kept there too.
                find_engraver.cache_clear()
                assert not language_view().failures
            for path in (folder / "made").glob("??/*.piece"):
                data = CacheStore(folder / "made").get(path.parent.name + path.stem) or b""
                if not data.startswith(b'{"drawing"'):
                    path.unlink()
            (folder / "made").rename(folder / "ink")
    shutil.copytree(folder / "ink", cache, dirs_exist_ok=True)
