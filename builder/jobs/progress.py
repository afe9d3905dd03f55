"""Progress on a terminal, and silence in a pipe."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

Progress = Callable[[int, int], None]
"""What is called as long work goes on: with how much is done, and with how much there is."""


@contextmanager
def progress(words: str, quiet: bool = False) -> Iterator[Progress | None]:
    """A bar for a piece of long work; yields the function that moves it, or None where nobody looks.

    With `quiet` there is never a bar.
    """
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bar

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Bar(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(words, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total or None)
