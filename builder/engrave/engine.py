"""The engraver: where it is, what it can do, and an engraver at work that is given one piece after another.

Starting an engraver takes as long as engraving twenty short pieces, so one that runs is kept (`Desk`): it
reads the names of pieces from its standard input, engraves each from a file of its own, and says on its
standard error when it has done. It works in a folder of its own with none of the user's environment, and
within limits of time, memory and the size of a file.
"""

from __future__ import annotations

import json
import os
import secrets
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from threading import Event, Thread

from builder.folders import temporary_folder

from .cache import folder as cache_folder
from .cache import write_whole

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

_SECONDS = 60
_CHARACTERS_A_SECOND = 1000
"""A piece may take `_SECONDS` and a second for each so many characters, fifty times what is usual."""

_WATCH = 0.5
"""Seconds from one look at the clock to the next."""

_KEPT = (
    "PATH",
    "LANG",
    "LC_ALL",
    "SYSTEMROOT",
    "TMPDIR",
    "TEMP",
    "TMP",
    "FONTCONFIG_FILE",
    "LD_LIBRARY_PATH",
    "DYLD_LIBRARY_PATH",
)


class EngraverMissing(Exception):
    """Raised where no usable engraver is found; the text says how to get one."""


class DeskLost(Exception):
    """Raised where an engraver ended in the middle of a piece: why, and whether it took too long."""

    def __init__(self, why: str, late: bool) -> None:
        super().__init__(why)
        self.late = late


@dataclass(frozen=True, slots=True)
class Engraver:
    """An engraver that answered: `cairo` tells whether it draws SVG and PDF with that library."""

    path: str
    version: str
    cairo: bool

    @property
    def passes(self) -> tuple[tuple[str, ...], ...]:
        """Command-line options for each run that it takes to have both SVG and PDF, SVG first."""
        common = ("--loglevel=WARNING", "-dno-point-and-click")
        if self.cairo:
            return ((*common, "-dbackend=cairo", "--svg", "--pdf"),)
        return ((*common, "-dbackend=svg"), (*common, "--pdf"))


def _candidates() -> list[str]:
    named = os.environ.get("STAVEWRIGHT_LILYPOND")
    if named:
        return [named]
    found = []
    try:
        import lilypond

        found.append(str(lilypond.executable()))
    except ImportError:
        pass
    on_path = shutil.which("lilypond")
    return found + ([on_path] if on_path else [])


@cache
def find_engraver() -> Engraver:
    """The first engraver that runs: the installed package's, then the one on the path.

    What it can do is remembered beside the cache until its file changes. Raises EngraverMissing.
    """
    tried = []
    for path in _candidates():
        try:
            return _remembered(path) or _asked(path)
        except (OSError, subprocess.SubprocessError) as error:
            tried.append(f"{Path(path).name}: {error.__class__.__name__}")
    detail = f" (tried {', '.join(tried)})" if tried else ""
    raise EngraverMissing(
        f"no engraver was found{detail}; install one with `pip install 'lilypond>=2.24,<2.25'`, "
        "or put LilyPond 2.24 or later on the path"
    )


def _file_of(path: str) -> list[str | int]:
    """What changes when an engraver's file does. Raises OSError where there is none."""
    status = Path(path).stat()
    return [str(Path(path).resolve()), status.st_size, status.st_mtime_ns]


def _notes() -> Path:
    return cache_folder() / "engraver.json"


def _remembered(path: str) -> Engraver | None:
    try:
        kept = json.loads(_notes().read_bytes())
        if kept["file"] == _file_of(path):
            return Engraver(path, str(kept["version"]), bool(kept["cairo"]))
    except (OSError, ValueError, KeyError, TypeError):
        pass
    return None


def _asked(path: str) -> Engraver:
    """An engraver's version, and whether it has Cairo: one built without it fails on an empty page."""
    answer = subprocess.run([path, "--version"], capture_output=True, text=True, timeout=60, check=True)
    version = answer.stdout.split("\n", 1)[0].removeprefix("GNU LilyPond ").split(" ")[0]
    own = temporary_folder()
    try:
        (own.path / "ask.ly").write_text('\\version "2.24.0"\n\\score { { c\'1 } }\n', encoding="utf-8")
        command = [path, "-dbackend=cairo", "--svg", "--loglevel=ERROR", "ask.ly"]
        done = subprocess.run(command, cwd=own.path, capture_output=True, text=True, timeout=120)
        found = Engraver(path, version, done.returncode == 0 and (own.path / "ask.svg").exists())
    finally:
        own.remove()
    with suppress(OSError):
        notes = {"file": _file_of(path), "version": version, "cairo": found.cairo}
        write_whole(_notes(), json.dumps(notes).encode())
    return found


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


class Desk:
    """An engraver at work. `head` is what all its pieces have in common: the style and the staff's size.

    `careful` leaves its memory to its own habits: slower, and safe for a piece of any size.
    """

    def __init__(self, path: str, options: Iterable[str], head: str, careful: bool = False) -> None:
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
            (self.folder / "desk.ly").write_text(f"{head}\n{loop}", encoding="utf-8")
            environment = {name: os.environ[name] for name in _KEPT if name in os.environ}
            self._process = subprocess.Popen(
                [path, *options, "desk.ly"],
                cwd=self.folder,
                env=environment | {"HOME": str(self.folder)},
                stdin=subprocess.PIPE,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.PIPE,
                start_new_session=True,
            )
        except OSError:
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
        limit = _SECONDS + characters // _CHARACTERS_A_SECOND
        end = f"{self._done} {name}".encode()
        said: list[str] = []
        self._late = time.monotonic() + limit
        for row in self._process.stderr:
            if row.strip() == end:
                self._late = None
                return said
            if row.strip() and not row.startswith(self._done.encode()):
                said.append(row.decode("utf-8", "replace").strip())
        status = self._process.wait()
        why = f"it was stopped after {limit} seconds" if self._stopped else _telling(said)
        raise DeskLost(why or f"it ended with status {status}", late=self._stopped)

    def _watch(self) -> None:
        """Stop it where a piece takes too long."""
        while not self._closed.wait(_WATCH):
            if self._late is not None and time.monotonic() > self._late:
                self._stopped = True
                self._kill()
                return

    def _kill(self) -> None:
        """End it and whatever it has started."""
        with suppress(OSError):
            if sys.platform == "win32":
                self._process.kill()
            else:
                os.killpg(self._process.pid, signal.SIGKILL)

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


def _telling(said: list[str]) -> str:
    """The engraver's line that says most about why it failed."""
    errors = (row for row in said if is_error(row))
    return next(errors, said[-1] if said else "")


def is_error(row: str) -> bool:
    """Whether a line of the engraver means that the piece has failed, and not only a warning of its own."""
    return "error:" in row and "programming error:" not in row
