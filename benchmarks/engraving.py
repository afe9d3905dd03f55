"""How much a cold book costs, against the engraver alone: ratios within one run.

On a made-up book, with an empty cache, against the notation of every different piece that a site of it shows
(on paper, in a phone's narrow lines, and how each begins):

- one engraver process a piece, as a plain script would do it: one after another, and as many at once as there
  are cores (a sample of the pieces, carried to all of them);
- bare batches of the engraver: a hundred pieces a file, as many files at once as there are cores, with
  nothing read and nothing kept.

Measured are a fresh process from the text to the kept ink (reading, transposing, varying, writing the
notation, engraving, reading the ink and keeping it), and `stavewright build`, which makes the whole site and
every PDF besides. All is measured in turn, several times over, and the best time of each counts.

Run: `python benchmarks/engraving.py [--exercises 17]`.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import groupby
from pathlib import Path

from synthetic import write_book

from stavewright.book.pieces import scores
from stavewright.book.read import open_book
from stavewright.engrave.engraved_book import engrave_book
from stavewright.engrave.piece import Layout, Piece
from stavewright.engrave.processes.finding import find_engraver
from stavewright.jobs.cores import cores
from stavewright.views.incipits import OPENING, PHONE, engrave_for_screens

_BATCH = 100

INK = "cold, from text to kept ink"
SITE = "cold, the whole site"
ONES = "an engraver a piece, one by one"
MANY = "an engraver a piece, a core each"
BARE = "bare batches"

_INK = """
import sys
from pathlib import Path
from stavewright.book.read import open_book
from stavewright.engrave.engraved_book import engrave_book
from stavewright.views.incipits import engrave_for_screens
engraved_book = engrave_book(open_book(Path(sys.argv[1])))
engrave_for_screens(engraved_book)
assert not engraved_book.failures, engraved_book.failures
"""
_SITE = """
import sys
from stavewright.cli import main
sys.exit(main(["build", "--book", sys.argv[1]]))
"""


def pieces_of(book: Path) -> list[Piece]:
    """Every different piece that a site of a book shows, those of one layout together."""
    engraved_book = engrave_book(open_book(book))
    screen_music = engrave_for_screens(engraved_book)
    music = scores(engraved_book.instrument_books)
    wanted = [
        *(Piece(name, score) for name, score in music.items()),
        *(Piece(name, music[name], PHONE) for name in screen_music.narrow),
        *(Piece("opening", score, OPENING) for score in screen_music.openings.values()),
        *(Piece("range", span.notation, OPENING) for span in screen_music.spans.values()),
    ]
    engraver = find_engraver()
    return list({piece.key(engraver): piece for piece in wanted}.values())


def batches_of(pieces: Sequence[Piece]) -> list[list[Piece]]:
    """Pieces in batches, each of one layout."""
    groups = [list(group) for _, group in groupby(pieces, key=lambda piece: piece.layout)]
    return [group[start : start + _BATCH] for group in groups for start in range(0, len(group), _BATCH)]


def engraver_run(folder: Path, name: str, pieces: Sequence[tuple[Layout, str]]) -> None:
    """One engraver process over a file of pieces of one layout."""
    engraver = find_engraver()
    named = ((f"{name}-{number}", *piece) for number, piece in enumerate(pieces))
    books = (
        f'\\book {{ \\bookOutputName "{own}" \\paper {{ piece-name = "{own}" {layout.paper} }}\n{piece}}}\n'
        for own, layout, piece in named
    )
    (folder / f"{name}.ly").write_text(pieces[0][0].head + "\n" + "".join(books), encoding="utf-8")
    command = [engraver.path, *engraver.passes[0], f"{name}.ly"]
    subprocess.run(command, cwd=folder, check=True, capture_output=True)


def engraved(folder: Path, batches: Sequence[Sequence[tuple[Layout, str]]], at_once: int) -> float:
    """Seconds for one engraver process a batch, so many at once."""
    folder.mkdir()
    started = time.perf_counter()
    with ThreadPoolExecutor(at_once) as pool:
        list(pool.map(lambda item: engraver_run(folder, f"b{item[0]}", item[1]), enumerate(batches)))
    return time.perf_counter() - started


def cold(code: str, book: Path, cache: Path) -> float:
    """Seconds for a fresh process to make something of a book with an empty cache."""
    environment = os.environ | {"STAVEWRIGHT_CACHE": str(cache)}
    started = time.perf_counter()
    subprocess.run([sys.executable, "-c", code, str(book)], env=environment, check=True, capture_output=True)
    return time.perf_counter() - started


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--exercises", type=int, default=17)
    parser.add_argument("--sample", type=int, default=40, help="pieces with an engraver process each")
    parser.add_argument("--rounds", type=int, default=3)
    arguments = parser.parse_args()
    at_once = cores()
    times: dict[str, list[float]] = {}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        os.environ["STAVEWRIGHT_CACHE"] = str(folder / "cache")
        write_book(folder / "book", arguments.exercises)
        pieces = pieces_of(folder / "book")
        count = len(pieces)
        hundreds = [[(piece.layout, piece.notation) for piece in batch] for batch in batches_of(pieces)]
        sample = [[each] for batch in hundreds for each in batch][:: max(1, count // arguments.sample)]
        share = count / len(sample)
        for number in range(arguments.rounds):
            place = folder / str(number)
            place.mkdir()
            for words, taken in (
                (INK, cold(_INK, folder / "book", place / "ink")),
                (SITE, cold(_SITE, folder / "book", place / "site")),
                (ONES, share * engraved(place / "ones", sample, 1)),
                (MANY, share * engraved(place / "many", sample, at_once)),
                (BARE, engraved(place / "bare", hundreds, at_once)),
            ):
                times.setdefault(words, []).append(taken)
    best = {words: min(taken) for words, taken in times.items()}
    print(f"{count} different pieces, {at_once} cores, the best of {arguments.rounds} rounds:")
    for words, taken in best.items():
        print(f"  {words:40} {taken:7.1f} s, {1000 * taken / count:6.1f} ms a piece")
    for ours in (INK, SITE):
        ratios = ", ".join(
            f"{best[other] / best[ours]:.1f} times as fast as {other}" for other in (ONES, MANY)
        )
        print(f"{ours}: {ratios}, {best[ours] / best[BARE]:.2f} of {BARE}")


if __name__ == "__main__":
    main()
