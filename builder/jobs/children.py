"""Processes that the builder starts for itself. They import nothing of the working folder.

Started by `python -m`, a process would look for every module in the working folder first, and run a
`random.py` that somebody left there. So it is started by the path of a file (`child.py`), with Python's
option -P, and it is handed the builder's own import path without the working folder. The builder's code is
found by its own place, so that a source checkout works from its root too. Whoever needs a module of the
working folder in such a process installs it, or puts another folder on PYTHONPATH.

What the builder and the process say to each other goes through two pipes of their own. Standard input is
empty from the start, and what is printed goes where messages go.
"""

from __future__ import annotations

import json
import os
import secrets
import subprocess
import sys
import sysconfig
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from .systems import own_session

_OWN_PIPES = sys.platform != "win32"
"""Whether a process can be handed pipes beside the standard ones; elsewhere it takes those at once."""


@dataclass(slots=True)
class Child:
    """A process of the builder's. `questions` goes there, `answers` comes from there."""

    process: subprocess.Popen[bytes]
    questions: BinaryIO
    answers: BinaryIO
    _mark: bytes

    def listen(self) -> BinaryIO:
        """Where its answers are read, after anything that was printed before it began. Raises EOFError."""
        seen = b""
        while not seen.endswith(self._mark):
            sign = self.answers.read(1)
            if not sign:
                raise EOFError
            seen = (seen + sign)[-len(self._mark) :]
        self._mark = b""
        return self.answers

    def close(self) -> None:
        """Close the pipes."""
        for pipe in (self.questions, self.answers):
            with suppress(OSError):
                pipe.close()


def start_child(module: str, *words: str) -> Child:
    """A process that runs a module's `main(source, sink, *words)`, in a session of its own. Raises OSError.

    A key that is meant for the builder does not reach it, and it ends together with what it has started.
    """
    command = [sys.executable, *_options(), str(Path(__file__).with_name("child.py")), module]
    if _OWN_PIPES:
        child = _with_own_pipes(command, words)
    else:
        process = subprocess.Popen(
            [*command, "0", "1", *words],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=_environment(),
            **own_session(),
        )
        assert process.stdin is not None
        assert process.stdout is not None
        mark = secrets.token_hex(16)
        child = Child(process, process.stdin, process.stdout, mark.encode())  # type: ignore[arg-type]
    told = {"path": import_path(), "mark": child._mark.decode()}
    with suppress(OSError):
        # Where it is gone already, whoever asks it something learns so.
        child.questions.write(json.dumps(told).encode() + b"\n")
        child.questions.flush()
    return child


def _with_own_pipes(command: list[str], words: tuple[str, ...]) -> Child:
    ends: list[int] = []
    # Without standard error, its number may by now be that of any file.
    messages = subprocess.DEVNULL if sys.__stderr__ is None else 2
    try:
        for _ in range(2):
            ends += _pipe()
        source, questions, answers, sink = ends
        process = subprocess.Popen(
            [*command, str(source), str(sink), *words],
            stdin=subprocess.DEVNULL,
            stdout=messages,
            stderr=messages,
            env=_environment(),
            pass_fds=(source, sink),
            **own_session(),
        )
    except OSError:
        for end in ends:
            os.close(end)
        raise
    os.close(source)
    os.close(sink)
    return Child(process, os.fdopen(questions, "wb"), os.fdopen(answers, "rb"), b"")


def _pipe() -> tuple[int, int]:
    """A pipe whose ends are none of the first three files, which belong to the standard ones in a process."""
    ends = os.pipe()
    low = [end for end in ends if end < 3]
    if not low:
        return ends
    try:
        return _pipe()
    finally:
        for end in ends:
            os.close(end)


def import_path() -> list[str]:
    """This process's import path without the working folder."""
    return [entry for entry in sys.path if isinstance(entry, str) and not _is_working_folder(entry)]


def _is_working_folder(entry: str) -> bool:
    """Whether an entry of an import path leads to the working folder, and that is not Python's own."""
    if entry in ("", os.curdir):
        return True
    try:
        same = Path(entry).samefile(os.curdir)
    except (OSError, ValueError):
        return False
    return same and entry not in sysconfig.get_paths().values()


def _options() -> list[str]:
    """Options that this Python was given and a process of it needs too; -P keeps the working folder out."""
    flags = sys.flags
    options = ["-P", *["-O"] * flags.optimize]
    options += ["-I"] * flags.isolated + ["-E"] * flags.ignore_environment + ["-s"] * flags.no_user_site
    options += ["-S"] * flags.no_site + ["-B"] * flags.dont_write_bytecode
    return [*options, "-X", f"utf8={flags.utf8_mode}"]


def _environment() -> dict[str, str]:
    """The environment, without the working folder among the places of modules."""
    found = os.environ.get("PYTHONPATH")
    if found is None:
        return dict(os.environ)
    entries = [entry for entry in found.split(os.pathsep) if not _is_working_folder(entry)]
    return os.environ | {"PYTHONPATH": os.pathsep.join(entries)}
