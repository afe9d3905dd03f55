"""Workers of this machine, each a process of its own, so that reading ink does not make the others wait.

Nothing slow is loaded here: a worker is started before anything else, and gets ready meanwhile.
"""

from __future__ import annotations

import atexit
import os
import pickle
import signal
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .worker import Answer, Task


class Lost(Exception):
    """A worker that ended in the middle of its batch."""


class Process:
    """A worker in a process, started when it is needed or before."""

    def __init__(self) -> None:
        self.place: Path | None = None
        """Where it finds the cache."""
        self._closed = False
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> subprocess.Popen[bytes]:
        """Start it, where it does not run already; it gets itself ready for its first piece. Raises Lost."""
        if self._closed:
            raise Lost("it is closed")
        if self._process is None:
            command = [sys.executable, "-m", "builder.engrave.worker"]
            self._process = subprocess.Popen(
                command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, start_new_session=True
            )
        return self._process

    def run(self, tasks: Sequence[Task]) -> Iterator[Answer]:
        """Answers as they are ready, in the tasks' order. Raises Lost."""
        process = self.start()
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            pickle.dump((list(tasks), self.place), process.stdin)
            process.stdin.flush()
            while (answer := pickle.load(process.stdout)) is not None:
                yield answer
        except (OSError, EOFError, ValueError, pickle.UnpicklingError) as error:
            self._end()
            raise Lost(str(error)) from error

    def close(self) -> None:
        """End it for good."""
        self._closed = True
        self._end()

    def _end(self) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        process.send_signal(signal.SIGTERM)
        for pipe in (process.stdin, process.stdout):
            with suppress(OSError):
                assert pipe is not None
                pipe.close()
        try:
            process.wait(5)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def cores() -> int:
    """How many cores this process may use."""
    if sys.platform == "linux":
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


_processes: list[Process] = []
_ready: list[Process] = []
"""The first of them, where there is one at hand for work of any size."""


def at_hand(count: int, place: Path | None) -> list[Process]:
    """As many workers as asked for, kept for the next time, or the one that is at hand; else none."""
    if count < 2 and not _ready:
        return []
    if not _processes:
        atexit.register(_close)
    _processes.extend(Process() for _ in range(count - len(_processes)))
    for process in _processes:
        process.place = place
    return _processes[: max(count, 1)]


def start_worker(jobs: int | None = None) -> None:
    """Have a worker at hand that loads while the caller finds out what to engrave; `end_workers` ends it."""
    if not _processes and min(jobs or cores(), cores()) > 1:
        atexit.register(_close)
        _ready.append(Process())
        _processes.extend(_ready)
        _ready[0].start()


def end_workers() -> None:
    """Leave no worker at its place; more are started when they are needed again."""
    _ready.clear()
    while _processes:
        # Nobody waits for it but the end of this process.
        Thread(target=_processes.pop().close).start()


def _close() -> None:
    _ready.clear()
    while _processes:
        _processes.pop().close()
