"""What several test files share: a cache of engraved pieces of their own, and small books on disk."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

from stavewright.book.read import open_book
from stavewright.engrave.engraved_book import EngravedBook, engrave_book

if TYPE_CHECKING:
    from playwright.sync_api import Browser

# A shared machine may be slow at any moment: a law that holds, holds however long one example takes.
settings.register_profile("laws", deadline=None, derandomize=True)
settings.load_profile("laws")

TINY = """\
title: {title}
rights: written for this test, public domain
home: D5 in D major
music:
  w D5
"""
"""One bar, twelve keys, no variation: the cheapest exercise there is to engrave."""


@pytest.fixture(scope="session", autouse=True)
def own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Engraved pieces are kept for the session only, and never in the user's own cache.

    Workers of one run share them, and the sites that `made_site` builds.
    """
    shared = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        shared = shared.parent
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("STAVEWRIGHT_CACHE", str(shared / "pieces"))
        patch.setenv("STAVEWRIGHT_TEST_SITES", str(shared / "sites"))
        yield


def write_book(folder: Path, exercises: dict[str, str | bytes]) -> Path:
    """A book with these exercises, by slug."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "pages").mkdir(exist_ok=True)
    (folder / "mkdocs.yml").write_text(
        "site_name: A test's book\n"
        "docs_dir: pages\n"
        "theme: {name: stavewright}\n"
        "plugins:\n"
        "  - stavewright:\n"
        "      instruments: [flute]\n"
        "      tops: {flute: A6}\n",
        encoding="utf-8",
    )
    (folder / "exercises").mkdir(exist_ok=True)
    for slug, text in exercises.items():
        path = folder / "exercises" / f"{slug}.warmup"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return folder


@pytest.fixture
def book(tmp_path: Path) -> Callable[[dict[str, str | bytes]], Path]:
    """Writes a book into this test's own folder, and again where it changes."""
    return lambda exercises: write_book(tmp_path / "book", exercises)


@pytest.fixture
def engraved(
    book: Callable[[dict[str, str | bytes]], Path], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> Callable[[dict[str, str | bytes]], EngravedBook]:
    """Writes a book and engraves it, with a cache of this test's own."""
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(tmp_path / "cache"))
    return lambda exercises: engrave_book(open_book(book(exercises)))


@pytest.fixture
def tiny() -> Callable[[str], str]:
    """The cheapest exercise there is, under a title."""
    return lambda title: TINY.format(title=title)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """The machine's own Chromium; one for all tests, as Playwright starts only once in a thread."""
    path = shutil.which("chromium")
    if path is None:
        pytest.skip("no chromium on this machine: apt-get install chromium")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        arguments = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
        browser = playwright.chromium.launch(executable_path=path, headless=True, args=arguments)
        yield browser
        browser.close()
