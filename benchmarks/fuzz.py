"""Ten thousand exercises that nobody would write: none may end in a traceback.

Texts are made from the demo book and the language's own examples by a seeded hand that cuts, doubles, swaps
and inserts: words of the language, attacks on the engraver, the page and the files, stray characters. Each
is read; what reads without a fault is also set in keys, varied and written as notation. A fault is a good
answer, an exception is not. Run: `python benchmarks/fuzz.py [--count 10000] [--seed 1]`.

With `--books`, whole books and commands are made instead (`fuzz_books.py`).
"""

from __future__ import annotations

import argparse
import random
import sys
import traceback
from collections import Counter
from pathlib import Path

from stavewright.engrave.notation import notation
from stavewright.language.field_words import FIELDS
from stavewright.language.notes.figure_words import FIGURE_WORDS
from stavewright.language.read import read
from stavewright.language.words import WORDS
from stavewright.music.figures import FIGURES
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.winds.instruments import FLUTE
from stavewright.variations import Unsuitable, apply, find, variations
from stavewright.views.language_page import example_text
from stavewright.visible import visible_rows

BOOK = Path(__file__).parent.parent / "exercises"
ATTACKS = (
    '"',
    "\\",
    "#(",
    '#(system "true")',
    "\\include",
    '" } \\header {',
    "<script>",
    "../..",
    "\u202e",
    "\x00",
    "%{",
    "9" * 400,
    "(" * 60,
    ")" * 60,
    "slur( " * 60,
    "tuplet( 0:0 ",
    "tuplet( 99:1 ",
    "A" * 100_000,
    "🎵",
    "e\u0301",
    "meter( 0/0 )",
    "meter( 32/32 )",
    "tempo( q = 9999 )",
    "+P99",
    "-d99",
    "+AA64",
    "C9",
    "B##9",
    "Cbb0",
    "w...",
    "nul",
    "con.txt",
    "$(true)",
    "`true`",
    "; true",
    "{{ 7 * 7 }}",
    "&lt;",
    "\t",
    "\r",
    "\n",
    "\n  ",
    "\nmusic:\n  ",
)


def words() -> list[str]:
    """What texts are made of."""
    found = [*ATTACKS, *(f"{field}: " for field in FIELDS), *variations()]
    for example in examples():
        found += [example, *example.split()]
    return found


def examples() -> list[str]:
    """The example of each word and each figure."""
    words_of_figures = (each.example for each in FIGURE_WORDS.values())
    return [
        *(each.example for each in WORDS),
        *(each.example for each in FIGURES.values()),
        *words_of_figures,
    ]


def made(chance: random.Random, seeds: list[str], stock: list[str]) -> bytes:
    """One text: a seed, changed in one to eight places."""
    text = chance.choice(seeds)
    for _ in range(chance.choice((1, 1, 1, 2, 3, 8))):
        place = chance.randrange(len(text) + 1)
        end = min(len(text), place + chance.randint(1, 30))
        change = chance.choice(("insert", "insert", "cut", "double", "swap"))
        if change == "insert":
            text = f"{text[:place]} {chance.choice(stock)} {text[place:]}"
        elif change == "cut":
            text = text[:place] + text[end:]
        elif change == "double":
            text = text[:end] + text[place:end] * chance.randint(1, 5) + text[end:]
        else:
            text = text[:place] + chance.choice(stock) + text[end:]
    data = text.encode("utf-8", "surrogatepass")
    if chance.random() < 0.02:
        place = chance.randrange(len(data) + 1)
        data = data[:place] + bytes([chance.randrange(256)]) + data[place:]
    return data


def tried(data: bytes) -> str:
    """What became of a text: `fault`, or `music` where it went all the way to notation."""
    reading = read("fuzz.warmup", data)
    exercise = reading.exercise
    if exercise is None:
        assert reading.faults, "neither an exercise nor a fault"
        for fault in reading.faults:
            assert "\n" not in str(fault), "a fault on more than a line"
            said = f"{fault}\n{fault.excerpt()}"
            assert visible_rows(said) == said, "a fault that a terminal obeys"
        return "fault"
    for setting in settings_of(exercise, FLUTE)[:3]:
        if not setting.fits:
            continue
        notation(setting.score())
        for wanted in exercise.wanted:
            try:
                for wish in wanted.names:
                    find(wish)
                notation(apply(setting.score(), wanted.names))
            except (KeyError, ValueError, Unsuitable):
                continue
    return "music"


def books(count: int, seed: int) -> int:
    """Try whole books and commands; exit status 1 where one failed."""
    from fuzz_books import try_all

    def failed(one: int) -> None:
        print(f"-- seed {one}", file=sys.stderr)
        traceback.print_exc()

    ends = Counter(try_all(count, seed, failed))
    print(", ".join(f"{count:,} {end}" for end, count in ends.most_common()))
    return 1 if ends["traceback"] else 0


def main() -> None:
    """Try them all; exit status 1 where one failed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--books", action="store_true", help="settings, selections, instruments and arguments"
    )
    arguments = parser.parse_args()
    if arguments.books:
        sys.exit(books(arguments.count, arguments.seed))
    chance = random.Random(arguments.seed)
    stock = words()
    seeds = [path.read_text(encoding="utf-8") for path in sorted(BOOK.glob("*.warmup"))]
    seeds += map(example_text, examples())
    ends: Counter[str] = Counter()
    for number in range(arguments.count):
        data = made(chance, seeds, stock)
        try:
            ends[tried(data)] += 1
        except Exception:
            ends["traceback"] += 1
            if ends["traceback"] <= 5:
                print(f"-- input {number}: {data[:400]!r}", file=sys.stderr)
                traceback.print_exc()
    print(", ".join(f"{count:,} {end}" for end, count in ends.most_common()))
    sys.exit(1 if ends["traceback"] else 0)


if __name__ == "__main__":
    main()
