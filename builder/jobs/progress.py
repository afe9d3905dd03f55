"""Progress: a bar on a terminal, and in a pipe or a file a plain line a minute."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

Progress = Callable[[int, int], None]
"""What is called as long work goes on: with how much is done, and with how much there is."""

_SECONDS = 60
"""From one line to the next; what takes less has none."""


def _lines(words: str) -> Progress:
    """Says how much is done, at most once a minute. Whoever calls it lets nobody else do so meanwhile."""
    last = time.monotonic()

    def tell(done: int, total: int) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last >= _SECONDS and done < total:
            last = now
            # Where nobody reads, the work goes on.
            with suppress(OSError):
                print(f"{words}: {done} of {total} done", file=sys.stderr, flush=True)

    return tell


@contextmanager
def progress(words: str, quiet: bool = False) -> Iterator[Progress | None]:
    """A bar for a piece of long work, or lines where there is no terminal; yields the function that moves it.

    With `quiet` it yields None, and nothing is shown.
    """
    if quiet:
        yield None
        return
    if not sys.stderr.isatty():
        yield _lines(words)
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bar

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Bar(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(words, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total or None)
