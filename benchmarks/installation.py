"""How much room an installation takes, and what takes it.

    python -m venv --without-pip FOLDER
    pip --python FOLDER/bin/python install --no-compile stavewright-...whl
    python benchmarks/installation.py FOLDER

Reads an environment of Python: the bytes of its files and of its compiled modules (`__pycache__`), each by
package, in megabytes of 1,000,000 bytes, and how much room they take in whole blocks of the disk.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from pathlib import Path

LEAST = 3_000_000
"""Bytes: what is smaller is not named."""


def main() -> int:
    """Print the table; 2 where a folder is no environment."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path)
    folder = parser.parse_args().folder
    places = [*folder.glob("lib/python3*/site-packages"), *folder.glob("Lib/site-packages")]
    if not places:
        print(f"{folder}: no environment of Python", file=sys.stderr)
        return 2
    (packages,) = places
    files: Counter[str] = Counter()
    compiled: Counter[str] = Counter()
    blocks = 0
    for path in folder.rglob("*"):
        if path.is_symlink() or not path.is_file():
            continue
        status = path.stat()
        inside = (
            path.relative_to(packages).parts if path.is_relative_to(packages) else ("the environment itself",)
        )
        name = inside[0].partition("-")[0].partition(".")[0].lower()
        (compiled if "__pycache__" in path.parts else files)[name] += status.st_size
        blocks += getattr(status, "st_blocks", 0) * 512
    print(f"{'':24}{'files':>8}{'compiled':>10}")
    print(f"{'all':24}{files.total() / 1e6:8.1f}{compiled.total() / 1e6:10.1f}")
    print(f"{'in blocks of the disk':24}{blocks / 1e6:8.1f}")
    for name, size in (files + compiled).most_common():
        if size >= LEAST:
            print(f"{name:24}{files[name] / 1e6:8.1f}{compiled[name] / 1e6:10.1f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
