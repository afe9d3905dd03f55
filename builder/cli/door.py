"""The door of the command line: what the system refuses becomes one line and a status, and no traceback.

A fault of this program is none of the system's: it goes through as it is.
"""

from __future__ import annotations

import errno
import io
import os
import sys
from collections.abc import Callable
from contextlib import suppress
from typing import TextIO

_REFUSALS = {
    errno.EACCES,
    errno.EDQUOT,
    errno.EIO,
    errno.EMFILE,
    errno.ENFILE,
    errno.ENOMEM,
    errno.ENOSPC,
    errno.EPERM,
    errno.EROFS,
}
"""What a system may say of a command that is in order."""


def through_door(run: Callable[[], int]) -> int:
    """Run a command; returns its exit status, and 1 where its words or its files found no place.

    Raises whatever is no refusal of the system, SystemExit among it.
    """
    _open_what_is_closed()
    for stream in (sys.stdout, sys.stderr):
        # A file's name may hold bytes that are no text.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    try:
        try:
            return run()
        finally:
            # Here, and not when Python ends: only here can it be told.
            _flush()
    except BrokenPipeError as error:
        if not _is_output_lost():
            raise
        # Whoever read the words wants no more of them.
        del error
        return 1
    except OSError as error:
        lost = _is_output_lost()
        if not lost and error.filename is None and error.errno not in _REFUSALS:
            raise
        where = "the output" if lost else str(error.filename or "a file")
        with suppress(OSError):
            print(f"{where}: cannot be read or written: {error.strerror}", file=sys.stderr)
        return 1


def _flush() -> None:
    for stream in (sys.stdout, sys.stderr):
        stream.flush()


def _is_output_lost() -> bool:
    """Whether words are left that cannot be written; they are then dropped for good."""
    lost = False
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except OSError:
            lost = True
            _drop(stream)
    return lost


def _drop(stream: TextIO) -> None:
    """Let a stream write into nothing, so that Python does not try once more when it ends."""
    with suppress(OSError):
        nothing = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nothing, stream.fileno())
        os.close(nothing)
        stream.flush()


def _open_what_is_closed() -> None:
    """Lead each closed standard stream to nothing; else the next file opened would take its number.

    What other programs write to their errors would then stand in a page of the site.
    """
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            os.set_inheritable(os.open(os.devnull, os.O_RDWR), True)
    if sys.stdin is None:
        sys.stdin = open(0, closefd=False)  # noqa: SIM115
    if sys.stdout is None:
        sys.stdout = open(1, "w", closefd=False)  # noqa: SIM115
    if sys.stderr is None:
        sys.stderr = open(2, "w", closefd=False)  # noqa: SIM115
