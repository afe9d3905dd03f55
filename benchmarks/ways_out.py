"""MIDI and MusicXML files opened again by music21: what agrees, and what they cost beside music21's own.

    python benchmarks/ways_out.py [--made 200]

Every piece of the book in this repository, and scores made at random for every instrument in turn. It prints
how many notes were compared and how many differ, and the time of writing as a part of music21's time for the
same.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from random import Random

HOME = Path(__file__).parent.parent
sys.path.insert(0, str(HOME / "tests"))

from made_scores import made_score  # noqa: E402
from test_export_midi import music21_plays, near, opened, played  # noqa: E402
from test_export_musicxml import ABOUT, our_notes, their_notes  # noqa: E402
from test_export_musicxml import opened as opened_xml  # noqa: E402

from stavewright.book.pieces import instrument_books_of  # noqa: E402
from stavewright.book.read import open_book  # noqa: E402
from stavewright.export.midi import midi  # noqa: E402
from stavewright.export.musicxml import musicxml  # noqa: E402
from stavewright.music.score import Score  # noqa: E402
from stavewright.music.winds.instruments import INSTRUMENTS, Instrument  # noqa: E402


def book_pieces() -> Iterator[tuple[Score, Instrument]]:
    """Every setting and variation of the book."""
    for instrument_book in instrument_books_of(open_book(HOME)):
        for _, pages in instrument_book.exercises:
            for page in pages:
                for placed in page.placed:
                    for part in placed.parts:
                        if part.score:
                            yield part.score, instrument_book.instrument


def made_pieces(count: int, plain: bool) -> Iterator[tuple[Score, Instrument]]:
    """Scores made at random, each for the next instrument."""
    instruments = list(INSTRUMENTS.values())
    for seed in range(count):
        yield made_score(Random(seed), plain), instruments[seed % len(instruments)]


def musicxml_differences(score: Score, instrument: Instrument) -> tuple[int, int]:
    """Notes and rests compared, and those that differ in name, place, length, tie or sign."""
    found = opened_xml(musicxml(score, ABOUT, instrument))
    ours = [row for line in score.lines for row in our_notes(line)]
    theirs = [row for part in found.parts for row in their_notes(part)]
    wrong = sum(our != their for our, their in zip(ours, theirs, strict=False)) + abs(len(ours) - len(theirs))
    return len(ours), wrong


def midi_differences(score: Score, instrument: Instrument) -> tuple[int, int]:
    """Sounding notes compared, and those of a staff where any differs."""
    file = opened(midi(score, "Example", instrument))
    count = wrong = 0
    for number, line in enumerate(score.lines, start=1):
        ours, theirs = played(file, number), music21_plays(score, line, instrument.sounds)
        count += len(theirs)
        try:
            near(ours, theirs)
        except (AssertionError, ValueError):
            wrong += len(theirs)
    return count, wrong


def seconds(work: Callable[[], object]) -> float:
    """The least of three runs."""
    best = float("inf")
    for _ in range(3):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best


def costs() -> None:
    """The time of writing twenty pieces of the book as a part of music21's for the same twenty."""
    from music21.midi.translate import streamToMidiFile
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    pieces = list(book_pieces())[::25][:20]
    streams = [opened_xml(musicxml(score, ABOUT, instrument)) for score, instrument in pieces]
    theirs = seconds(lambda: [GeneralObjectExporter(stream).parse() for stream in streams])
    ours = seconds(lambda: [musicxml(score, ABOUT, instrument) for score, instrument in pieces])
    print(f"MusicXML written in {ours / theirs:.2f} of music21's time")
    theirs = seconds(lambda: [streamToMidiFile(stream).writestr() for stream in streams])
    ours = seconds(lambda: [midi(score, "Example", instrument) for score, instrument in pieces])
    print(f"MIDI written in {ours / theirs:.2f} of music21's time")


def main() -> None:
    """Compare, and print the figures."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--made", type=int, default=200, help="scores made at random (default: 200)")
    made = parser.parse_args().made
    rows = (
        ("MusicXML, the book", musicxml_differences, book_pieces()),
        ("MusicXML, made scores", musicxml_differences, made_pieces(made, plain=False)),
        ("MIDI, the book", midi_differences, book_pieces()),
        ("MIDI, made scores", midi_differences, made_pieces(made, plain=True)),
    )
    for name, differences, pieces in rows:
        found = [differences(score, instrument) for score, instrument in pieces]
        count, wrong = sum(count for count, _ in found), sum(wrong for _, wrong in found)
        print(f"{name}: {len(found)} pieces, {count} notes, {wrong} different")
    costs()


if __name__ == "__main__":
    main()
