"""How our rules of spelling agree with what composers wrote, and with a published method, in all keys.

Melodies: the soprano, alto, tenor and bass lines of J. S. Bach's chorales, as music21's corpus carries them
(the music is in the public domain). Each line is carried to every key that a signature of at most six
accidentals allows, reduced to bare MIDI numbers, and spelled anew: by `spelled` below, which is told the key
and applies the rules of `music.spell` for single notes (its function in the key, the direction of the line)
to a whole line, and by ps13s1 (D. Meredith, "The ps13 pitch spelling algorithm", Journal of New Music
Research 35:2, 2006), as PyPI's `partitura` carries it, which is told nothing and hears ten notes back and
forty ahead. What the composer wrote, transposed letter by letter, is the measure. The program itself never
spells a whole line.

Run it in an environment of its own; docs/spelling.md has the commands.
"""

from __future__ import annotations

import argparse
import warnings
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stavewright.music.keys import Key, spellings
from stavewright.music.pitch import LETTERS, Pitch
from stavewright.music.settings.transpositions import interval_to
from stavewright.music.spell import chromatic, is_raised, names, outside


@dataclass(frozen=True)
class Melody:
    """A line in its home key: pitches as written, and their onsets in quarters."""

    name: str
    key: Key
    pitches: tuple[Pitch, ...]
    onsets: tuple[float, ...]


def ours_of(pitch: Any) -> Pitch:
    """A pitch of music21's as one of ours."""
    return Pitch(LETTERS.index(pitch.step), int(pitch.alter), pitch.octave)


def chorale_lines(count: int) -> Iterator[Melody]:
    """The lines of so many chorales, in the key that music21's analysis (Krumhansl and Schmuckler) hears."""
    from music21 import corpus

    for path in corpus.getComposer("bach")[:count]:
        work = corpus.parse(path)
        tonic = work.analyze("key")
        key = Key(LETTERS.index(tonic.tonic.step), int(tonic.tonic.alter), tonic.mode)
        if abs(key.fifths) > 6:
            continue
        for part in work.parts:
            notes = [note for note in part.flatten().notes if note.isNote]
            if len(notes) > 8:
                pitches = tuple(ours_of(note.pitch) for note in notes)
                onsets = tuple(float(note.offset) for note in notes)
                yield Melody(f"{path.stem} {part.partName}", key, pitches, onsets)


def leading(midi: int, key: Key, rising: bool) -> Pitch:
    """The name of a chromatic note that leads on by semitone: E sharp and its like are as good as any."""

    def cost(pitch: Pitch) -> tuple[bool, int]:
        change = pitch.alter - key.alteration(pitch.letter)
        return abs(change) > 1, -change if rising else change

    return min(names(midi), key=cost)


def spelled(midis: Sequence[int], key: Key) -> tuple[Pitch, ...]:
    """A line of MIDI notes spelled in a key, by the program's rules for single notes.

    A note of the key keeps its name. Any other has the name of its function, unless the line moves on by
    semitone and says otherwise: a third or seventh that rises by semitone is raised, a first or fifth step
    that only touches the note below it is lowered, and a note passed by semitones both ways in one direction
    goes with that direction, but for the sixth and seventh steps of minor.
    """
    found = []
    for index, midi in enumerate(midis):
        diatonic = [pitch for pitch in names(midi) if not outside(pitch, key)]
        if diatonic:
            found.append(diatonic[0])
            continue
        after = midis[index + 1] - midi if index + 1 < len(midis) else 0
        before = midi - midis[index - 1] if index else 0
        degree = (midi - key.pitch_class) % 12
        rising = is_raised(midi, key)
        if before == after == 1 or (after == 1 and degree == 3):
            rising = True
        elif after == -1 and (
            (before == -1 and degree not in (9, 11)) or (before == 1 and degree in (1, 3, 8, 10))
        ):
            rising = False
        leads = after == (1 if rising else -1)
        found.append((leading if leads else chromatic)(midi, key, rising))
    return tuple(found)


def ps13(melody_onsets: tuple[float, ...], midis: list[int]) -> list[tuple[str, int]]:
    """Letter and accidental of each note by ps13s1."""
    from partitura.musicanalysis import estimate_spelling  # type: ignore[import-not-found]

    notes = np.zeros(
        len(midis), dtype=[("onset_quarter", "f4"), ("duration_quarter", "f4"), ("pitch", "i4"), ("id", "U8")]
    )
    notes["onset_quarter"], notes["duration_quarter"], notes["pitch"] = melody_onsets, 1, midis
    return [(str(row["step"]), int(row["alter"])) for row in estimate_spelling(notes)]


def renamed(
    names: list[tuple[str, int]], midis: list[int], written: list[tuple[str, int]]
) -> list[tuple[str, int]]:
    """A spelling with the whole line renamed enharmonically (C sharp for D flat), if that agrees more.

    ps13s1 does not know the key, and cannot tell which of two names a piece has as a whole.
    """
    choices = [names]
    for shift in (-1, 1):
        moved = []
        for (letter, alter), midi in zip(names, midis, strict=True):
            pitch = Pitch(LETTERS.index(letter), alter, midi // 12 - 1).respelled(shift)
            moved.append((LETTERS[pitch.letter], pitch.alter))
        choices.append(moved)
    return max(choices, key=lambda choice: sum(a == b for a, b in zip(choice, written, strict=True)))


def why(written: Pitch, ours: Pitch, key: Key, before: int, after: int) -> str:
    """The class of a note on which our spelling differs from the composer's."""
    if not outside(written, key):
        return "the composer's note is of the key, ours is not"
    if abs(written.alter) > 1:
        return "the composer wrote a double accidental; we write its plain name"
    if abs(before) == 1 or abs(after) == 1:
        return "a chromatic neighbour or passing note that the composer spelled against its direction"
    return "a chromatic note reached and left by leap, which the harmony decides and one line cannot tell"


ROWS = ("ours as written", "ps13s1 as written", "ps13s1, the line renamed", "ours as ps13s1, renamed")


def main() -> None:
    """Print the agreement and the classes of difference."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--chorales", type=int, default=60)
    arguments = parser.parse_args()
    warnings.filterwarnings("ignore")
    total = Counter[str]()
    differences = Counter[str]()
    lines = 0
    for melody in chorale_lines(arguments.chorales):
        lines += 1
        for distance in range(12):
            target = spellings((melody.key.pitch_class + distance) % 12, melody.key.mode)[0]
            if abs(target.fifths) > 6:
                continue
            move = interval_to(melody.key, target, distance)
            written = [pitch.up(move) for pitch in melody.pitches]
            midis = [pitch.midi for pitch in written]
            ours = spelled(midis, target)
            bare = ps13(melody.onsets, midis)
            best = renamed(bare, midis, [(LETTERS[pitch.letter], pitch.alter) for pitch in written])
            for index, (pitch, own, other, kind) in enumerate(zip(written, ours, bare, best, strict=True)):
                name = (LETTERS[pitch.letter], pitch.alter)
                mine = (LETTERS[own.letter], own.alter)
                chromatic = outside(pitch, target) > 0
                for group in ["every note"] + (["chromatic notes"] if chromatic else []):
                    total[f"{group}: notes"] += 1
                    total[f"{group}: ours as written"] += mine == name
                    total[f"{group}: ps13s1 as written"] += other == name
                    total[f"{group}: ps13s1, the line renamed"] += kind == name
                    total[f"{group}: ours as ps13s1, renamed"] += mine == kind
                if mine != name:
                    before = midis[index] - midis[index - 1] if index else 0
                    after = midis[index + 1] - midis[index] if index + 1 < len(midis) else 0
                    differences[why(pitch, own, target, before, after)] += 1
    print(f"{lines} lines, each in every key with at most six accidentals")
    for group in ("every note", "chromatic notes"):
        count = total[f"{group}: notes"]
        print(f"{group}: {count:,}")
        for row in ROWS:
            print(f"  {row:26} {100 * total[f'{group}: {row}'] / count:7.3f} %")
    print("where ours is not as written:")
    for reason, count in differences.most_common():
        print(f"  {count:7,}  {reason}")


if __name__ == "__main__":
    main()
