"""SIGINT and SIGTERM end the program as a failed build ends: nothing is left, whatever it was doing."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import TWO_KEYS, sweep

pytestmark = [
    pytest.mark.skipif(sys.platform == "win32", reason="signals are Unix's"),
    pytest.mark.every_core,
]

WriteBook = Callable[[dict[str, str | bytes]], Path]
STATUS = {signal.SIGINT: 130, signal.SIGTERM: 143}

STUB = """\
#!/bin/sh
case "$*" in
--version) echo "GNU LilyPond 2.24.3" ;;
*server.ly*) touch {ready}; while read -r name; do :; done ;;
*) touch ask.svg ;;
esac
"""
"""An engraver that takes pieces and never answers; `ready` is there when it has begun."""

INTERRUPTED_IMPORT = """\
import os, signal, sys

class Interrupt:
    def find_spec(self, name, path=None, target=None):
        if name == {module!r}:
            os.kill(os.getpid(), {number})

sys.meta_path.insert(0, Interrupt())
from stavewright.cli import command
sys.exit(command())
"""


def wait_until(there: Callable[[], object], process: subprocess.Popen[str]) -> None:
    for _ in range(3000):
        if there():
            return
        assert process.poll() is None, process.communicate()
        time.sleep(0.05)
    raise AssertionError("it has not begun")


@pytest.fixture
def small(book: WriteBook) -> Path:
    return book({"tiny": TWO_KEYS.format(title="Tiny")})


@pytest.fixture
def temporary(tmp_path: Path) -> Path:
    """The temporary folder of the processes of a test."""
    place = tmp_path / "temporary"
    place.mkdir()
    return place


def started(command: list[str], temporary: Path, **more: str) -> subprocess.Popen[str]:
    """A process with its own temporary folder, and signals as a shell gives them."""
    environment = os.environ | {"TMPDIR": str(temporary), **more}
    pipe = subprocess.PIPE
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        return subprocess.Popen(
            command, env=environment, stdout=pipe, stderr=pipe, text=True, start_new_session=True
        )
    finally:
        signal.signal(signal.SIGINT, before)


@sweep("number", STATUS, every_day=1)
@sweep("way", ["build", "serve", "mkdocs build", "mkdocs serve"], every_day=2)
def test_a_signal_while_music_is_engraved(
    small: Path, temporary: Path, tmp_path: Path, way: str, number: signal.Signals
) -> None:
    ready, stub = tmp_path / "ready", tmp_path / "stub"
    stub.write_text(STUB.format(ready=ready))
    stub.chmod(0o755)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        address = f"127.0.0.1:{free.getsockname()[1]}"
    config = small / "mkdocs.yml"
    command = {
        "build": ["stavewright", "build", "--book", str(small)],
        "serve": ["stavewright", "serve", "--book", str(small), "--address", address],
        "mkdocs build": ["mkdocs", "build", "--config-file", str(config)],
        "mkdocs serve": ["mkdocs", "serve", "--config-file", str(config), "--dev-addr", address],
    }[way]
    process = started(
        [sys.executable, "-m", *command],
        temporary,
        STAVEWRIGHT_CACHE=str(tmp_path / "cache"),
        STAVEWRIGHT_LILYPOND=str(stub),
    )

    def engraves() -> bool:
        made = any(path.name.startswith(".site.new-") for path in small.iterdir())
        return ready.exists() and (made or any(temporary.rglob("mkdocs_*")))

    wait_until(engraves, process)
    time.sleep(0.2)
    process.send_signal(number)
    # A second time, as whoever cannot wait does.
    time.sleep(0.1)
    process.send_signal(number)
    said = "".join(process.communicate(timeout=60))
    if way.startswith("mkdocs"):
        # MkDocs says in its own way that it was interrupted.
        assert number == signal.SIGINT or process.returncode == STATUS[number], said
    else:
        assert process.returncode == STATUS[number], said
        assert "Traceback" not in said
    assert sorted(path.name for path in small.iterdir()) == ["exercises", "mkdocs.yml", "pages"]
    assert list(temporary.iterdir()) == []


@sweep("number", STATUS, every_day=1)
@sweep(
    "module", ["stavewright.cli.main", "argparse", "mkdocs.config", "stavewright.site.plugin"], every_day=1
)
def test_a_signal_while_modules_load(
    small: Path, temporary: Path, module: str, number: signal.Signals
) -> None:
    code = INTERRUPTED_IMPORT.format(module=module, number=int(number))
    process = started([sys.executable, "-c", code, "build", "--book", str(small)], temporary)
    out, error = process.communicate(timeout=60)
    # Before the program could say otherwise, SIGTERM ends a process at once; a shell says 143 of that too.
    assert process.returncode in (STATUS[number], -number if number == signal.SIGTERM else None)
    assert (out, error) == ("", "")
    assert sorted(path.name for path in small.iterdir()) == ["exercises", "mkdocs.yml", "pages"]
    assert list(temporary.iterdir()) == []


def test_a_served_book_that_is_ended_leaves_nothing(small: Path, temporary: Path) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        address = f"127.0.0.1:{free.getsockname()[1]}"
    command = [sys.executable, "-m", "stavewright", "serve", "--book", str(small), "--address", address]
    process = started(command, temporary)

    def answers() -> bool:
        with socket.socket() as asking:
            host, port = address.split(":")
            return asking.connect_ex((host, int(port))) == 0 and any(temporary.rglob("index.html"))

    wait_until(answers, process)
    time.sleep(0.5)
    assert all(path.name.startswith("stavewright-") for path in temporary.iterdir())
    process.send_signal(signal.SIGTERM)
    said = "".join(process.communicate(timeout=60))
    assert process.returncode == 143, said
    assert "Traceback" not in said
    assert list(temporary.iterdir()) == []


def test_a_signal_that_the_caller_ignores_stays_ignored() -> None:
    code = (
        "import os, signal; signal.signal(signal.SIGINT, signal.SIG_IGN)\n"
        "from stavewright.jobs.signals import heed_signals; heed_signals()\n"
        "os.kill(os.getpid(), signal.SIGINT); print('goes on')"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert (done.returncode, done.stdout) == (0, "goes on\n")
