"""While a book is served: what is saved is shown in one key first, then everywhere; a fault stops nothing."""

from __future__ import annotations

import re
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from mkdocs.commands.build import build
from mkdocs.config import load_config
from mkdocs.exceptions import PluginError

from stavewright.site.live_reload import note_watched
from stavewright.site.plugin import StavewrightPlugin
from stavewright.site.preview import Saved

WriteBook = Callable[[dict[str, str | bytes]], Path]
Tiny = Callable[[str], str]


@pytest.fixture
def texts(tiny: Tiny) -> dict[str, str | bytes]:
    return {"one": tiny("One"), "two": tiny("Two"), "own": tiny("Own").replace("written", "private")}


def made(folder: Path, site: Path) -> StavewrightPlugin:
    """A whole build as `mkdocs serve` makes it."""
    config = load_config(str(folder / "mkdocs.yml"), site_dir=str(site))
    config.plugins.on_startup(command="serve", dirty=False)
    build(config, serve_url="http://127.0.0.1:8000/")
    plugin = config.plugins["stavewright"]
    assert isinstance(plugin, StavewrightPlugin)
    return plugin


def pages(site: Path) -> dict[str, bytes]:
    return {path.relative_to(site).as_posix(): path.read_bytes() for path in site.rglob("*.html")}


def different(one: dict[str, bytes], other: dict[str, bytes]) -> set[str]:
    return {name for name in one.keys() | other.keys() if one.get(name) != other.get(name)}


@pytest.mark.exhaustive
def test_one_key_first_and_as_the_whole_build_makes_it(book: WriteBook, tmp_path: Path, texts: dict) -> None:  # type: ignore[type-arg]
    folder = book(texts)
    plugin = made(folder, tmp_path / "site")
    before = pages(tmp_path / "site")
    assert not plugin.preview()
    plugin.watched |= {"exercises/two/e/": None, "keys/a-flat/": None, "print/": None}
    book(texts | {"one": str(texts["one"]).replace("w D5", "h D5 E5")})
    assert plugin.preview()
    first = pages(tmp_path / "site")
    # The key that was looked at last, of the exercise that was saved.
    assert different(before, first) == {"exercises/one/a-flat/index.html"}
    assert not plugin.preview()
    made(folder, tmp_path / "whole")
    whole = pages(tmp_path / "whole")
    assert first["exercises/one/a-flat/index.html"] == whole["exercises/one/a-flat/index.html"]
    assert len(different(before, whole)) > 12


def test_a_new_exercise_is_shown_as_well(book: WriteBook, tmp_path: Path, texts: dict, tiny: Tiny) -> None:  # type: ignore[type-arg]
    plugin = made(book(texts), tmp_path / "site")
    before = pages(tmp_path / "site")
    book(texts | {"three": tiny("Three")})
    assert plugin.preview()
    [shown] = different(before, pages(tmp_path / "site"))
    assert re.fullmatch(r"exercises/three/[a-z-]+/index.html", shown)


def test_what_is_more_than_one_exercise_is_left_to_the_whole_build(
    book: WriteBook,
    tmp_path: Path,
    texts: dict,  # type: ignore[type-arg]
) -> None:
    folder = book(texts)
    plugin = made(folder, tmp_path / "site")
    before = pages(tmp_path / "site")
    changed = {name: str(text).replace("w D5", "h D5 E5") for name, text in texts.items()}
    book(texts | {"one": changed["one"], "two": changed["two"]})
    assert not plugin.preview()
    (folder / "exercises" / "two.warmup").unlink()
    assert not plugin.preview()
    # What is private has no page.
    book({"own": changed["own"]})
    assert not plugin.preview()
    (folder / "pages" / "about.md").write_text("# About")
    assert not plugin.preview()
    assert pages(tmp_path / "site") == before


def test_a_fault_is_told_and_changes_nothing(book: WriteBook, tmp_path: Path, texts: dict) -> None:  # type: ignore[type-arg]
    plugin = made(book(texts), tmp_path / "site")
    before = pages(tmp_path / "site")
    book(texts | {"one": str(texts["one"]).replace("w D5", "w H5")})
    with pytest.raises(PluginError, match=r"exercises/one\.warmup:5:"):
        plugin.preview()
    assert pages(tmp_path / "site") == before
    book(texts | {"one": str(texts["one"]).replace("w D5", "w E5")})
    assert plugin.preview()


def test_a_file_that_vanishes_while_it_is_looked_at_is_no_harm(tmp_path: Path) -> None:
    saved = Saved.of(tmp_path, [tmp_path / "mkdocs.yml", tmp_path / "nothing"])
    assert saved.files == {}
    assert saved.changed_to(saved) == ""


def test_the_pages_that_are_open_are_known() -> None:
    watched: dict[str, None] = {}
    app = note_watched(lambda environ, start: [b"answer"], "/book/", watched)

    def ask(path: str, referer: str = "") -> None:
        assert list(app({"PATH_INFO": path, "HTTP_REFERER": referer}, print)) == [b"answer"]

    ask("/livereload/1/1", "http://127.0.0.1:8000/book/exercises/one/c/")
    ask("/livereload/1/2", "http://127.0.0.1:8000/book/keys/d-flat/index.html?x#y")
    ask("/book/exercises/two/c/", "http://127.0.0.1:8000/book/")
    assert list(watched) == ["exercises/one/c/", "keys/d-flat/"]
    ask("/livereload/1/3", "http://127.0.0.1:8000/book/exercises/one/c/")
    assert list(watched) == ["keys/d-flat/", "exercises/one/c/"]
    for number in range(200):
        ask("/livereload/1/3", f"http://127.0.0.1:8000/book/{number}/")
    assert len(watched) == 100
    assert list(watched)[-1] == "199/"


@pytest.fixture
def served(book: WriteBook, texts: dict) -> Iterator[tuple[Path, str]]:  # type: ignore[type-arg]
    """A book that is served by the command, and its address."""
    folder = book(texts)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-c", "from stavewright.cli import main; main()", "serve"]
    command += ["--book", str(folder), "--address", f"127.0.0.1:{port}"]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as process:
        yield folder, f"http://127.0.0.1:{port}/"
        process.terminate()


def ask(address: str, referer: str = "") -> str:
    request = urllib.request.Request(address, headers={"Referer": referer} if referer else {})
    for _ in range(600):
        try:
            with urllib.request.urlopen(request, timeout=120) as answer:
                return str(answer.read().decode())
        except (urllib.error.URLError, ConnectionError):
            time.sleep(0.1)
    raise AssertionError(f"{address} is never served")


def after(root: str, page: str, epoch: str) -> tuple[str, str]:
    """A page, and its epoch, when the server has something newer."""
    while (now := ask(f"{root}livereload/{epoch}/1", referer=root + page)) == epoch:
        pass
    return ask(root + page), now


def notes(page: str) -> list[str]:
    """The notes of a page's music, as its text alternative says them."""
    found = re.search(r"bar 1: ([^.;]*)", page)
    assert found
    return found[1].split(", ")


@pytest.mark.every_core
def test_a_served_book_shows_one_key_and_then_all(served: tuple[Path, str], texts: dict) -> None:  # type: ignore[type-arg]
    folder, root = served
    here, other = "exercises/one/g/", "exercises/one/c/"
    first = ask(root + here)
    assert notes(first) == ["G4 whole"]
    found = re.search(r"livereload\((\d+), \d+\)", first)
    assert found
    path = folder / "exercises" / "one.warmup"
    path.write_text(str(texts["one"]).replace("w D5", "h D5 E5"))
    shown, epoch = after(root, here, found[1])
    assert notes(shown) == ["G4 half", "A4 half"]
    _, epoch = after(root, here, epoch)
    assert notes(ask(root + other)) == ["C5 half", "D5 half"]
    # A fault leaves what was shown, and the server goes on answering.
    path.write_text(str(texts["one"]).replace("w D5", "w H5"))
    still, epoch = after(root, here, epoch)
    assert notes(still) == notes(shown)
    path.write_text(str(texts["one"]).replace("w D5", "h D5 C#5"))
    mended, _ = after(root, here, epoch)
    assert notes(mended) == ["G4 half", "F sharp 4 half"]
