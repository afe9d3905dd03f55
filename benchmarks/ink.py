"""Every variation in twelve keys, in eighths, quarters, halves and wholes, on staves of several heights.

Each piece is engraved as for paper, its PDF is read by pdfium (tests/ink_reader.py) and compared with its
score (tests/ink_faults.py): ink in the margin, bar lines, note heads, hairpins, waves, heads that touch; and
the grid: whether a variation that keeps the notes has them where the piece as written has them. It prints
figures and each kind of fault, and ends with status 1 where there is one.

    python benchmarks/ink.py [--staff 7 --staff 12] [--values half] [--keys 3]
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from ink_cases import VALUES, cases
from ink_faults import differs, grid, ink_faults

from stavewright.engrave.piece import Engraved, Layout, Piece, Use
from stavewright.engrave.processes.worker import here
from stavewright.paper.page_format import PageFormat


def _rows(layout: Layout, value: str, keys: int) -> Iterator[tuple[str, list[str]]]:
    """Each piece's name with what is wrong with its ink."""
    found = list(cases(value, keys))
    # Both files are compared, whatever the layout is for.
    both = replace(layout, use=Use.ANYWHERE)
    made = here().engrave([Piece(case.name, case.score, both) for case in found])
    plain: list[tuple[float, ...]] = []
    for case, ink in zip(found, made, strict=True):
        if not isinstance(ink, Engraved):
            yield case.name, [str(ink)]
            continue
        faults = ink_faults(case.score, ink, layout)
        here_is = grid(ink, len(case.score.lines))
        if case.as_written:
            plain = here_is
        elif case.keeps_notes and differs(plain, here_is):
            faults.append("its notes are not where they are as written")
        yield case.name, faults


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--staff", type=float, action="append", help="a staff's height in millimetres")
    parser.add_argument("--values", choices=VALUES, action="append")
    parser.add_argument("--keys", type=int, default=12)
    wanted = parser.parse_args()
    faults: Counter[str] = Counter()
    total = 0
    for height in wanted.staff or (7, 8.5, 10, 12):
        for value in wanted.values or VALUES:
            start, count, wrong = time.monotonic(), 0, 0
            for name, found in _rows(PageFormat(staff=height).layout, value, wanted.keys):
                count += 1
                wrong += bool(found)
                for fault in found[:3]:
                    faults[fault] += 1
                    if faults[fault] <= 2:
                        print(f"  {name}: {fault}")
            total += count
            seconds = time.monotonic() - start
            print(f"{height:g} mm, {value}: {count} pieces, {wrong} with faults, {seconds:.0f} s")
    print(f"{total} pieces, {sum(faults.values())} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
