"""Work on prints ahead of time, on every core, in processes of their own: what is asked for later is found
in the cache.

Pieces are taken apart, and whole prints laid out. What a helper does not manage is made where it is needed,
and what went wrong is told there.
"""

from __future__ import annotations

import pickle
import subprocess
import sys
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from builder.engrave.batch import Engraved, cores
from builder.engrave.cache import PieceCache

_WORTH = 100
"""Pieces that are worth a helper of their own: about half a second's work."""


class Helpers:
    """Processes at work, one for each share of the work. Where there are none, nothing was worth one."""

    def __init__(self, what: str, shares: Sequence[Any], kept: PieceCache) -> None:
        """`what` is the name of a function of this module; each share goes to a helper of its own."""
        command = [sys.executable, "-m", "builder.publish.paper.ahead", what, str(kept.place)]
        self._running = []
        for share in shares:
            helper = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL)
            self._running.append(helper)
            assert helper.stdin is not None
            # A helper that could not start is no reason to stop.
            with suppress(BrokenPipeError), helper.stdin:
                pickle.dump(share, helper.stdin)

    def wait(self) -> None:
        """Until they have done."""
        for helper in self._running:
            helper.wait()

    def stop(self) -> None:
        """End them at once."""
        for helper in self._running:
            helper.kill()
            helper.wait()


def read_ahead(pairs: Sequence[tuple[str, str]], kept: PieceCache) -> None:
    """Take pieces apart, each given by the key of its ink and the key for its strip."""
    count = min(cores(), len(pairs) // _WORTH)
    if count < 2:
        return
    helpers = Helpers(pieces.__name__, [pairs[number::count] for number in range(count)], kept)
    try:
        helpers.wait()
    finally:
        helpers.stop()


def pieces(pairs: Sequence[tuple[str, str]], kept: PieceCache) -> None:
    """A helper's share of `read_ahead`."""
    from .glyphs import Unreadable
    from .reader import read

    for ink, strip in pairs:
        data = kept.get(ink)
        try:
            if data is not None:
                kept.put(strip, read(Engraved.from_bytes(data)).to_bytes())
        except (Unreadable, ValueError, KeyError, TypeError):
            continue  # told where its page is laid out


def prints(share: Any, kept: PieceCache) -> None:
    """A helper's share of the prints of `offer`."""
    from .offer import lay_out

    lay_out(share, kept)


if __name__ == "__main__":
    _, _what, _place = sys.argv
    {each.__name__: each for each in (pieces, prints)}[_what](
        pickle.load(sys.stdin.buffer), PieceCache(Path(_place))
    )
