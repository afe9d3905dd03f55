"""Engravers that one test leaves to the next: to start one takes as long as to engrave twenty short pieces.

A build of this process is handed an engraver at rest that was started with the same words. What tests the
engravers' processes themselves has new ones: the modules in NEW_ENGRAVERS.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from threading import Lock

import pytest

from stavewright.cache.store import CacheStore
from stavewright.engrave.piece import Engraved
from stavewright.engrave.processes import finding, lilypond
from stavewright.engrave.processes import worker as worker_module
from stavewright.engrave.processes.finding import find_engraver
from stavewright.engrave.processes.lilypond import Engraver, LilyPondServer
from stavewright.engrave.processes.worker import Answer, Task, Worker

NEW_ENGRAVERS = frozenset(
    {
        "test_engrave_allowed",
        "test_engrave_behind",
        "test_engrave_finding",
        "test_engrave_worker",
        "test_faults_engraver",
        "test_folders",
    }
)
"""The modules of which each test starts its own engravers; a test elsewhere asks for `new_engravers`."""

MOST_KEPT = 4
"""Engravers at rest: one for each height of staff that a small book has. Each takes some 100 MB."""

MOST_READ = 1_000_000
"""Characters of notation after which an engraver is ended: each piece leaves a little in its memory."""

MOST_OF_WORKER = 10_000
"""Pieces that one worker engraves."""

_work = worker_module.work

_Key = tuple[object, ...]


class LentServer:
    """An engraver for a time, in the place of a LilyPondServer; at its end it goes back to its shelf."""

    def __init__(self, shelf: EngraverShelf, key: _Key, server: LilyPondServer, read: int) -> None:
        """An engraver at rest, which has read so many characters."""
        self._shelf, self._key, self._server, self._read = shelf, key, server, read
        self.path, self.folder = server.path, server.folder
        self._at_work: set[str] = set()

    def send(self, name: str, source: str) -> None:
        """Give it a piece."""
        self._at_work.add(name)
        self._read += len(source)
        self._server.send(name, source)

    def wait(self, name: str, characters: int) -> list[str]:
        """Wait until a piece is done. Where it is lost, the piece stays among those at work."""
        said = self._server.wait(name, characters)
        self._at_work.discard(name)
        return said

    def forget(self, name: str) -> None:
        """Remove a piece's files."""
        self._server.forget(name)

    def close(self) -> None:
        """Give it back, or end it where it is still at work, is lost, or has read enough."""
        if self._at_work or self._read > MOST_READ:
            self._server.close()
        else:
            self._shelf.take_back(self._key, self._server, self._read)


class EngraverShelf:
    """Engravers at rest, the one used last at the end, each by all that it was started with."""

    def __init__(self) -> None:
        """An empty shelf."""
        self.keeps = True
        self._numbered = 0
        self._resting: list[tuple[_Key, LilyPondServer, int]] = []
        self._lock = Lock()

    def server(
        self, path: str, options: Iterable[str], head: str, careful: bool = False
    ) -> LilyPondServer | LentServer:
        """An engraver, as LilyPondServer makes one. Raises OSError."""
        options = tuple(options)
        if careful or not self.keeps:
            return LilyPondServer(path, options, head, careful)
        # Its home is a folder of its own.
        surroundings = sorted(lilypond._environment(Path()).items())
        key = (path, options, head, tempfile.gettempdir(), *surroundings)
        with self._lock:
            for place, (own_key, server, read) in enumerate(self._resting):
                if own_key == key and server._process.poll() is None and server.folder.exists():
                    del self._resting[place]
                    return LentServer(self, key, server, read)
        return LentServer(self, key, LilyPondServer(path, options, head), 0)

    def number_pieces(self, worker: Worker) -> None:
        """Have a worker number its pieces from where no other one did: an engraver writes no file twice."""
        with self._lock:
            self._numbered += MOST_OF_WORKER
            worker._count = self._numbered

    def take_back(self, key: _Key, server: LilyPondServer, read: int) -> None:
        """Put an engraver at the shelf's end; the first leaves where there are too many."""
        with self._lock:
            self._resting.append((key, server, read))
            leaving = self._resting[:-MOST_KEPT]
            del self._resting[:-MOST_KEPT]
        for _, each, _ in leaving:
            each.close()

    @contextmanager
    def used(self, ink: Path) -> Iterator[None]:
        """While all workers of this process have their engravers from here, and their ink from a folder."""
        begin = Worker.__init__

        def begun(worker: Worker, engraver: Engraver) -> None:
            begin(worker, engraver)
            self.number_pieces(worker)

        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(Worker, "__init__", begun)
            patch.setattr(worker_module, "LilyPondServer", self.server)
            patch.setattr(worker_module, "work", KeptInk(ink, self).work)
            yield
        self.clear()

    def clear(self) -> None:
        """End all that rest."""
        with self._lock:
            leaving, self._resting = self._resting, []
        for _, server, _ in leaving:
            server.close()


class KeptInk:
    """Ink by its key for the whole run, whatever cache a build has: no piece is engraved twice in a run."""

    def __init__(self, folder: Path, shelf: EngraverShelf) -> None:
        """Keep it in a folder that all workers of the run share."""
        self._store = CacheStore(folder)
        self._shelf = shelf
        self._path = finding._candidates()[:1]

    def work(self, tasks: Sequence[Task], place: Path | None) -> Iterator[Answer]:
        """Answer tasks as the program's own `work` does: with ink of this run where there is some."""
        if not self._shelf.keeps or [find_engraver().path] != self._path:
            yield from _work(tasks, place)
            return
        cache = CacheStore(place) if place else None
        waiting: list[Task] = []
        for key, piece in tasks:
            found = self._store.get(key)
            if found is None:
                waiting.append((key, piece))
            elif cache is not None and cache.put(key, found):
                yield key, None
            else:
                yield key, Engraved.from_bytes(found)
        for key, result in _work(waiting, None):
            if not isinstance(result, Engraved):
                yield key, result
                continue
            data = result.to_bytes()
            self._store.put(key, data)
            yield key, None if cache is not None and cache.put(key, data) else result
