"""Work that goes on in a thread of its own while its caller does something else."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from queue import SimpleQueue
from threading import Thread

from . import worker as worker_module


class BackgroundThread:
    """A thread that does what it is given in that order, while its maker goes on."""

    def __init__(self) -> None:
        self._waiting: SimpleQueue[tuple[Future[None], Callable[[], object]] | None] = SimpleQueue()
        # The end of the program does not wait for it.
        Thread(target=self._work, daemon=True).start()

    def begin(self, work: Callable[[], object]) -> Future[None]:
        """Have some work done; whatever it raises is raised again where its end is waited for."""
        done: Future[None] = Future()
        self._waiting.put((done, work))
        return done

    def close(self) -> None:
        """Nothing more will come; what was given is still done."""
        self._waiting.put(None)

    def _work(self) -> None:
        while given := self._waiting.get():
            done, work = given
            try:
                work()
                done.set_result(None)
            except BaseException as error:
                done.set_exception(error)
        # The engraver of this thread would stay at work as long as the program.
        worker_module.leave()
