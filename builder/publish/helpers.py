"""Work done ahead in processes of their own, on every core: what is asked for later is found in the cache.

What a helper does not manage is made where it is needed, and what went wrong is told there.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from importlib import import_module
from pathlib import Path
from threading import Thread
from typing import Any

from builder.engrave.cache import PieceCache

_LOOK = 1.0
"""Seconds from one look for the builder to the next."""

Work = Callable[[Any, PieceCache], None]
"""What a helper does with its share: it leaves what it makes in the cache."""


class Helpers:
    """Processes at work, one for each share of some work."""

    def __init__(self, work: Work, shares: Sequence[Any], kept: PieceCache) -> None:
        """`work` is a function of a module; each share, plain values, goes to a helper of its own."""
        name = f"{work.__module__}:{work.__qualname__}"
        command = [sys.executable, "-m", "builder.publish.helpers", name, str(kept.place)]
        self._running = []
        for share in shares:
            # From a file: nobody waits for a helper that is still loading its modules.
            with tempfile.TemporaryFile() as given:
                pickle.dump(share, given)
                given.seek(0)
                self._running.append(subprocess.Popen(command, stdin=given, stdout=subprocess.DEVNULL))

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self._running)

    def wait(self) -> None:
        """Until they have done."""
        for helper in self._running:
            helper.wait()

    def stop(self) -> None:
        """End them at once."""
        for helper in self._running:
            helper.kill()
            helper.wait()


def _end_with(builder: int) -> None:
    """End this helper where its builder is gone: nobody would ask for what it makes."""
    while os.getppid() == builder:
        time.sleep(_LOOK)
    os._exit(1)


def main() -> None:
    """Be a helper, given the function's name and where the cache is; the share comes by standard input."""
    _, name, place = sys.argv
    Thread(target=_end_with, args=(os.getppid(),), daemon=True).start()
    module, _, function = name.partition(":")
    work: Work = getattr(import_module(module), function)
    work(pickle.load(sys.stdin.buffer), PieceCache(Path(place)))


if __name__ == "__main__":
    main()
