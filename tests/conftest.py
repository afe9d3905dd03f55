"""What several test files share: a cache of engraved pieces of their own, and small books on disk.

Each test that is not marked `slow` is quick: it starts no process, so it neither engraves nor builds a site.
What needs a browser is marked `browser` as well. The marks are set here, by what a test uses and by SLOW.
What is `exhaustive` is slow too.
"""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import settings
from kept_engravers import NEW_ENGRAVERS, EngraverShelf

from stavewright.book.read import open_book
from stavewright.engrave.engraved_book import EngravedBook, engrave_book

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserType

# Where Python is told to keep no compiled modules, each of the hundreds of processes of a run would compile
# the program anew, and each worker all tests.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# A shared machine may be slow at any moment: a law that holds, holds however long one example takes.
# An everyday run tries a fifth of the examples of each law, one with `--hypothesis-profile exhaustive` all.
settings.register_profile("everyday", deadline=None, derandomize=True, max_examples=20)
settings.register_profile("exhaustive", deadline=None, derandomize=True, max_examples=100)
# `--hypothesis-profile thorough`: other examples each time, and five times as many.
settings.register_profile("thorough", deadline=None, max_examples=500)
settings.load_profile("everyday")


def examples(number: int) -> settings:
    """So many examples of a law in the exhaustive profile, and fewer or more in another one, as of 100."""
    return settings(max_examples=max(4, number * settings.default.max_examples // 100))


def sweep(names: str, values: Iterable[Any], every_day: int, ids: Any = None) -> pytest.MarkDecorator:
    """Parametrize a test: an everyday run takes so many of the values, an exhaustive one takes all.

    They are the first one and others at even distances from it.
    """
    listed = list(values)
    chosen = {number * len(listed) // every_day for number in range(every_day)}
    single = "," not in names
    cases = [
        each
        if number in chosen
        else pytest.param(*((each,) if single else each), marks=pytest.mark.exhaustive)
        for number, each in enumerate(listed)
    ]
    return pytest.mark.parametrize(names, cases, ids=ids)


SLOW = frozenset(
    {
        "test_accidentals",
        "test_attacks",
        "test_browser_engines",
        "test_browser_offline",
        "test_browser_pitch",
        "test_browser_policy",
        "test_browser_site",
        "test_browser_recording",
        "test_browser_sound",
        "test_bring_in",
        "test_bring_in_signs",
        "test_browser_stand",
        "test_bytes",
        "test_children",
        "test_cli",
        "test_config",
        "test_corpus",
        "test_daily_measure",
        "test_daily_page",
        "test_daily_plan",
        "test_daily_sheets",
        "test_daily_ways_out",
        "test_door",
        "test_dynamics",
        "test_ended_by_signal",
        "test_engrave_allowed",
        "test_engrave_behind",
        "test_engrave_cache",
        "test_engrave_cluster",
        "test_engrave_finding",
        "test_engrave_notes",
        "test_engrave_svg_paths",
        "test_engrave_worker",
        "test_export_files",
        "test_export_midi",
        "test_export_musicxml",
        "test_free_time",
        "test_faults_engraver",
        "test_faults_machine",
        "test_faults_one_piece",
        "test_faults_site",
        "test_faults_unchanged",
        "test_fingering_charts",
        "test_folders",
        "test_helpers",
        "test_hosts",
        "test_incremental",
        "test_ink_oracle",
        "test_instruments_placing",
        "test_instruments_site",
        "test_language_bounds",
        "test_links",
        "test_no_network",
        "test_notation",
        "test_order",
        "test_preview",
        "test_print_accessible",
        "test_print_ahead",
        "test_print_book",
        "test_print_command",
        "test_print_edition",
        "test_print_pages",
        "test_print_selection",
        "test_print_reader",
        "test_print_words",
        "test_site",
        "test_sound_pitch",
        "test_sound_played",
        "test_sound_rendered",
        "test_spelling",
        "test_text_safety",
        "test_timing",
        "test_translated_book",
        "test_trust",
    }
)
"""The modules whose tests take long or start processes. One that is missing fails, and says so."""

_SHELF = EngraverShelf()

_quick: str | None = None
"""The quick test that runs now."""

_CORES = os.sched_getaffinity(0) if sys.platform == "linux" else set()
"""The cores that this process may use."""

_NUMBER = int(os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw"))


def _take_cores(every: bool) -> None:
    """Use one core from now on, another for each of the run's workers, or every core.

    On one core a build starts no helpers, nor an engraver before there is something to engrave.
    """
    if _CORES:
        os.sched_setaffinity(0, _CORES if every else {sorted(_CORES)[_NUMBER % len(_CORES)]})


def _watch_processes(event: str, arguments: tuple[object, ...]) -> None:
    if event == "subprocess.Popen" and _quick is not None:
        raise RuntimeError(f"{_quick} starts a process; name its module in SLOW of tests/conftest.py")


sys.addaudithook(_watch_processes)


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Where only the quick tests are asked for, the slow modules need not even be imported."""
    return True if config.option.markexpr == "not slow" and collection_path.stem in SLOW else None


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what is slow, and what needs a browser."""
    for item in items:
        needs_browser = "chromium" in getattr(item, "fixturenames", ())
        if needs_browser:
            item.add_marker(pytest.mark.browser)
        if needs_browser or item.path.stem in SLOW or item.get_closest_marker("exhaustive"):
            item.add_marker(pytest.mark.slow)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    """Watch what a quick test does, its fixtures included, and give a test its cores."""
    global _quick
    _quick = None if item.get_closest_marker("slow") else item.nodeid
    _take_cores(every=item.get_closest_marker("every_core") is not None)
    _SHELF.keeps = item.path.stem not in NEW_ENGRAVERS
    try:
        return (yield)
    finally:
        _quick = None


TINY = """\
title: {title}
rights: written for this test, public domain
home: D5 in D major
music:
  w D5
"""
"""One bar, twelve keys, no variation: the cheapest exercise there is to engrave."""

TWO_KEYS = TINY.replace("music:", "travel: semitones up from D5 to Eb5\nmusic:")
"""The same in D and E flat, where other keys would show nothing more."""


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
        with _SHELF.used(ink=shared / "ink"):
            yield


@pytest.fixture
def new_engravers() -> None:
    """Gives a test engravers of its own, and no ink that another test has made."""
    _SHELF.keeps = False


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


@pytest.fixture
def two_keys() -> Callable[[str], str]:
    """The same in two keys."""
    return lambda title: TWO_KEYS.format(title=title)


def launch_chromium(kind: BrowserType, *more: str) -> Browser:
    """Start the machine's own Chromium, with more arguments of its command line; skip where there is none."""
    path = shutil.which("chromium-headless-shell") or shutil.which("chromium")
    if path is None:
        pytest.skip("no chromium on this machine: apt-get install chromium-headless-shell")
    arguments = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", *more]
    return kind.launch(executable_path=path, headless=True, args=arguments)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """The machine's own Chromium; one for all tests, as Playwright starts only once in a thread.

    Best the one without windows of its own, which opens a page with a third of the work.
    """
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = launch_chromium(playwright.chromium)
        yield browser
        browser.close()
