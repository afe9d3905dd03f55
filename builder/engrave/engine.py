"""The engraver: where it is, what it can do, and one run of it."""

from __future__ import annotations

import os
import shutil
import subprocess
from dataclasses import dataclass
from functools import cache
from pathlib import Path

_SECONDS_A_PIECE = 5
_SECONDS_AT_LEAST = 60


class EngraverMissing(Exception):
    """Raised where no usable engraver is found; the text says how to get one."""


@dataclass(frozen=True, slots=True)
class Engraver:
    """An engraver that answered: `cairo` tells whether it draws SVG and PDF with that library."""

    path: str
    version: str
    cairo: bool

    @property
    def options(self) -> tuple[str, ...]:
        """Command-line options that make it write both SVG and PDF, as far as it can."""
        common = ("--loglevel=WARNING", "-dno-point-and-click")
        return (*common, "-dbackend=cairo", "--svg", "--pdf") if self.cairo else common


@dataclass(frozen=True, slots=True)
class Run:
    """What a run left: its exit status (None where it was stopped) and what it said."""

    status: int | None
    said: str


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

    Raises EngraverMissing.
    """
    tried = []
    for path in _candidates():
        try:
            answer = subprocess.run(
                [path, "--version"], capture_output=True, text=True, timeout=60, check=True
            )
        except (OSError, subprocess.SubprocessError) as error:
            tried.append(f"{Path(path).name}: {error.__class__.__name__}")
            continue
        version = answer.stdout.split("\n", 1)[0].removeprefix("GNU LilyPond ").split(" ")[0]
        return Engraver(path, version, _draws_with_cairo(path))
    detail = f" (tried {', '.join(tried)})" if tried else ""
    raise EngraverMissing(
        f"no engraver was found{detail}; install one with `pip install 'lilypond>=2.24,<2.25'`, "
        "or put LilyPond 2.24 or later on the path"
    )


def _draws_with_cairo(path: str) -> bool:
    """Ask for Cairo on an empty page; an engraver built without it says so and fails."""
    import tempfile

    with tempfile.TemporaryDirectory(prefix="stavewright-") as folder:
        Path(folder, "ask.ly").write_text('\\version "2.24.0"\n\\score { { c\'1 } }\n', encoding="utf-8")
        command = [path, "-dbackend=cairo", "--svg", "--loglevel=ERROR", "ask.ly"]
        done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=120)
        return done.returncode == 0 and Path(folder, "ask.svg").exists()


def run(engraver: Engraver, folder: Path, source: str, pieces: int) -> Run:
    """Engrave one file inside a folder of its own.

    The engraver does not see the user's environment. It is stopped after a time in keeping with the number
    of pieces. Without Cairo it runs twice, for SVG and for PDF.
    """
    environment = {
        name: value
        for name, value in os.environ.items()
        if name in ("PATH", "LANG", "LC_ALL", "SYSTEMROOT", "TMPDIR", "TEMP", "TMP", "FONTCONFIG_FILE")
    }
    environment["HOME"] = str(folder)
    limit = _SECONDS_AT_LEAST + _SECONDS_A_PIECE * pieces
    passes = (
        [engraver.options] if engraver.cairo else [(*engraver.options, "-dbackend=svg"), engraver.options]
    )
    said = ""
    for options in passes:
        (folder / "systems.txt").unlink(missing_ok=True)
        command = [engraver.path, *options, "-o", ".", source]
        try:
            done = subprocess.run(
                command,
                cwd=folder,
                env=environment,
                capture_output=True,
                timeout=limit,
                stdin=subprocess.DEVNULL,
            )
        except subprocess.TimeoutExpired:
            return Run(None, f"it was stopped after {limit} seconds")
        said += done.stderr.decode("utf-8", "replace")
        if done.returncode:
            return Run(done.returncode, said)
    return Run(0, said)
