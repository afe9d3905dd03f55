"""Many pieces: each engraved once, by as many workers as there are cores, and only what the cache lacks.

Pieces wait in a line, the longest first. A worker takes a batch from its head: at most about two seconds of
work by the pace measured so far, and smaller as the line grows short, so that all are busy to the end. A
worker is a process of this machine, or whatever an `Executor` reaches.
"""

from __future__ import annotations

import atexit
import time
from collections import deque
from collections.abc import Callable, Generator, Iterable, Mapping, Sequence
from concurrent.futures import CancelledError, Executor
from contextlib import closing, nullcontext
from dataclasses import dataclass
from functools import cache as cached
from pathlib import Path
from threading import Lock, Thread
from typing import Protocol

from ...cache.store import CacheStore
from ...jobs.progress import Progress
from ..engravings import Engravings, K
from ..judging import engraver_at_fault, judge, warn_of_slow_engraver
from ..piece import Blame, Engraved, Failure, Piece, code
from . import worker as worker_module
from .background import BackgroundThread
from .finding import find_engraver
from .lilypond import Engraver, EngraverMissing
from .worker import MOST_STOPPED, Answer, Task
from .worker_processes import WorkerLost, WorkerPool

_started = time.time()
"""What is used after this is this process's own, and stays in the cache until its end."""

_SECONDS = 2.0
"""About how long a batch may take."""

_PACE = 0.001
"""Seconds for a note, until a pace is measured."""

_WORTH = 1.0
"""Seconds of work that are worth starting another worker for: to get ready takes it about as long."""

_TRIES = 3
"""How many workers may be lost over a batch before each of its pieces is tried by itself."""


class WorkersDiffer(EngraverMissing):
    """Raised where workers elsewhere would not make the same ink; the text says why."""


@dataclass(frozen=True, slots=True)
class RemoteWorkers:
    """Workers elsewhere: an executor in the sense of `concurrent.futures`, and how many it has."""

    executor: Executor
    count: int


Pool = WorkerPool | RemoteWorkers
"""Where a command's pieces are engraved. Without one, this very process engraves."""


class _Worker(Protocol):
    def run(self, tasks: Sequence[Task]) -> Generator[Answer, None, None]:
        """Answers as they are ready, in any order. Raises Lost."""

    def close(self) -> None:
        """End it."""


class _LocalWorker:
    """This very process: nothing to start but the engraver."""

    def __init__(self, place: Path | None) -> None:
        self._place = place

    def run(self, tasks: Sequence[Task]) -> Generator[Answer, None, None]:
        yield from worker_module.work(tasks, self._place)

    def close(self) -> None:
        """The worker stays, for the next pieces."""


class _RemoteWorker:
    """One of an executor's workers."""

    def __init__(self, workers: RemoteWorkers, engraver: Engraver) -> None:
        self._executor = workers.executor
        self._same = (code(), *engraver.decides)

    def run(self, tasks: Sequence[Task]) -> Generator[Answer, None, None]:
        try:
            yield from self._executor.submit(_engrave_remotely, list(tasks), self._same).result()
        except EngraverMissing:
            raise
        except (Exception, CancelledError) as error:
            raise WorkerLost(f"{type(error).__name__}: {error}") from error

    def close(self) -> None:
        """The executor belongs to its maker."""


def _engrave_remotely(tasks: list[Task], same: tuple[str, ...]) -> list[Answer]:
    """Engrave a batch on another machine. Raises WorkersDiffer and EngraverMissing."""
    engraver = find_engraver()
    if (code(), *engraver.decides) != same:
        here = "another version of Stavewright" if code() != same[0] else f"LilyPond {engraver.version}"
        raise WorkersDiffer(f"a worker has {here}, which would not make the same pages; give all the same")
    return list(worker_module.work(tasks, None))


@dataclass(frozen=True, slots=True)
class QueuedPiece:
    """A piece that waits for a worker: its key, its staff's height, and about how many notes it has."""

    key: str
    staff: float
    weight: int


class _WorkQueue:
    """The pieces that wait, and the pace at which they go. Workers' threads share it."""

    def __init__(self, waiting: Iterable[QueuedPiece], workers: int) -> None:
        self._lock = Lock()
        # Pieces with staves of one size stand together: an engraver is set up for one.
        order = sorted(waiting, key=lambda each: (each.staff, -each.weight))
        self._waiting = deque(order)
        self._left = sum(each.weight for each in order)
        self._workers = workers
        self._seconds, self._done = 0.0, 0

    def take(self) -> list[QueuedPiece]:
        """The next batch; empty at the end."""
        with self._lock:
            pace = self._seconds / self._done if self._done else _PACE
            goal = min(_SECONDS / pace, self._left / (2 * self._workers))
            batch: list[QueuedPiece] = []
            weight = 0
            while self._waiting and (not batch or weight < goal):
                if batch and self._waiting[0].staff != batch[0].staff:
                    break
                batch.append(self._waiting.popleft())
                weight += batch[-1].weight
            self._left -= weight
            return batch

    def took(self, weight: int, seconds: float) -> None:
        """Note how long a batch took."""
        with self._lock:
            self._seconds += seconds
            self._done += weight

    def clear(self) -> None:
        """Discard all queued pieces."""
        with self._lock:
            self._waiting.clear()


def _choose_workers(pool: Pool | None, seconds: float, place: Path | None) -> list[_Worker]:
    """As many workers as the work is worth."""
    if isinstance(pool, RemoteWorkers):
        # Two batches for each worker, so that the next is there when one is done.
        engraver = find_engraver()
        return [_RemoteWorker(pool, engraver) for _ in range(2 * pool.count)]
    found = pool.workers(int(seconds / _WORTH), place) if pool else []
    return list(found) or [_LocalWorker(place)]


@cached
def _trim_at_end(place: Path) -> None:
    """Bring a cache within its bound once, when the process ends: to look at every entry takes time."""
    atexit.register(CacheStore(place).trim, _started)


def engrave_list(
    pieces: Iterable[Piece],
    pool: Pool | None = None,
    progress: Progress | None = None,
    cache: CacheStore | None = None,
) -> list[Engraved | Failure]:
    """Engrave a few pieces, in their order, as `engrave_all` does."""
    wanted = list(pieces)
    made = engrave_all(range(len(wanted)), wanted.__getitem__, pool, progress, cache)
    return [made[number] for number in range(len(wanted))]


def engrave_all(
    names: Iterable[K],
    piece: Callable[[K], Piece],
    pool: Pool | None = None,
    progress: Progress | None = None,
    cache: CacheStore | None = None,
    behind: BackgroundThread | None = None,
    known: Mapping[K, str] | None = None,
    begun: Engravings[K] | None = None,
) -> Engravings[K]:
    """Engrave pieces: equal ones once, and none that the cache holds.

    `piece` makes a piece from its name, whenever it is needed, so that a large book is never in memory as a
    whole. `pool` has the workers. `progress(done, all)` is
    called as pieces are ready. With `behind` the caller goes on meanwhile, and waits only for a piece that is
    not there yet. `known` are keys that need not be found out again. `begun` is of the same pieces, some of
    them, and begun before. Raises EngraverMissing; EngraverAtFault where not single pieces are to blame.
    """
    cache = cache or CacheStore()
    engraver = find_engraver()
    keys: dict[K, str] = {}
    todo: dict[str, K] = {}
    waiting = []
    for name in names:
        found = None
        key = (known or {}).get(name)
        if key is None:
            found = piece(name)
            key = found.key(engraver)
        keys[name] = key
        if key not in todo and not (begun and key in begun.missing) and not cache.has(key):
            todo[key] = name
            found = found or piece(name)
            waiting.append(QueuedPiece(key, found.layout.staff, found.weight))
    made = Engravings(keys, piece, cache)
    made.missing = todo.keys() | (begun.missing if begun else set())
    if not made.missing:
        return made
    if not engraver.cairo and not isinstance(pool, RemoteWorkers):
        warn_of_slow_engraver(engraver)

    def make() -> None:
        if begun:
            made.copy_results(begun)
        if not waiting:
            return
        seconds = sum(each.weight for each in waiting) * _PACE
        with pool.lock if isinstance(pool, WorkerPool) else nullcontext():
            workers = _choose_workers(pool, seconds, cache.place)
            threads = _WorkerThreads(workers, waiting, lambda key: piece(todo[key]), made.store, progress)
            threads.run()
            if threads.failed:
                judge(threads.failed, len(waiting), None if isinstance(pool, RemoteWorkers) else engraver)
        _trim_at_end(cache.place)

    if behind:
        made.made = behind.begin(make)
    else:
        make()
    return made


class _WorkerThreads:
    """Workers at one line, each driven by a thread."""

    def __init__(
        self,
        workers: Sequence[_Worker],
        waiting: list[QueuedPiece],
        piece: Callable[[str], Piece],
        hold: Callable[[str, Engraved | Failure], None],
        progress: Progress | None,
    ) -> None:
        self._workers = workers
        self._queue = _WorkQueue(waiting, len(workers))
        self._piece, self._hold, self._progress = piece, hold, progress
        self._lock = Lock()
        self._ready, self._all = 0, len(waiting)
        self._error: BaseException | None = None
        self.failed: list[Failure] = []

    def run(self) -> None:
        """Engrave all that waits. Raises EngraverAtFault where it is no use to go on."""
        if self._progress:
            self._progress(0, self._all)
        threads = [Thread(target=self._drive, args=(worker,), daemon=True) for worker in self._workers[1:]]
        for thread in threads:
            thread.start()
        try:
            self._drive(self._workers[0])
            for thread in threads:
                thread.join()
        except BaseException:
            self._end()
            raise
        if self._error:
            raise self._error

    def _end(self) -> None:
        """End the workers at once; nobody needs what they are engraving."""
        self._queue.clear()
        for worker in self._workers:
            worker.close()

    def _drive(self, worker: _Worker) -> None:
        while batch := self._queue.take():
            started = time.monotonic()
            try:
                self._engrave(worker, batch)
            except BaseException as error:
                # Told where the others are waited for.
                if self._error is None:
                    self._error = error
                    self._end()
                return
            self._queue.took(sum(each.weight for each in batch), time.monotonic() - started)

    def _engrave(self, worker: _Worker, batch: list[QueuedPiece]) -> None:
        left = [each.key for each in batch]
        for _ in range(_TRIES):
            self._try(worker, left)
            if not left:
                return
        # One of them may be to blame: each by itself.
        for key in left:
            if lost := self._try(worker, alone := [key]):
                said = f"its worker was lost {_TRIES + 1} times: {lost}"
                for each in alone:
                    self._done(each, Failure(self._piece(each).name, said, Blame.ENGRAVER))

    def _try(self, worker: _Worker, left: list[str]) -> str:
        """Have pieces engraved, and take away what is done; why the worker was lost, if it was."""
        try:
            with closing(worker.run([(key, self._piece(key)) for key in left])) as answers:
                for key, result in answers:
                    left.remove(key)
                    self._done(key, result)
        except WorkerLost as error:
            return str(error)
        return ""

    def _done(self, key: str, result: Engraved | Failure | None) -> None:
        with self._lock:
            if self._error:
                raise self._error
            if result is not None:
                self._hold(key, result)
            self._ready += 1
            if self._progress:
                self._progress(self._ready, self._all)
            if isinstance(result, Failure):
                self.failed.append(result)
                unable = sum(each.blame is Blame.ENGRAVER for each in self.failed)
                if result.blame is Blame.MACHINE or unable >= MOST_STOPPED:
                    raise engraver_at_fault(self.failed, self._all)
