"""Once it is installed, a build asks nothing of any network.

Seen in two ways: every Python process of a build reports whatever it asks of the system's sockets (Python's
own audit events, https://docs.python.org/3/library/audit_events.html), and where the system allows it, the
whole build, the engraver with it, runs on a network that has nothing in it (unshare(1)).
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import TWO_KEYS
from made_site import keep_language

REPORTER = """\
import os, sys

def tell(*words):
    with open(os.environ["REPORT"], "a", encoding="utf-8") as report:
        print(*words, file=report)

def hook(event, arguments):
    # A socket may be made and never used; these are the ways to reach someone by name or number.
    if event in {
        "socket.bind", "socket.connect", "socket.sendto", "socket.sendmsg", "socket.getaddrinfo",
        "socket.gethostbyname", "socket.gethostbyaddr", "socket.getnameinfo", "urllib.Request",
    }:
        tell("asked", event, *map(repr, arguments))
        raise OSError("no network here: " + event)

tell("began", *sys.orig_argv)
sys.addaudithook(hook)
"""
"""Loaded by each Python as it starts (https://docs.python.org/3/library/site.html#module-sitecustomize)."""

CUT_OFF = ["unshare", "--map-root-user", "--net"]
"""A network of its own for a program and all that it starts, with no way out."""


def reported(command: list[str], folder: Path) -> tuple[int, list[str], list[str]]:
    """The exit status, the Python programs that began, and what was asked of sockets."""
    place, report = folder / "reporter", folder / "report.txt"
    place.mkdir()
    (place / "sitecustomize.py").write_text(REPORTER, encoding="utf-8")
    paths = [str(place), *filter(None, [os.environ.get("PYTHONPATH")])]
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(paths), "REPORT": str(report)}
    done = subprocess.run(command, env=environment, capture_output=True, check=False)
    lines = report.read_text(encoding="utf-8").splitlines()
    began = [line for line in lines if line.startswith("began ")]
    return done.returncode, began, [line for line in lines if line not in began]


def build(folder: Path) -> list[str]:
    """The command that builds a book with engravers of its own, nothing taken from an earlier build."""
    return [sys.executable, "-m", "stavewright", "build", "--book", str(folder), "--jobs", "2"]


def is_whole(site: Path) -> bool:
    """Whether pages, ink and paper of the cheapest exercise are there."""
    page = site / "exercises" / "tiny" / "e-flat" / "index.html"
    return "<svg" in page.read_text(encoding="utf-8") and any(site.glob("print/**/*.pdf"))


@pytest.fixture(autouse=True)
def cache_without_the_book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The book's own pieces are still to be engraved."""
    keep_language(tmp_path / "pieces")
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(tmp_path / "pieces"))


@pytest.mark.parametrize(
    "attempt",
    [
        "import socket; socket.create_connection(('127.0.0.1', 9))",
        "import socket; socket.getaddrinfo('example.org', 80)",
        "import socket; socket.socket(type=socket.SOCK_DGRAM).sendto(b'x', ('127.0.0.1', 9))",
        "from urllib.request import urlopen; urlopen('http://127.0.0.1:9/')",
    ],
)
def test_the_reporter_sees_what_is_asked(attempt: str, tmp_path: Path) -> None:
    status, began, asked = reported([sys.executable, "-c", attempt], tmp_path)
    assert (status, len(began)) == (1, 1)
    assert asked


@pytest.mark.exhaustive
@pytest.mark.every_core
def test_no_process_of_a_build_asks_for_a_network(
    book: Callable[[dict[str, str | bytes]], Path], tmp_path: Path
) -> None:
    folder = book({"tiny": TWO_KEYS.format(title="Tiny")})
    status, began, asked = reported(build(folder), tmp_path)
    assert status == 0
    assert asked == []
    assert any("stavewright.engrave.processes.worker" in line for line in began), began
    assert is_whole(folder / "site")


@pytest.mark.every_core
def test_a_build_needs_no_network(book: Callable[[dict[str, str | bytes]], Path]) -> None:
    if shutil.which("unshare") is None or subprocess.run([*CUT_OFF, "true"], check=False).returncode:
        pytest.skip("this system gives a program no network of its own")
    # What is cut off sees no interface but its own loopback, which is down.
    alone = "import socket; print(*[name for _, name in socket.if_nameindex()])"
    seen = subprocess.run([*CUT_OFF, sys.executable, "-c", alone], capture_output=True, text=True, check=True)
    assert seen.stdout.split() == ["lo"]
    folder = book({"tiny": TWO_KEYS.format(title="Tiny")})
    done = subprocess.run([*CUT_OFF, *build(folder)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert is_whole(folder / "site")
