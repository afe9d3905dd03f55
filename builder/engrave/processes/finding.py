"""Finds an engraver that this machine has, and remembers what it can do."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from threading import Timer

from ...cache.store import folder as cache_folder
from ...cache.store import write_whole
from ...jobs.folders import temporary_folder
from ...jobs.systems import find_on_path, kill_session, with_suffix
from .lilypond import SECONDS, Engraver, EngraverAtFault, EngraverMissing, no_room_left, start_engraver
from .talk import ROW

_OLDEST = (2, 24)


class _Unfit(Exception):
    """Raised where a program cannot be used as an engraver; the text says why."""


def _candidates() -> list[str]:
    """Where an engraver may be, in full: a file of the working folder is none unless it is named as one."""
    named = os.environ.get("STAVEWRIGHT_LILYPOND")
    if named:
        if Path(named).name != named:
            return [with_suffix(str(Path(named).absolute()))]
        found = find_on_path(named)
        if not found:
            raise EngraverMissing(
                f"STAVEWRIGHT_LILYPOND names {named}, which is in no folder of PATH; give its whole path"
            )
        return [found]
    candidates = []
    try:
        import lilypond

        candidates.append(str(lilypond.executable()))
    except ImportError:
        pass
    on_path = find_on_path("lilypond")
    return candidates + ([on_path] if on_path else [])


@cache
def find_engraver() -> Engraver:
    """The first engraver that can be used: the installed package's, then the one on the path.

    What it can do is remembered beside the cache until its file changes. Raises EngraverMissing.
    """
    tried = []
    for path in _candidates():
        try:
            return _remembered(path) or _learned(path)
        except _Unfit as reason:
            tried.append(f"{path}: {reason}")
        except OSError as error:
            tried.append(f"{path}: {error.strerror or error}")
    if full := no_room_left():
        raise EngraverAtFault(f"nothing can be engraved: {full}")
    raise EngraverMissing(_none_found(tried))


@dataclass(frozen=True, slots=True)
class Candidate:
    """A program that may be an engraver, looked at but not tried.

    `cairo` is None where that is not known yet. `unfit` says why it cannot be used; it is empty where it can.
    """

    path: str
    version: str = ""
    cairo: bool | None = None
    unfit: str = ""


def look_at_engravers() -> list[Candidate]:
    """Every program that may be the engraver, in the order in which they are tried; nothing is engraved.

    Raises EngraverMissing where the one that the user names cannot be found.
    """
    return [_looked_at(path) for path in _candidates()]


def _looked_at(path: str) -> Candidate:
    try:
        if known := _remembered(path):
            return Candidate(path, known.version, known.cairo)
        return Candidate(path, _version(path))
    except _Unfit as reason:
        return Candidate(path, unfit=str(reason))
    except OSError as error:
        return Candidate(path, unfit=str(error.strerror or error))


def look_for_engraver() -> None:
    """Look whether there is a program to try as an engraver; none is started. Raises EngraverMissing."""
    tried = []
    for path in _candidates():
        if shutil.which(path):
            return
        tried.append(f"{path}: this is no program")
    raise EngraverMissing(_none_found(tried))


def _none_found(tried: list[str]) -> str:
    detail = f" (tried {'; '.join(tried)})" if tried else ""
    return (
        f"no usable engraver was found{detail}; install one with `pip install 'lilypond>=2.24,<2.25'`, "
        "or put LilyPond 2.24 or later on the path"
    )


def _file_of(path: str) -> list[str | int]:
    """What changes when an engraver's file does. Raises OSError where there is none."""
    status = Path(path).stat()
    return [str(Path(path).resolve()), status.st_size, status.st_mtime_ns]


def _notes() -> Path:
    return cache_folder() / "engraver.json"


def _remembered(path: str) -> Engraver | None:
    from ..piece import code

    try:
        kept = json.loads(_notes().read_bytes())
        if kept["file"] == _file_of(path) and kept["code"] == code():
            return Engraver(path, str(kept["version"]), bool(kept["cairo"]))
    except (OSError, ValueError, KeyError, TypeError):
        pass
    return None


def _learned(path: str) -> Engraver:
    """An engraver that has engraved a small piece, with Cairo if it can. Raises what find_engraver tells."""
    from ..piece import Blame, code
    from .trial import find_trial_failure

    version, said = _version(path), ""
    for cairo in (True, False):
        found = Engraver(path, version, cairo)
        failure = find_trial_failure(found)
        if failure is None:
            with suppress(OSError):
                notes = {"file": _file_of(path), "code": code(), "version": version, "cairo": cairo}
                write_whole(_notes(), json.dumps(notes).encode())
            return found
        said = failure.said
        if failure.blame is not Blame.PIECE:
            # It would take as long again.
            break
    raise _Unfit(f"LilyPond {version} fails on a small piece: {said}")


def _version(path: str) -> str:
    """What an engraver says of its version. Raises _Unfit, and OSError where it cannot be run."""
    own = temporary_folder()
    try:
        nothing = subprocess.DEVNULL
        process = start_engraver([path, "--version"], own.path, nothing, subprocess.PIPE, nothing)
        late = Timer(SECONDS, kill_session, [process])
        late.daemon = True
        late.start()
        assert process.stdout is not None
        with process.stdout:
            said = process.stdout.read(ROW).decode("utf-8", "replace")
        late.cancel()
        kill_session(process)
        process.wait()
    finally:
        own.remove()
    found = re.match(r"GNU LilyPond ((\d+)\.(\d+)[\w.]*)", said)
    if not found:
        row = said.strip().partition("\n")[0][:80]
        raise _Unfit(
            f"asked for its version, it says {row!r}; LilyPond does not" if row else "it says no version"
        )
    if (int(found[2]), int(found[3])) < _OLDEST:
        raise _Unfit(f"it is LilyPond {found[1]}, which is too old")
    return found[1]
