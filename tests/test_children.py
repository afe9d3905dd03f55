"""Processes that the builder starts: nothing of the working folder is run, nothing printed is an answer."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import sweep
from made_site import keep_language

import stavewright
from stavewright.engrave.piece import Engraved, Piece
from stavewright.engrave.processes import worker_processes as processes
from stavewright.engrave.processes.worker_processes import WorkerLost, WorkerProcess
from stavewright.jobs import children
from stavewright.jobs.children import import_path, start_child

SPEAKER = """\
import os, sys
def main(source, sink, *words):
    print("printed", flush=True)
    os.write(1, b"written")
    import random
    told = {"path": sys.path, "words": words, "random": random.__file__, "in": sys.stdin.read(),
            "optimize": sys.flags.optimize, "package": sys.modules["stavewright"].__file__}
    sink.write(repr(told).encode())
    sink.flush()
"""
MEAN = "from pathlib import Path\nPath({place!r}).touch()\n"
"""A module that leaves a trace where it is run."""

SHADOWS = ("pickle", "random", "json", "struct", "abjad", "stavewright", "sitecustomize", "usercustomize")

SOUND = Piece("sound", "\\score { \\new Staff { c'1 } }\n")


@pytest.fixture
def trap(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The working folder, full of modules that are not ours; the file that says whether one was run."""
    place, ran = tmp_path / "trap", tmp_path / "ran"
    place.mkdir()
    for name in SHADOWS:
        (place / f"{name}.py").write_text(MEAN.format(place=str(ran)))
    monkeypatch.chdir(place)
    return ran


@pytest.fixture
def speaker(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., dict[str, object]]:
    """Starts a process that says what it has been given."""
    (tmp_path / "modules").mkdir()
    (tmp_path / "modules" / "speaker.py").write_text(SPEAKER)
    monkeypatch.syspath_prepend(str(tmp_path / "modules"))

    def speak(*words: str) -> dict[str, object]:
        child = start_child("speaker", *words)
        said = child.listen().read().decode()
        child.close()
        assert child.process.wait() == 0
        found: dict[str, object] = eval(said)
        return found

    return speak


@pytest.mark.parametrize("own_pipes", [True, False])
@pytest.mark.parametrize("entry", ["", ".", "here"])
def test_a_process_has_the_builders_path_without_the_working_folder(
    own_pipes: bool,
    entry: str,
    trap: Path,
    speaker: Callable[..., dict[str, object]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(children, "_OWN_PIPES", own_pipes and children._OWN_PIPES)
    here = str(Path.cwd()) if entry == "here" else entry
    monkeypatch.syspath_prepend(here)
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join([here, str(trap.parent / "elsewhere")]))
    said = speaker("one", "two words")
    assert said["path"] == import_path() == [name for name in sys.path if name != here]
    assert said["words"] == ("one", "two words")
    assert said["in"] == ""
    assert said["package"] == stavewright.__file__
    assert not trap.exists()


def test_the_working_folder_stays_where_it_is_pythons_own(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever stands in the folder of installed packages still has them."""
    place = Path(os.__file__).parent
    monkeypatch.chdir(place)
    assert str(place) in sys.path
    assert str(place) in import_path()


@pytest.mark.parametrize("own_pipes", [True, False])
def test_what_is_printed_while_python_starts_is_no_answer(
    own_pipes: bool,
    tmp_path: Path,
    speaker: Callable[..., dict[str, object]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """As a `sitecustomize` does, which is run before any line of ours."""
    monkeypatch.setattr(children, "_OWN_PIPES", own_pipes and children._OWN_PIPES)
    place = tmp_path / "loud"
    place.mkdir()
    (place / "sitecustomize.py").write_text(
        "import os, sys\nprint('loud ' * 9999)\nos.write(1, b'louder')\nprint(end='last', flush=True)\n"
    )
    monkeypatch.setenv("PYTHONPATH", str(place))
    assert speaker("word")["words"] == ("word",)
    process = WorkerProcess()
    try:
        [(key, result)] = process.run([("00aa", SOUND)])
    finally:
        process.close()
    assert key == "00aa"
    assert isinstance(result, Engraved)


def test_a_process_works_where_standard_files_are_closed(tmp_path: Path) -> None:
    """Numbers 0 to 2 are then given to whatever is opened next."""
    code = (
        "import os\nfor number in (0, 1, 2): os.close(number)\nimport sys\n"
        "sys.stdin = sys.stdout = sys.stderr = sys.__stdin__ = sys.__stdout__ = sys.__stderr__ = None\n"
        "from pathlib import Path\nfrom stavewright.engrave.processes.worker_processes import WorkerProcess\n"
        "from stavewright.engrave.piece import Piece\n"
        "process = WorkerProcess()\n[(key, result)] = process.run([('00aa', Piece('sound', sys.argv[1]))])\n"
        "process.close()\nPath(sys.argv[2]).write_text(type(result).__name__)\n"
    )
    told = tmp_path / "told"
    subprocess.run([sys.executable, "-c", code, str(SOUND.music), str(told)], check=True)
    assert told.read_text() == "Engraved"


def build(folder: Path, *python: str, **more: str) -> subprocess.CompletedProcess[str]:
    """A build from the working folder by a Python with options, with workers and helpers of its own."""
    command = [sys.executable, *python, "build", "--book", str(folder), "--jobs", "2"]
    keep_language(folder.parent / "pieces")
    environment = os.environ | {"STAVEWRIGHT_CACHE": str(folder.parent / "pieces")} | more
    return subprocess.run(command, env=environment, capture_output=True, text=True)


COMMAND = "import sys; from stavewright.cli import command; sys.exit(command())"


@pytest.mark.every_core
@sweep("options", [[], ["-O"], ["-I"]], ids=["plain", "O", "I"], every_day=1)
def test_nothing_of_the_working_folder_is_run_by_a_build(
    options: list[str],
    trap: Path,
    book: Callable[[dict[str, str | bytes]], Path],
    two_keys: Callable[[str], str],
) -> None:
    """The modules lie in the book's own folder too. Its pages are whole."""
    folder = book({"tiny": two_keys("Tiny")})
    for path in Path().glob("*.py"):
        shutil.copy(path, folder)
    done = build(folder, *options, "-P", "-c", COMMAND)
    assert (done.returncode, done.stderr) == (0, "")
    assert not trap.exists()
    assert list(folder.glob("site/print/**/*.pdf"))
    assert "<svg" in (folder / "site/exercises/tiny/d/index.html").read_text()


@pytest.mark.exhaustive
@pytest.mark.every_core
def test_a_source_checkout_works_from_its_root(
    trap: Path, tmp_path: Path, book: Callable[[dict[str, str | bytes]], Path], two_keys: Callable[[str], str]
) -> None:
    """`python -m stavewright`: the working folder, where it lies, comes after Python's own modules."""
    root = Path(stavewright.__file__).parent.parent
    for name, folder_name in (("stavewright", "builder"), ("site_src", "site_src")):
        Path(name).symlink_to(root / folder_name)
    Path("stavewright.py").unlink()
    Path("sitecustomize.py").unlink()
    folder = book({"tiny": two_keys("Tiny")})
    done = build(folder, "-m", "stavewright")
    assert (done.returncode, done.stderr) == (0, "")
    assert not trap.exists()


@pytest.mark.exhaustive
@pytest.mark.every_core
def test_an_unpacked_wheel_on_pythonpath_works(
    trap: Path, tmp_path: Path, book: Callable[[dict[str, str | bytes]], Path], two_keys: Callable[[str], str]
) -> None:
    """Only that code is run, in processes too: here, another version of it."""
    root = Path(stavewright.__file__).parent.parent
    wheel = tmp_path / "wheel"
    shutil.copytree(root / "builder", wheel / "stavewright", ignore=shutil.ignore_patterns("__pycache__"))
    folder = book({"tiny": two_keys("Tiny")})
    (wheel / "stavewright" / "engrave" / "processes" / "worker.py").open("a").write(
        f"\nPath({str(tmp_path / 'worked')!r}).touch()\n"
    )
    done = build(folder, "-P", "-c", COMMAND, PYTHONPATH=str(wheel))
    assert (done.returncode, done.stderr) == (0, "")
    assert (tmp_path / "worked").exists()
    assert not trap.exists()


# Workers that are lost say why.


@pytest.fixture
def broken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], WorkerProcess]:
    """A worker that goes another way from its start, in a line of Python."""

    def put(line: str) -> WorkerProcess:
        (tmp_path / "broken_worker.py").write_text(
            f"import os, signal, sys, time\ndef main(source, sink):\n    {line}\n"
        )
        monkeypatch.syspath_prepend(str(tmp_path))
        monkeypatch.setattr(processes, "start_child", lambda module: start_child("broken_worker"))
        return WorkerProcess()

    return put


@pytest.mark.skipif(sys.platform == "win32", reason="a process there does not end by a signal")
@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("os.kill(os.getpid(), signal.SIGKILL)", "ended from outside (SIGKILL, as it happens where memory"),
        ("os._exit(7)", "ended by itself, with status 7"),
        (
            "sink.write(b'rubbish, and no end of it'); sink.flush(); time.sleep(60)",
            "its answer is not a drawing",
        ),
    ],
)
def test_a_lost_worker_says_why(line: str, said: str, broken: Callable[[str], WorkerProcess]) -> None:
    process = broken(line)
    with pytest.raises(WorkerLost) as lost:
        list(process.run([("00aa", SOUND)]))
    assert said in str(lost.value)
    process.close()


def test_a_worker_that_cannot_load_says_what_it_misses(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "abjad.py").write_text("raise ImportError('no abjad here')")
    monkeypatch.syspath_prepend(str(tmp_path))
    process = WorkerProcess()
    with pytest.raises(WorkerLost, match="ImportError: no abjad here"):
        list(process.run([("00aa", SOUND)]))
    process.close()


def test_a_machine_that_starts_no_process_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(11, "Resource temporarily unavailable")

    monkeypatch.setattr(subprocess, "Popen", full)
    with pytest.raises(WorkerLost, match="no process could be started: Resource temporarily unavailable"):
        list(WorkerProcess().run([("00aa", SOUND)]))
