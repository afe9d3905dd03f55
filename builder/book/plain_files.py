"""Files of a book, read only where they are files."""

from __future__ import annotations

import errno
import stat
from pathlib import Path


def read_plain_file(path: Path, most: int) -> bytes:
    """At most `most` bytes of a file. Raises OSError, also for a folder, a pipe or a device.

    To open a pipe would wait for somebody to write into it.
    """
    try:
        mode = path.stat().st_mode
    except ValueError as error:
        raise OSError(errno.EINVAL, str(error)) from None
    if stat.S_ISDIR(mode):
        raise IsADirectoryError(errno.EISDIR, "it is a folder")
    if not stat.S_ISREG(mode):
        raise OSError(errno.EINVAL, "it is a pipe or a device, and no file")
    with path.open("rb") as file:
        return file.read(most)
