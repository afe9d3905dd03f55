"""Workers of this machine, each a process of its own, so that reading ink does not make the others wait.

Nothing slow is loaded here: a worker is started before anything else, and gets ready meanwhile.
"""

from __future__ import annotations

import atexit
import pickle
import signal
import subprocess
import sys
from collections.abc import Generator, Sequence
from contextlib import suppress
from pathlib import Path
from threading import Lock, Thread
from typing import TYPE_CHECKING

from ...jobs.children import Child, start_child
from ...jobs.cores import cores
from ...jobs.folders import remove_left_over

if TYPE_CHECKING:
    from .worker import Answer, Task


class WorkerLost(Exception):
    """A worker that ended in the middle of its batch; the text says why."""


class WorkerProcess:
    """A worker in a process, started when it is needed or before."""

    def __init__(self) -> None:
        self.place: Path | None = None
        """Where it finds the cache."""
        self.closed = False
        self._child: Child | None = None

    def start(self) -> subprocess.Popen[bytes]:
        """Start it, where it does not run already; it gets itself ready for its first piece. Raises Lost."""
        return self._started().process

    def _started(self) -> Child:
        if self.closed:
            raise WorkerLost("it is closed")
        if self._child is None:
            try:
                self._child = start_child(f"{__package__}.worker")
            except OSError as error:
                raise WorkerLost(f"no process could be started: {error.strerror}") from error
        return self._child

    def run(self, tasks: Sequence[Task]) -> Generator[Answer, None, None]:
        """Answers as they are ready, in the tasks' order. Raises Lost."""
        child = self._started()
        try:
            pickle.dump((list(tasks), self.place), child.questions)
            child.questions.flush()
            answers = child.listen()
            while (answer := pickle.load(answers)) is not None and not isinstance(answer, str):
                yield answer
        except (EOFError, OSError) as error:
            # It closes its pipes as it ends.
            self._end(_LAST_SECONDS)
            raise WorkerLost(_ending(child.process.returncode)) from error
        except Exception as error:
            self._end()
            raise WorkerLost(f"its answer is not a drawing: {error}") from error
        if answer is not None:
            # Its last words.
            self._end()
            raise WorkerLost(answer)

    def close(self) -> None:
        """End it for good."""
        self.closed = True
        self._end()

    def _end(self, seconds: float = 0) -> None:
        """End it, after some seconds in which it may end by itself."""
        child, self._child = self._child, None
        if child is None:
            return
        process = child.process
        with suppress(subprocess.TimeoutExpired):
            process.wait(seconds)
        if sys.platform != "win32":
            # There the signal would end it at once, and it could not end its engraver.
            process.send_signal(signal.SIGTERM)
        child.close()
        try:
            process.wait(_END_SECONDS)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
            # It could not remove its own.
            remove_left_over()


_LAST_SECONDS = 2

_END_SECONDS = 5
"""Seconds in which a worker that is told to end may do so by itself."""


def _ending(status: int | None) -> str:
    """How a process ended, in words."""
    if status is None:
        return "its process was ended"
    if status < 0:
        try:
            name = signal.Signals(-status).name
        except ValueError:
            name = f"signal {-status}"
        often = ", as it happens where memory runs out" if name == "SIGKILL" else ""
        return f"its process was ended from outside ({name}{often})"
    return f"its process ended by itself, with status {status}"


_MOST = 128
"""Workers of this machine at most, whatever is asked for: each takes some 400 MB."""


class WorkerPool:
    """The workers of a command. They stay from one round of engraving to the next, until `close`.

    `most` is the number of workers at once, a core each where `jobs` is None.
    """

    def __init__(self, jobs: int | None = None) -> None:
        self.most = min(jobs or cores(), _MOST)
        self.lock = Lock()
        """Held while pieces are engraved: whoever comes meanwhile waits for the workers."""
        self._processes: list[WorkerProcess] = []

    def limit(self, jobs: int | None) -> None:
        """Have `jobs` workers at most from now on, where that is a number."""
        self.most = min(self.most, jobs or self.most)

    def start_worker(self) -> None:
        """Start a worker that gets ready while the caller finds out what to engrave."""
        if not self._processes and min(self.most, cores()) > 1:
            self._more(1)[0].start()

    def workers(self, count: int, place: Path | None) -> list[WorkerProcess]:
        """Some workers for the cache at `place`: the one that was started for work of any size.

        Empty where the work is not worth a process.
        """
        # Those of work that was given up are of no more use.
        self._processes = [process for process in self._processes if not process.closed]
        count = min(count, self.most)
        if count < 2 and not self._processes:
            return []
        found = self._more(max(count, 1))
        for process in found:
            process.place = place
        return found

    def _more(self, count: int) -> list[WorkerProcess]:
        if not self._processes:
            atexit.register(self.close)
        self._processes.extend(WorkerProcess() for _ in range(count - len(self._processes)))
        return self._processes[:count]

    def end_soon(self) -> None:
        """End the workers that there are, without waiting for it; more are started when they are needed."""
        while self._processes:
            # Nobody waits for it but the end of this process.
            Thread(target=self._processes.pop().close).start()

    def close(self) -> None:
        """End the workers."""
        atexit.unregister(self.close)
        while self._processes:
            self._processes.pop().close()
