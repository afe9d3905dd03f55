"""Files written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from builder.book import BookProblem
from builder.visible import visible

from .saying import short
from .wishes import WrongUse


@contextmanager
def fresh_file(out: Path) -> Iterator[Path]:
    """A file beside the one to write, made before any work begins; the earlier file stays until the end.

    Raises WrongUse where nothing can be written there.
    """
    try:
        if out.is_dir():
            file = visible(out / "pages.pdf")
            raise WrongUse(f"{visible(out)}: cannot be written: it is a folder; name a file, such as {file}")
        handle, name = tempfile.mkstemp(prefix=f".{out.name}.", dir=out.parent)
    except OSError as error:
        raise WrongUse(f"{short(out)}: cannot be written: {error.strerror}") from None
    os.close(handle)
    fresh = Path(name)
    try:
        # A temporary file is for its owner alone; the finished one has the rights of any new file.
        umask = os.umask(0)
        os.umask(umask)
        fresh.chmod(0o666 & ~umask)
        yield fresh
    except OSError as error:
        raise BookProblem(f"{visible(out)}: cannot be written: {error.strerror}") from None
    finally:
        fresh.unlink(missing_ok=True)
