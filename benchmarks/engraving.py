"""How much a cold book costs, against the engraver alone: ratios within one run.

On a made-up book, with an empty cache:

- against one engraver process a piece, as a plain script would do it: one after another, and as many at once
  as there are cores (a sample of the pieces, carried to all of them);
- against bare batches of the engraver: the same notation, a hundred pieces a file, as many files at once as
  there are cores, with nothing read and nothing kept.

The cold book is a fresh process from the text to the kept ink (`press`): reading, transposing, varying,
writing the notation, engraving, reading the ink and keeping it. Everything is measured in turn, several times
over, and the best time of each counts. Run: `python benchmarks/engraving.py [--exercises 17]`.
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
from pathlib import Path

from synthetic import write_book

from builder.book import open_book
from builder.engrave.batch import cores
from builder.engrave.engine import find_engraver
from builder.engrave.piece import STAND, Piece
from builder.publish.plan import scores, shelves

_BATCH = 100
_COLD = """
import sys
from pathlib import Path
from builder.book import open_book
from builder.publish.press import press
pressed = press(open_book(Path(sys.argv[1])))
assert not pressed.failures, pressed.failures
print(len(pressed.inked))
"""


def notations(book: Path) -> list[str]:
    """The notation of every different piece of a book."""
    found = {}
    engraver = find_engraver()
    for name, score in scores(shelves(open_book(book))).items():
        piece = Piece(name, score)
        found.setdefault(piece.key(engraver), piece)
    return [piece.notation for piece in found.values()]


def engraver_run(folder: Path, name: str, pieces: Sequence[str]) -> None:
    """One engraver process over a file of pieces."""
    engraver = find_engraver()
    named = ((f"{name}-{number}", piece) for number, piece in enumerate(pieces))
    books = (
        f'\\book {{ \\bookOutputName "{own}" \\paper {{ piece-name = "{own}" }}\n{piece}}}\n'
        for own, piece in named
    )
    (folder / f"{name}.ly").write_text(STAND.source + "\n" + "".join(books), encoding="utf-8")
    command = [engraver.path, *engraver.passes[0], f"{name}.ly"]
    subprocess.run(command, cwd=folder, check=True, capture_output=True)


def engraved(folder: Path, batches: Sequence[Sequence[str]], at_once: int) -> float:
    """Seconds for one engraver process a batch, so many at once."""
    folder.mkdir()
    started = time.perf_counter()
    with ThreadPoolExecutor(at_once) as pool:
        list(pool.map(lambda item: engraver_run(folder, f"b{item[0]}", item[1]), enumerate(batches)))
    return time.perf_counter() - started


def cold(book: Path, cache: Path) -> float:
    """Seconds for a fresh process to press a book into an empty cache."""
    environment = os.environ | {"STAVEWRIGHT_CACHE": str(cache)}
    started = time.perf_counter()
    subprocess.run([sys.executable, "-c", _COLD, str(book)], env=environment, check=True, capture_output=True)
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
        write_book(folder / "book", arguments.exercises)
        pieces = notations(folder / "book")
        count = len(pieces)
        sample = [[piece] for piece in pieces[:: max(1, count // arguments.sample)]]
        hundreds = [pieces[start : start + _BATCH] for start in range(0, count, _BATCH)]
        for number in range(arguments.rounds):
            place = folder / str(number)
            place.mkdir()
            share = count / len(sample)
            for words, taken in (
                ("cold book", cold(folder / "book", place / "cache")),
                ("an engraver a piece, one by one", share * engraved(place / "ones", sample, 1)),
                ("an engraver a piece, at once", share * engraved(place / "many", sample, at_once)),
                ("bare batches", engraved(place / "bare", hundreds, at_once)),
            ):
                times.setdefault(words, []).append(taken)
    best = {words: min(taken) for words, taken in times.items()}
    ours = best["cold book"]
    print(f"{count} different pieces, {at_once} cores, the best of {arguments.rounds} rounds:")
    for words, taken in best.items():
        each = f"{1000 * taken / count:6.1f} ms a piece"
        print(f"  {words:32} {taken:7.1f} s {each}, {taken / ours:5.2f} of the cold book")
    print(f"the cold book is {ours / best['bare batches']:.2f} of the bare batches")


if __name__ == "__main__":
    main()
