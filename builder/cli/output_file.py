"""Files written whole or not at all, and never over something that the program has not written."""

from __future__ import annotations

import os
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from ..book.read import BookProblem
from ..jobs.signals import signals_held
from ..jobs.systems import rename
from ..visible import visible
from .saying import short
from .selectors import WrongUse

_ENOUGH = 64 * 1024
"""Bytes from the start of a file that tell what it is."""


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of file: what it is called, and words of which its first bytes hold one where this is it."""

    name: str
    tells: bytes
    at_start: bool = True

    def is_in(self, data: bytes) -> bool:
        """Whether a file that begins with these bytes is of this kind."""
        return data.startswith(self.tells) if self.at_start else self.tells in data


PDF = Kind("PDF", b"%PDF-")
CALENDAR = Kind("calendar", b"BEGIN:VCALENDAR")
MIDI = Kind("MIDI file", b"MThd")
EXERCISE = Kind("text", b"")
MUSICXML = Kind("MusicXML file of this program", b"<software>Stavewright", at_start=False)


def target(out: Path, kind: Kind) -> Path:
    """Where a file goes: what a link leads to. Raises WrongUse where anything else but its kind is there."""
    try:
        if out.is_dir():
            inside = visible(out / "pages.pdf")
            raise WrongUse(
                f"{visible(out)}: cannot be written: it is a folder; name a file, such as {inside}"
            )
        real = out.resolve()
        status = real.lstat()
        if not stat.S_ISREG(status.st_mode):
            raise WrongUse(f"{visible(out)}: cannot be written: it is a device or the like; name a file")
        with real.open("rb") as file:
            begins = file.read(_ENOUGH)
    except FileNotFoundError:
        return real
    except (OSError, RuntimeError) as error:
        why = error.strerror if isinstance(error, OSError) else "the link leads to itself"
        raise WrongUse(f"{short(out)}: cannot be written: {why}") from None
    if begins and not kind.is_in(begins):
        what = f"is not overwritten: it is not a {kind.name}; name another file, or remove it"
        raise WrongUse(f"{visible(out)}: {what}")
    return real


@contextmanager
def fresh_file(out: Path, kind: Kind) -> Iterator[Path]:
    """A file beside the one to write, made before any work begins; the earlier file stays until the end.

    `put_in_place` moves it there. Raises WrongUse where nothing can be written there, or something else is.
    """
    real = target(out, kind)
    fresh: Path | None = None
    try:
        with signals_held():
            fresh = _made_beside(real, out)
        # A temporary file is for its owner alone; the finished one has the rights of any new file.
        umask = os.umask(0)
        os.umask(umask)
        fresh.chmod(0o666 & ~umask)
        yield fresh
    except OSError as error:
        raise BookProblem(f"{visible(out)}: cannot be written: {error.strerror}") from None
    finally:
        if fresh is not None:
            with suppress(OSError):
                fresh.unlink(missing_ok=True)


def _made_beside(real: Path, out: Path) -> Path:
    try:
        handle, name = tempfile.mkstemp(prefix=".new-", dir=real.parent)
    except OSError as error:
        raise WrongUse(f"{short(out)}: cannot be written: {error.strerror}") from None
    os.close(handle)
    return Path(name)


def put_in_place(fresh: Path, out: Path, kind: Kind) -> None:
    """Move a finished file to its place. Raises WrongUse where something else has come there meanwhile."""
    rename(fresh, target(out, kind))
