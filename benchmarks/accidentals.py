"""How our accidentals and reminders differ from music21's, on traditional melodies in twelve keys.

What is compared, and the classes of difference, stand in tests/accidentals_by_music21.py; docs/spelling.md
has the figures and the command.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from accidentals_by_music21 import CLASSES, SETTINGS, compared, spread


def main() -> None:
    """Print the differences by class for each way of asking music21."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--every", type=int, default=8, help="one tune in so many (8 gives over 500)")
    melodies = spread(parser.parse_args().every)
    print(f"{len(melodies)} melodies in twelve keys")
    for name, asked in SETTINGS.items():
        total, unexplained = compared(melodies, asked)
        print(f"{name}: {total['notes']:,} notes, {total['needed']:,} needed, {total['courtesy']:,} courtesy")
        for reason in CLASSES:
            print(f"  {total[reason]:7,}  {reason}")
        print(f"  {len(unexplained):7,}  unexplained")
        print("\n".join(f"           {row}" for row in unexplained[:5]))


if __name__ == "__main__":
    main()
