"""How long after an exercise is saved its page shows the change, while the book is served.

A made-up book (`synthetic.py`) is served by `stavewright serve`; a page of one exercise in one key is open,
as a browser would keep it open. Then the exercise is saved with another note, and the page asked for whenever
the server says that something has changed: once for the page shown first, once more for the whole book.

Run: `python benchmarks/serving.py [--exercises 17] [--saves 5]`.
"""

from __future__ import annotations

import argparse
import os
import re
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from pathlib import Path

from synthetic import write_book

_PAGE = "exercises/made-up-1/e-flat/"
_EPOCH = re.compile(r"livereload\((\d+), (\d+)\)")


def get(address: str, referer: str = "") -> str:
    """The text at an address."""
    request = urllib.request.Request(address, headers={"Referer": referer} if referer else {})
    with urllib.request.urlopen(request, timeout=600) as answer:
        return str(answer.read().decode())


def music(page: str) -> str:
    """A page's music: what is drawn and what is said of it."""
    return "".join(re.findall(r"<svg.*?</svg>", page, re.DOTALL))


def shown(root: str, epoch: str) -> tuple[str, str, str]:
    """When the server has something newer than `epoch`: its epoch, the page's music and another key's."""
    while get(f"{root}livereload/{epoch}/1", referer=root + _PAGE) == epoch:
        pass
    page = get(root + _PAGE)
    found = _EPOCH.search(page)
    assert found
    return found[1], music(page), music(get(root + _PAGE.replace("e-flat", "d")))


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--exercises", type=int, default=17)
    parser.add_argument("--saves", type=int, default=5)
    arguments = parser.parse_args()
    with socket.socket() as free, tempfile.TemporaryDirectory() as name:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
        free.close()
        folder = Path(name)
        write_book(folder / "book", arguments.exercises)
        command = [sys.executable, "-c", "from stavewright.cli import main; main()", "serve"]
        command += ["--book", str(folder / "book"), "--address", f"127.0.0.1:{port}"]
        environment = os.environ | {"STAVEWRIGHT_CACHE": str(folder / "cache")}
        with subprocess.Popen(command, env=environment, stderr=subprocess.DEVNULL) as served:
            try:
                measure(f"http://127.0.0.1:{port}/", folder / "book" / "exercises", arguments.saves)
            finally:
                served.terminate()


def measure(root: str, exercises: Path, saves: int) -> None:
    """Save, and wait, several times."""
    while True:
        try:
            page = get(root + _PAGE)
            break
        except (urllib.error.URLError, ConnectionError):
            time.sleep(0.2)
    found = _EPOCH.search(page)
    assert found
    epoch = found[1]
    path = exercises / "made-up-1.warmup"
    first, whole = [], []
    for number in range(saves):
        text = path.read_text(encoding="utf-8")
        ends = ("w D5 fermata", "w A4 fermata") if number % 2 == 0 else ("w A4 fermata", "w D5 fermata")
        before = music(get(root + _PAGE)), music(get(root + _PAGE.replace("e-flat", "d")))
        path.write_text(text.replace(*ends), encoding="utf-8")
        saved = time.perf_counter()
        epoch, here, _ = shown(root, epoch)
        first.append(time.perf_counter() - saved)
        assert here != before[0], "the page shown first is as it was"
        epoch, _, other = shown(root, epoch)
        whole.append(time.perf_counter() - saved)
        assert other != before[1], "another key is as it was"
    print(f"a saved exercise in one key: {', '.join(f'{each:.2f}' for each in first)} s after it is saved")
    print(f"the whole book:              {', '.join(f'{each:.2f}' for each in whole)} s after")


if __name__ == "__main__":
    main()
