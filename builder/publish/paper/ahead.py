"""Pieces taken apart ahead of time, on every core: a book's pages then find all of them in the cache.

Run as a module it is one of the helpers: it reads a line for each piece, with the key of its ink and the key
its strip is kept under, and leaves the strips in the cache. What a helper does not manage is read when its
page is laid out.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from builder.engrave.batch import Engraved, cores
from builder.engrave.cache import PieceCache

_WORTH = 100
"""Pieces that are worth a helper of their own: about half a second's work."""


def read_ahead(pairs: Sequence[tuple[str, str]], kept: PieceCache) -> None:
    """Take pieces apart, each given by the key of its ink and the key for its strip."""
    count = min(cores(), len(pairs) // _WORTH)
    if count < 2:
        return
    command = [sys.executable, "-m", "builder.publish.paper.ahead", str(kept.place)]
    helpers = [subprocess.Popen(command, stdin=subprocess.PIPE, text=True) for _ in range(count)]
    try:
        for number, helper in enumerate(helpers):
            assert helper.stdin is not None
            helper.stdin.writelines(f"{ink} {strip}\n" for ink, strip in pairs[number::count])
            helper.stdin.close()
        for helper in helpers:
            helper.wait()
    except BrokenPipeError:
        pass  # a helper that could not start; its pieces are read later
    finally:
        for helper in helpers:
            helper.kill()
            helper.wait()


def _help(place: Path) -> None:
    from .glyphs import Unreadable
    from .reader import read

    kept = PieceCache(place)
    for line in sys.stdin:
        ink, strip = line.split()
        data = kept.get(ink)
        try:
            if data is not None:
                kept.put(strip, read(Engraved.from_bytes(data)).to_bytes())
        except (Unreadable, ValueError, KeyError, TypeError):
            continue  # told where its page is laid out


if __name__ == "__main__":
    _help(Path(sys.argv[1]))
