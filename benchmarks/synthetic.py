"""A made-up book of any size, the same for the same seed: melodies of three or four bars in twelve keys.

Each exercise asks for four variations, so it comes to sixty pieces. Run alone, it writes a book:
`python benchmarks/synthetic.py FOLDER --exercises 17`.
"""

from __future__ import annotations

import argparse
import random
from pathlib import Path

_SCALE = ["D4", "E4", "F#4", "G4", "A4", "B4", "C#5", "D5", "E5", "F#5", "G5", "A5"]
_RHYTHMS = ["q q q q", "h q q", "q q h", "e e q h", "q e e q q", "h h", "q. e h", "e e e e q q"]
_BEATS = {"w": 4.0, "h": 2.0, "q": 1.0, "e": 0.5, "q.": 1.5}

_CONFIG = """site_name: A made-up book
docs_dir: pages
theme:
  name: stavewright
plugins:
  - stavewright:
      exercises: exercises
      instruments: [flute]
"""

_EXERCISE = """title: {title}
kind: stepwise cell
purpose: A made-up exercise, to measure with.
attend:
  - the first thing to attend to
  - the second
rights: written for this measurement, CC0
home: D5 in D major
meter: 4/4
tempo: quarter = 54 to 66
travel: twelve keys, semitones down
variations: slurred, swell up, swell down, detached

music:
  {music}
"""


def melody(dice: random.Random) -> str:
    """Three or four bars of quarter notes and their like, by step and small leap, and a last long note."""
    place = dice.randrange(3, 9)
    bars = []
    for _ in range(dice.choice((2, 3))):
        notes = []
        for value in dice.choice(_RHYTHMS).split():
            place = min(len(_SCALE) - 1, max(0, place + dice.choice((-2, -1, -1, 1, 1, 2))))
            notes.append(f"{value} {_SCALE[place]}")
        bars.append(f"slur( {' '.join(notes)} )")
    level = dice.choice(("p", "mp", "mf"))
    first, *rest = bars
    words = first.split()
    words.insert(3, level)
    return " | ".join([" ".join(words), *rest, "w D5 fermata ,"])


def write_book(folder: Path, exercises: int, seed: int = 1) -> None:
    """Write a book of so many exercises into a folder."""
    dice = random.Random(seed)
    (folder / "exercises").mkdir(parents=True)
    (folder / "pages").mkdir()
    (folder / "mkdocs.yml").write_text(_CONFIG, encoding="utf-8")
    for number in range(1, exercises + 1):
        write_exercise(folder, f"made-up-{number}", dice)


def write_exercise(folder: Path, slug: str, dice: random.Random) -> Path:
    """Write one more exercise."""
    path = folder / "exercises" / f"{slug}.warmup"
    text = _EXERCISE.format(title=slug.replace("-", " ").capitalize(), music=melody(dice))
    path.write_text(text, encoding="utf-8")
    return path


def main() -> None:
    """Write a book."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--exercises", type=int, default=17)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    write_book(arguments.folder, arguments.exercises, arguments.seed)


if __name__ == "__main__":
    main()
