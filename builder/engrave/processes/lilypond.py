"""The engraver: where it is, what it can do, and an engraver at work that is given one piece after another.

Starting an engraver takes as long as engraving twenty short pieces, so one that runs is kept
(`LilyPondServer`): it reads the names of pieces from its standard input, engraves each from a file of its
own, and says on its standard error when it has done. It works in a folder of its own with none of the
user's environment, and within limits of time, memory and the size of a file.
"""

from __future__ import annotations

import os
import secrets
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from threading import Event, Thread

from ...jobs.folders import temporary_folder
from ...jobs.signals import signals_held
from ...jobs.systems import kill_session, own_session
from ..faces import engraver_faces
from .talk import MOST_SAID, ROW, Talk, telling

MEMORY = 2 * 1024**3
"""Bytes of memory that an engraver may ask for; a short piece takes about 100 MB."""

FILE = 256 * 1024**2
"""Bytes that a file written by an engraver may have."""

PROCESSOR = 600
"""Seconds of a processor that an engraver may use before another takes its place.

A build that is killed cannot stop an engraver that has lost its way; this does.
"""

GARBAGE = 96 * 1024**2
"""Bytes that an engraver allocates before it looks for memory to use again.

Its own habit is to look after every 4 MB, which costs as much time as the engraving itself; a short piece
allocates about 2.5 MB.
"""

SECONDS = 60
_CHARACTERS_A_SECOND = 1000
"""A piece may take `SECONDS` and a second for each so many characters, fifty times what is usual."""

_WATCH = 0.5
"""Seconds from one look at the clock to the next."""

_KEPT = ("LANG", "LC_ALL", "SYSTEMROOT")
_KEPT_LISTS = ("PATH", "LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH")
_KEPT_PLACES = ("TMPDIR", "TEMP", "TMP", "FONTCONFIG_FILE")
"""What an engraver sees of the user's environment: of files and folders, those that are named in full."""


_NO_ROOM = 1024**2
"""Bytes: a temporary folder with less is full. A piece and its engraver need a tenth of that."""


class EngraverMissing(Exception):
    """Raised where no usable engraver is found; the text says how to get one."""


class EngraverAtFault(EngraverMissing):
    """Raised where it is not single pieces that fail, but the engraver or the machine under it.

    The text says what failed and how many. Nothing that was made before may then be replaced.
    """


class LilyPondServerLost(Exception):
    """Raised where an engraver ended in the middle of a piece: why, and whether it had to be stopped."""

    def __init__(self, why: str, stopped: bool) -> None:
        super().__init__(why)
        self.stopped = stopped


@dataclass(frozen=True, slots=True)
class Engraver:
    """An engraver that answered: `cairo` tells whether it draws SVG and PDF with that library."""

    path: str
    version: str
    cairo: bool

    @property
    def decides(self) -> tuple[str, ...]:
        """What of it decides how a piece looks; without Cairo, its faces are part of that."""
        return (self.version, str(self.cairo), *(() if self.cairo else engraver_faces(self.path)))

    @property
    def passes(self) -> tuple[tuple[str, ...], ...]:
        """Command-line options for each run that it takes to have both SVG and PDF, SVG first."""
        common = ("--loglevel=WARNING", "-dno-point-and-click")
        if self.cairo:
            return ((*common, "-dbackend=cairo", "--svg", "--pdf"),)
        return ((*common, "-dbackend=svg"), (*common, "--pdf"))


def start_engraver(
    command: list[str], folder: Path, stdin: int, stdout: int, stderr: int
) -> subprocess.Popen[bytes]:
    """An engraver at work in a folder, in a session of its own, with `_environment`. Raises OSError."""
    started: list[subprocess.Popen[bytes]] = []
    try:
        with signals_held():
            started.append(
                subprocess.Popen(
                    command,
                    cwd=folder,
                    env=_environment(folder),
                    stdin=stdin,
                    stdout=stdout,
                    stderr=stderr,
                    **own_session(),
                )
            )
    except BaseException:
        # A signal came meanwhile, and the caller does not learn of the process.
        for process in started:
            kill_session(process)
            process.wait()
        raise
    return started[0]


def _environment(home: Path) -> dict[str, str]:
    """What an engraver that works in a folder sees of the user's environment."""
    found = {name: os.environ[name] for name in _KEPT if name in os.environ}
    for name in _KEPT_LISTS:
        folders = os.environ.get(name, "").split(os.pathsep)
        if full := [folder for folder in folders if Path(folder).is_absolute()]:
            found[name] = os.pathsep.join(full)
    for name in _KEPT_PLACES:
        if Path(os.environ.get(name, "")).is_absolute():
            found[name] = os.environ[name]
    return found | {"HOME": str(home)}


def no_room_left() -> str:
    """Words about a temporary folder that is full; empty where there is room."""
    place = tempfile.gettempdir()
    try:
        free = shutil.disk_usage(place).free
    except OSError:
        return ""
    return full_words() if free < _NO_ROOM else ""


def full_words() -> str:
    """Words about a temporary folder that is full."""
    return (
        f"the temporary folder {tempfile.gettempdir()} is full; make room there, or name another with TMPDIR"
    )


_LOOP = r"""
#(use-modules (ice-9 rdelim))
#(define (heap-since) (assq-ref (gc-stats) 'heap-allocated-since-gc))
{quick}
#(let next ((name (read-line (current-input-port))))
   (if (not (eof-object? name))
       (begin
         (catch #t
           (lambda ()
             (ly:parser-parse-string (ly:parser-clone) (string-append "\\include \"" name ".ly\"")))
           (lambda (key . rest) (format (current-error-port) "\nerror: ~a ~a\n" key rest)))
         {tidy}
         (format (current-error-port) "\n{done} ~a\n" name)
         (force-output (current-error-port))
         (next (read-line (current-input-port))))))
"""
_TIDY = "(if (> (heap-since) {garbage}) (begin (gc-enable) (gc) (gc-disable)))"


class LilyPondServer:
    """An engraver at work. `head` is what all its pieces have in common: the style and the staff's size.

    `careful` leaves its memory to its own habits: slower, and safe for a piece of any size.
    """

    def __init__(self, path: str, options: Iterable[str], head: str, careful: bool = False) -> None:
        self.path = path
        self._own = temporary_folder()
        self.folder = self._own.path
        self._done = f"done-{secrets.token_hex(8)}"
        self._stopped = False
        self._late: float | None = None
        self._closed = Event()
        loop = (
            _LOOP.replace("{quick}", "" if careful else "#(gc-disable)")
            .replace("{tidy}", "" if careful else _TIDY.replace("{garbage}", str(GARBAGE)))
            .replace("{done}", self._done)
        )
        try:
            (self.folder / "server.ly").write_text(f"{head}\n{loop}", encoding="utf-8")
            pipe, nothing = subprocess.PIPE, subprocess.DEVNULL
            self._process = start_engraver([path, *options, "server.ly"], self.folder, pipe, nothing, pipe)
        except BaseException:
            self._own.remove()
            raise
        _limit(self._process.pid)
        Thread(target=self._watch, daemon=True).start()

    def send(self, name: str, source: str) -> None:
        """Give it a piece, `name` safe as a file's name. It may still be at work on the one before."""
        (self.folder / f"{name}.ly").write_text(source, encoding="utf-8")
        assert self._process.stdin is not None
        with suppress(OSError):
            # Where it is gone, `wait` says so.
            self._process.stdin.write(f"{name}\n".encode())
            self._process.stdin.flush()

    def wait(self, name: str, characters: int) -> list[str]:
        """Wait until a piece is done; returns what it said on it, in lines. Raises DeskLost."""
        assert self._process.stderr is not None
        limit = SECONDS + characters // _CHARACTERS_A_SECOND
        end = f"{self._done} {name}".encode()
        talk, size, begins = Talk(), 0, True
        self._late = time.monotonic() + limit
        while row := self._process.stderr.readline(ROW):
            if begins and row.strip() == end:
                self._late = None
                return talk.rows
            if begins and row.strip() and not row.startswith(self._done.encode()):
                talk.add(row.decode("utf-8", "replace").strip())
            # The rest of a long line is counted only.
            begins = row.endswith(b"\n")
            size += len(row)
            if size > MOST_SAID:
                self._kill()
                first = next(iter(talk.rows), "")[:80]
                raise LilyPondServerLost(f"it was stopped, because it wrote too much: {first!r}", True)
        status = self._process.wait()
        # What it has started may still be at work.
        kill_session(self._process)
        why = f"it was stopped after {limit} seconds" if self._stopped else telling(talk.rows)
        raise LilyPondServerLost(why or f"it ended with status {status}", self._stopped)

    def _watch(self) -> None:
        """Stop it where a piece takes too long."""
        while not self._closed.wait(_WATCH):
            if self._late is not None and time.monotonic() > self._late:
                self._stopped = True
                self._kill()
                return

    def _kill(self) -> None:
        """End it and whatever it has started."""
        # After it has ended, its number may be another process's.
        if self._process.returncode is None:
            kill_session(self._process)

    def forget(self, name: str) -> None:
        """Remove a piece's files."""
        for kind in ("ly", "svg", "pdf", "txt"):
            with suppress(OSError):
                (self.folder / f"{name}.{kind}").unlink()

    def close(self) -> None:
        """End it, and remove its folder."""
        assert self._process.stdin is not None
        assert self._process.stderr is not None
        self._closed.set()
        self._kill()
        self._process.wait()
        with suppress(OSError):
            self._process.stdin.close()
        self._process.stderr.close()
        self._own.remove()


def _limit(process: int) -> None:
    """Limits on memory, files and the processor's time, where the platform has them for another process."""
    if sys.platform == "linux":
        import resource

        limits = (
            (resource.RLIMIT_AS, MEMORY),
            (resource.RLIMIT_FSIZE, FILE),
            (resource.RLIMIT_CPU, PROCESSOR),
        )
        for kind, most in limits:
            # It may have ended by itself already.
            with suppress(OSError, ValueError):
                resource.prlimit(process, kind, (most, most))
