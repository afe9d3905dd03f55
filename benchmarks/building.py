"""What a whole site costs as its book grows, and after small changes: ratios within one run.

On made-up books (`synthetic.py`), sixty pieces an exercise, each build a fresh process:

- cold, for each size: the time, and the peak memory of the builder, of any one of its helpers, and of all
  together, looked at ten times a second; what processes share counts once in the last (Linux);
- MkDocs's part, measured apart in a build of the same book whose pieces are all kept: templates and files,
  without what the plugin does before, between and after;
- nothing changed: the share of the cold build, and whether anything slow is imported;
- one new melody in all keys and variations, against the same melody in a book of its own, built from an empty
  cache; and against its ink alone: all that comes to be engraved when a book of one melody gets it as its
  second, on paper with the words of its prints, for a phone and to begin with, by the same code; the start of
  the engraver is in it, the import of Python's modules is not. Its processor time, of all processes together,
  stands beside that of the cold build: other work on the machine changes it little.

Run: `python benchmarks/building.py [--exercises 17 42 84 167]`. It needs psutil.
"""

from __future__ import annotations

import argparse
import os
import random
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import pairwise
from math import log2
from pathlib import Path

import psutil
from synthetic import write_book, write_exercise

SLOW = {"abjad", "jinja2", "lark", "mkdocs", "mido", "music21", "pikepdf", "rich", "yaml", "lilypond"}
"""What takes long to import."""

_LOOK = 0.1

_BUILD = """
import sys
from stavewright.cli import command
sys.argv = ["stavewright", "build", "--book", sys.argv[1]]
status = command()
print("loaded", *sorted({name.split(".")[0] for name in sys.modules}))
sys.exit(status)
"""

_PAGES = """
import sys, time
import mkdocs.commands.build as mkdocs_build
from stavewright.cli import main
from stavewright.site.plugin import StavewrightPlugin
spent = {}
def timed(place, name):
    inner = getattr(place, name)
    def run(*args, **more):
        started = time.perf_counter()
        try:
            return inner(*args, **more)
        finally:
            spent[name] = time.perf_counter() - started
    setattr(place, name, run)
timed(mkdocs_build, "build")
around = ("on_pre_build", "on_env", "on_post_build")
for name in around:
    timed(StavewrightPlugin, name)
status = main(["build", "--book", sys.argv[1], "--again"])
print("pages", spent["build"] - sum(spent[name] for name in around))
sys.exit(status)
"""

_ENGRAVE = """
import sys, time
from pathlib import Path
import stavewright.engrave.notation
from stavewright.book.read import open_book
from stavewright.engrave.processes.scheduler import BackgroundThread
from stavewright.prints.edition_layouts import editions_of, engrave_editions
from stavewright.views.print_page import PrintCatalogue
from stavewright.engrave.engraved_book import engrave_book
from stavewright.views.incipits import engrave_for_screens
started = time.perf_counter()
behind = BackgroundThread()
engraved_book = engrave_book(open_book(Path(sys.argv[1])), behind=behind)
editions = engrave_editions(
    (edition for each in engraved_book.instrument_books for edition in editions_of(each)), behind=behind
)
words = PrintCatalogue(engraved_book, editions, "").engrave_words(None, behind)
screen_music = engrave_for_screens(engraved_book, behind=behind)
words.wait()
editions.wait()
assert not engraved_book.failures + editions.failures + screen_music.failures + words.failures
print("engraved", time.perf_counter() - started)
"""


@dataclass(frozen=True, slots=True)
class Run:
    """A process: its seconds, its last line, and peaks of memory in bytes: its own, any helper's, of all.

    `work` is the processor time in seconds, of it and of all that it started.
    """

    seconds: float
    work: float
    said: list[str]
    own: int
    helper: int
    whole: int


def run(code: str, book: Path, cache: Path, watched: bool = False) -> Run:
    """Run a script on a book; to watch its memory takes a little of its time."""
    environment = os.environ | {"STAVEWRIGHT_CACHE": str(cache)}
    started, before = time.perf_counter(), _work_of_children()
    with subprocess.Popen(
        [sys.executable, "-c", code, str(book)], env=environment, stdout=subprocess.PIPE, text=True
    ) as process:
        first = psutil.Process(process.pid)
        own = helper = whole = 0
        while watched and process.poll() is None:
            sizes = [_size(each) for each in (first, *_children(first))]
            own = max(own, sizes[0][0])
            helper = max(helper, *(size for size, _ in sizes[1:]), 0)
            whole = max(whole, sum(share for _, share in sizes))
            time.sleep(_LOOK)
        assert process.stdout is not None
        said = process.stdout.read().splitlines()
        process.wait()
        seconds = time.perf_counter() - started
    if process.returncode:
        raise RuntimeError(f"it ended with {process.returncode}: {said}")
    return Run(seconds, _work_of_children() - before, said[-1].split(), own, helper, whole)


def _work_of_children() -> float:
    """Seconds of processor time of all processes that were started from here and have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _children(process: psutil.Process) -> list[psutil.Process]:
    found: list[psutil.Process] = []
    with suppress(psutil.Error):
        found = process.children(recursive=True)
    return found


def _size(process: psutil.Process) -> tuple[int, int]:
    """Its resident memory, and its share of it; nothing where it has just ended."""
    with suppress(psutil.Error):
        found = process.memory_full_info()
        return int(found.rss), int(getattr(found, "pss", found.rss))
    return 0, 0


def one_size(folder: Path, exercises: int, rounds: int, melodies: int) -> tuple[int, float, float]:
    """Measure a size and print it; the number of pieces, the cold build's seconds, and MkDocs's part."""
    book, cache = folder / f"book-{exercises}", folder / f"cache-{exercises}"
    write_book(book, exercises)
    pieces = 60 * exercises
    cold = run(_BUILD, book, cache, watched=True)
    pages = min(float(run(_PAGES, book, cache).said[1]) for _ in range(rounds))
    again = min((run(_BUILD, book, cache) for _ in range(rounds)), key=lambda each: each.seconds)
    slow = SLOW & set(again.said)
    print(f"{pieces} pieces:")
    print(f"  cold build             {cold.seconds:7.1f} s, {1000 * cold.seconds / pieces:.1f} ms a piece")
    print(f"  MkDocs's part of it    {pages:7.2f} s, {1000 * pages / pieces:.2f} ms a piece")
    own, helper, whole = (size / 1e6 for size in (cold.own, cold.helper, cold.whole))
    print(f"  peak memory            {own:7.0f} MB the builder, {helper:.0f} MB the largest of its helpers,")
    print(f"                         {whole:7.0f} MB all together")
    share = again.seconds / cold.seconds
    print(
        f"  nothing changed        {again.seconds:7.2f} s, {100 * share:.2f} % of cold; "
        f"imports of something slow: {', '.join(sorted(slow)) or 'none'}"
    )
    if melodies:
        tried = [_new_melody(folder, book, cache, number) for number in range(melodies)]
        added, alone, ink, work = min(tried, key=lambda times: times[0] - times[2])
        print(f"  one new melody         {added:7.2f} s, {added - alone:+.2f} s to its building alone,")
        print(f"                         {added - ink:+7.2f} s to its engraving alone,")
        share = 100 * work / cold.work
        print(f"  its processor time     {work:7.2f} s, {share:.1f} % of cold", flush=True)
    return pieces, cold.seconds, pages


def _new_melody(folder: Path, book: Path, cache: Path, number: int) -> tuple[float, float, float, float]:
    """Seconds to build a book with one more melody, to build that melody alone, and to engrave it alone.

    And the processor time of the first.
    """
    name = f"new-melody-{number}"
    alone, second = (folder / f"{book.name}-{name}-{which}" for which in ("alone", "second"))
    for place in (alone, second):
        write_book(place, 0)
    write_exercise(second, "another-melody", random.Random(f"{book.name} another {name}"))
    inks = folder / f"cache of {second.name}"
    run(_ENGRAVE, second, inks)
    for place in (book, alone, second):
        write_exercise(place, name, random.Random(f"{book.name} {name}"))
    ink = float(run(_ENGRAVE, second, inks).said[1])
    built = run(_BUILD, alone, folder / f"cache of {alone.name}").seconds
    added = run(_BUILD, book, cache)
    return added.seconds, built, ink, added.work


def growth(rows: Sequence[tuple[int, float, float]]) -> None:
    """How costs grow from size to size, as for one doubling."""
    for (few, cold, pages), (many, more_cold, more_pages) in pairwise(rows):
        doublings = log2(many / few)
        cost, part = (
            (more / less) ** (1 / doublings) for less, more in ((cold, more_cold), (pages, more_pages))
        )
        print(
            f"{few} to {many} pieces, for each doubling: "
            f"cold {cost:.2f} times, MkDocs's part {part:.2f} times"
        )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--exercises", type=int, nargs="+", default=[17, 42, 84, 167])
    parser.add_argument("--rounds", type=int, default=3, help="times that short things are measured")
    parser.add_argument("--melodies", type=int, default=2, help="new melodies for each size")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        rounds, melodies = arguments.rounds, arguments.melodies
        growth([one_size(Path(name), count, rounds, melodies) for count in arguments.exercises])


if __name__ == "__main__":
    main()
