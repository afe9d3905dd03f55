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

from ..jobs.systems import is_closed_pipe
from .saying import OutputLost, say, short

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
    except OutputLost as lost:
        # Whoever has closed a pipe has read enough and wants no word of it.
        reason = lost.__cause__
        if isinstance(reason, OSError) and not is_closed_pipe(reason):
            _tell(f"the output cannot be written: {reason.strerror}")
        return 1
    except OSError as error:
        if error.filename is None and error.errno not in _REFUSALS:
            raise
        where = f"{short(error.filename)}: " if error.filename is not None else ""
        _tell(f"{where}this cannot be read or written: {error.strerror}")
        return 1


def _tell(message: str) -> None:
    with suppress(OutputLost):
        try:
            say(message, sys.stderr)
        finally:
            _flush()


def _flush() -> None:
    """Write what is not written yet. Raises OutputLost."""
    lost: OSError | None = None
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except OSError as error:
            lost = lost or error
            _drop(stream)
    if lost is not None:
        raise OutputLost from lost


def _drop(stream: TextIO) -> None:
    """Let a stream write into nothing, so that Python does not try once more when it ends."""
    with suppress(OSError):
        nothing = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nothing, stream.fileno())
        os.close(nothing)


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
