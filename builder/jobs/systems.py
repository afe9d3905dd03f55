"""What processes and files do in another way on another system, in one place.

The branches for Windows have been tested only by tests that simulate it.
"""

from __future__ import annotations

import errno
import os
import shutil
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

_PAUSES = (0.05, 0.2, 0.5, 1.0)
"""Seconds before a name is tried once more, where another program has the file open for a moment."""


def own_session() -> dict[str, Any]:
    """Options of `subprocess.Popen` for a process that a key meant for the builder does not reach."""
    if sys.platform == "win32":
        return {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP}
    return {"start_new_session": True}


def kill_session(process: subprocess.Popen[bytes]) -> None:
    """End a process that `own_session` was given to, at once; except on Windows also what it has started."""
    with suppress(OSError):
        if sys.platform == "win32":
            process.kill()
        else:
            os.killpg(process.pid, signal.SIGKILL)


def is_closed_pipe(error: OSError) -> bool:
    """Whether nobody reads any more what was written.

    Windows says EINVAL of such a pipe, as the standard library's `subprocess` knows too.
    """
    return isinstance(error, BrokenPipeError) or (sys.platform == "win32" and error.errno == errno.EINVAL)


def rename(source: Path, to: Path) -> None:
    """Rename a file or a folder, over a file that may stand there. Raises OSError.

    Windows refuses while another program has one of them open. A search index or a virus scanner has it for
    a moment only, so it is tried again for two seconds.
    """
    for pause in (*_PAUSES, None):
        try:
            source.replace(to)
            return
        except PermissionError:
            if sys.platform != "win32" or pause is None:
                raise
            time.sleep(pause)


def find_on_path(name: str) -> str | None:
    """A program by the folders of PATH that are named in full: others depend on the working folder."""
    name = with_suffix(name)
    places = (str(Path(folder, name)) for folder in os.get_exec_path() if Path(folder).is_absolute())
    return next(filter(None, (shutil.which(place) for place in places)), None)


def with_suffix(name: str) -> str:
    """A program's name as its file is called; on Windows, `lilypond` is `lilypond.exe`."""
    return f"{name}.exe" if sys.platform == "win32" and not Path(name).suffix else name
