"""Work done ahead in processes of their own, on every core: what is asked for later is found in the cache.

One process loads what all of them need, while the builder is busy with other things. What it is then given it
takes in once, and makes the others of itself by forking; nothing else runs in it, so that this is safe.

What a helper does not manage is made where it is needed, and what went wrong is told there.
"""

from __future__ import annotations

import gc
import logging
import os
import pickle
import select
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from importlib import import_module
from pathlib import Path
from typing import Any, BinaryIO

from .children import Child, start_child
from .cores import cores
from .systems import kill_session

Work = Callable[[Any, Any, Path], None]
"""What a helper does: a function of a module, given what all were told, its share and the cache's folder.

It leaves what it makes in that cache.
"""

Task = tuple[Work, Any]
"""Some work, and its share as plain values."""


class HelperPool:
    """Processes at work. `count` is how many are worth having at once, 0 where none is."""

    def __init__(self, cache: Path, jobs: int | None = None, preload: Sequence[str] = ()) -> None:
        """`jobs` is the number of helpers at most, a core each where None; one alone is none.

        `preload` names the modules that helpers need; they are loaded once, before helpers are made.
        """
        self.count = min(jobs or cores(), cores())
        self._host: Child | None = None
        if self.count < 2:
            self.count = 0
            return
        with suppress(OSError):
            self._host = start_child(__spec__.name, str(cache), *preload)

    def limit(self, jobs: int | None) -> None:
        """Have `jobs` helpers at most from now on, where that is a number."""
        self.count = min(self.count, jobs or self.count)

    def share(self, common: Any) -> None:
        """What all tasks that are given from now on have in common, as plain values: it goes there once."""
        self._send(("tell", common))

    def submit(self, *rounds: Sequence[Task]) -> None:
        """Begin tasks: those of a round at once, and the next round when they are done."""
        wanted = [list(tasks) for tasks in rounds if tasks]
        if wanted:
            self._send(("give", wanted))

    def _send(self, message: tuple[str, Any]) -> None:
        if self._host is not None:
            with suppress(OSError):
                pickle.dump(message, self._host.questions)
                self._host.questions.flush()

    def wait(self) -> None:
        """Until all that was given is done; nothing more can be given."""
        if self._host is not None:
            self._send(("end", None))
            self._host.answers.read()
            self.stop()

    def stop(self) -> None:
        """End them at once."""
        host, self._host = self._host, None
        if host is None:
            return
        kill_session(host.process)
        host.process.wait()
        host.close()


@contextmanager
def helper_pool(cache: Path, jobs: int | None = None, preload: Sequence[str] = ()) -> Iterator[HelperPool]:
    """Helpers, of whom none is left at work at the end."""
    helpers = HelperPool(cache, jobs, preload)
    try:
        yield helpers
    finally:
        helpers.stop()


def _do(tasks: Sequence[Task], common: Any, cache: Path) -> None:
    """Do tasks, one after another."""
    for work, share in tasks:
        with suppress(Exception):
            work(common, share, cache)


def _do_at_once(tasks: Sequence[Task], common: Any, cache: Path) -> None:
    """Do tasks, all but the first in a process of its own."""
    children = []
    for task in tasks[1:]:
        child = os.fork()
        if not child:
            _do([task], common, cache)
            _leave()
        children.append(child)
    _do(tasks[:1], common, cache)
    for child in children:
        os.waitpid(child, 0)


def _leave() -> None:
    """End this process without the interpreter's cleanup."""
    gc.freeze()
    sys.exit()


def _end_all() -> None:
    """End this process and all that it has made: the builder is gone."""
    os.killpg(os.getpgrp(), signal.SIGKILL)


def main(source: BinaryIO, sink: BinaryIO, place: str, *preload: str) -> None:
    """Be the process of which helpers are made, for the cache at `place`.

    Nothing is said to `sink`: all hold it open, so that its end is the end of all their work.
    """
    # What is amiss is told by the builder.
    logging.disable()
    cache = Path(place)
    for module in preload:
        import_module(module)
    common: Any = None
    # Whoever is at work holds one end of this pipe open.
    end, at_work = os.pipe()
    forks = hasattr(os, "fork")
    while True:
        try:
            kind, said = pickle.load(source)
        except EOFError:
            if forks:
                _end_all()
            return
        if kind == "end":
            break
        if kind == "tell":
            common = said
            continue
        if forks:
            # What is there now stays, so that the others need no copy of it.
            gc.freeze()
            if os.fork():
                continue
        for tasks in said:
            (_do_at_once if forks else _do)(tasks, common, cache)
        if forks:
            _leave()
    os.close(at_work)
    if forks:
        builder = source.fileno()
        ready, _, _ = select.select([builder, end], [], [])
        if builder in ready:
            _end_all()
