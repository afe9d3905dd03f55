"""Working folders of this program, and the proof by which one that was left over is removed.

Beside each folder lies its mark, `NAME.mark`: a file of known words and the folder's name, which has a random
number of 64 bits. The process that made the folder holds an exclusive lock on the mark as long as it lives.
A process that is killed leaves both. They are removed only where

- the mark is a file of this user's with exactly these words,
- the folder is one of this user's, and no link,
- and nobody holds the lock.

A name or an age proves nothing. A folder without a mark is left alone, whatever it is called.
"""

from __future__ import annotations

import atexit
import os
import re
import secrets
import shutil
import stat
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from pathlib import Path

from .signals import signals_held

TEMPORARY = "stavewright-"
"""How the names of working folders in the temporary folder begin."""

_PAUSES = (0.01, 0.05, 0.2, 0.5)
"""Seconds before a folder is removed once more: a process that was killed may write a last file into it."""

_MARK = ".mark"
_NUMBER = re.compile(r"[0-9a-f]{16}")
_WORDS = (
    "Stavewright made the folder {name} for its work.\n"
    "It removes the folder and this file when the process that made them has ended.\n"
)
_FLAGS = os.O_RDWR | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)
_BEYOND = 1 << 20
"""The byte that is locked on Windows, beyond the words, which others must be able to read."""


class WorkingFolder:
    """A folder of this program's own at `path`. While it is held, no other process removes it."""

    def __init__(self, path: Path, lock: int | None) -> None:
        """`lock` is the open mark, locked; None where the disk has no locks, and then there is no mark."""
        self.path = path
        self._lock = lock
        self._process = os.getpid()
        self._held = True

    @classmethod
    def make(cls, parent: Path, prefix: str, mode: int = 0o700) -> WorkingFolder:
        """A new, empty folder in `parent`; `mode` as for `mkdir`. Raises OSError.

        The caller holds signals until it has noted the folder, or a signal may leave it behind.
        """
        with signals_held():
            path = parent / f"{prefix}{secrets.token_hex(8)}"
            mark = _mark_of(path)
            lock: int | None = os.open(mark, _FLAGS | os.O_CREAT | os.O_EXCL, 0o600)
            assert lock is not None
            try:
                # Locked before it has its words: without them it proves nothing to others.
                if _locked(lock):
                    os.write(lock, _words_for(path))
                else:
                    os.close(lock)
                    lock = None
                    mark.unlink()
                path.mkdir(mode)
            except OSError:
                _give_up(mark, lock)
                raise
            return cls(path, lock)

    def remove(self) -> None:
        """Remove it with all it holds, and its mark; nothing where that is done already."""
        with signals_held():
            if self._held:
                _remove_tree(self.path)
                # What could not be removed keeps its mark, and is removed another time.
                self._let_go(with_mark=not os.path.lexists(self.path))

    def leave(self) -> None:
        """Remove its mark alone: nobody will ever take it for a working folder again."""
        self._let_go(with_mark=True)

    def _let_go(self, with_mark: bool) -> None:
        if self._held:
            self._held = False
            _at_exit.discard(self)
            if with_mark:
                _give_up(_mark_of(self.path), self._lock)
            elif self._lock is not None:
                os.close(self._lock)

    def remove_at_exit(self) -> WorkingFolder:
        """Itself; it is removed when this process ends, if it is still there."""
        _at_exit.add(self)
        return self

    def _end(self) -> None:
        # A process forked from this one ends without touching what is its parent's.
        if self._process == os.getpid():
            self.remove()


_at_exit: set[WorkingFolder] = set()


@atexit.register
def _remove_all() -> None:
    for folder in list(_at_exit):
        folder._end()


def temporary_folder() -> WorkingFolder:
    """A working folder in the temporary folder, removed when this process ends at the latest.

    The first of a process removes what killed processes have left there. Raises OSError.
    """
    parent = Path(tempfile.gettempdir())
    _sweep(parent)
    with signals_held():
        return WorkingFolder.make(parent, TEMPORARY).remove_at_exit()


@cache
def _sweep(parent: Path) -> None:
    remove_left_over(parent)


def remove_left_over(parent: Path | None = None) -> None:
    """Remove what killed processes have left in a folder, by default the temporary one."""
    for folder in left_over(parent or Path(tempfile.gettempdir()), TEMPORARY):
        folder.remove()


def _remove_tree(path: Path) -> None:
    """Remove a folder with all it holds, as far as that can be done."""
    for pause in (*_PAUSES, None):
        shutil.rmtree(path, ignore_errors=True)
        if pause is None or not os.path.lexists(path):
            return
        time.sleep(pause)


def left_over(parent: Path, prefix: str) -> list[WorkingFolder]:
    """The working folders in `parent` whose process has ended. They are now held by this one.

    Of some there may be no more than the mark.
    """
    found = []
    with suppress(OSError):
        for name in sorted(path.name for path in parent.iterdir()):
            number = name.removeprefix(prefix).removesuffix(_MARK)
            if name == f"{prefix}{number}{_MARK}" and _NUMBER.fullmatch(number):
                found.append(_taken_over(parent / f"{prefix}{number}"))
    return [folder for folder in found if folder is not None]


def is_marked(path: Path) -> bool:
    """Whether a mark lies beside a folder, right or not, held or not."""
    return os.path.lexists(_mark_of(path))


def _taken_over(path: Path) -> WorkingFolder | None:
    """A folder that is proved to be left over, its lock held from now on; else None."""
    mark = _mark_of(path)
    try:
        handle = os.open(mark, _FLAGS | getattr(os, "O_NONBLOCK", 0))
    except OSError:
        return None
    with suppress(OSError):
        words = _words_for(path)
        if (
            is_own(os.fstat(handle), stat.S_ISREG)
            and os.read(handle, len(words) + 1) == words
            and (not os.path.lexists(path) or is_own(path.lstat(), stat.S_ISDIR))
            and _locked(handle)
            # It may have been removed before it was locked.
            and os.path.samestat(os.fstat(handle), mark.lstat())
        ):
            return WorkingFolder(path, handle)
    os.close(handle)
    return None


def is_own(status: os.stat_result, kind: Callable[[int], bool]) -> bool:
    """Whether something is of a kind, as `stat.S_ISDIR` tells it, and belongs to this user."""
    return kind(status.st_mode) and (sys.platform == "win32" or status.st_uid == os.geteuid())


def _mark_of(path: Path) -> Path:
    return path.with_name(path.name + _MARK)


def _words_for(path: Path) -> bytes:
    return os.fsencode(_WORDS.format(name=path.name))


def _locked(handle: int) -> bool:
    """Lock an open file until it is closed; False where another has it, or the disk has no locks."""
    try:
        if sys.platform == "win32":
            import msvcrt

            os.lseek(handle, _BEYOND, os.SEEK_SET)
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
            os.lseek(handle, 0, os.SEEK_SET)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _give_up(mark: Path, lock: int | None) -> None:
    """Remove a mark that is held, and let its lock go."""
    if lock is None:
        return
    if sys.platform == "win32":
        # An open file cannot be removed there.
        os.close(lock)
    with suppress(OSError):
        mark.unlink()
    if sys.platform != "win32":
        os.close(lock)
