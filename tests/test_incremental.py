"""A book that is changed step by step has, after each step, the site that a clean build of it has.

Most of what a build needs is kept from the one before: ink, pages, prints, plans, files to take away. What is
kept must be what would be made.
"""

from __future__ import annotations

import pickle
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from conftest import sweep
from made_site import keep_language

from stavewright.cache.store import CacheStore
from stavewright.cli import main
from stavewright.jobs import pool as helpers
from stavewright.jobs.pool import HelperPool, Task
from stavewright.site import page_cache as written
from stavewright.views import daily_page, print_page
from stavewright.views.language_page import language_view

ONE = """\
title: One
rights: written for this test, public domain
purpose: To be changed.
attend:
  - the first thing
home: D5 in D major
travel: semitones down from D5 to C#5
meter: 4/4
tempo: quarter = 54 to 66
variations: slurred
drone: D4
music:
  h D5 mf q E5 F#5 | q G5 F#5 E5 F#5 | w D5 fermata ,
"""
TWO = """\
title: Two
rights: written for this test, public domain
home: D5 in D major
travel: semitones down from D5 to C#5
music:
  w D5
"""
"""Two keys each: every kind of page is there, and every step below changes what it would change in twelve."""


E1, CONFIG = "exercises/one.warmup", "mkdocs.yml"


def change(file: str, old: str, new: str) -> Callable[[Path], None]:
    """Exchanges some words in a file of a book."""

    def changed(folder: Path) -> None:
        path = folder / file
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new), encoding="utf-8")

    return changed


def write(file: str, text: str) -> Callable[[Path], None]:
    return lambda folder: (folder / file).write_text(text, encoding="utf-8") and None


def change_names(folder: Path) -> None:
    """Lets a book name notes in another way, by which its chords are printed."""
    change(CONFIG, "      tops", "      notes: german\n      tops")(folder)
    change("exercises/two.warmup", "C#5", "Cis5")(folder)
    change(E1, "home:", "notes: english\nchords: Bb | A | D\nhome:")(folder)


def remove(file: str) -> Callable[[Path], None]:
    return lambda folder: (folder / file).unlink()


Step = Callable[[Path], None]
IN_AN_EXERCISE: dict[str, Step] = {
    "a note": change(E1, "h D5 mf", "h C#5 mf"),
    "a tempo": change(E1, "54 to 66", "40 to 72"),
    "a title": change(E1, "title: One", "title: Another"),
    "a purpose": change(E1, "To be changed.", "Changed."),
    "a point to attend to": change(E1, "the first thing", "the second thing"),
    "rights": change(E1, "public domain", "CC0"),
    "a variation": change(E1, "variations: slurred", "variations: detached"),
    "a drone": change(E1, "drone: D4", "drone: A4"),
    "travel": change(E1, "down from D5 to C#5", "down from D5 to A4"),
    "lines too wide for a phone": change(E1, "w D5 fermata", "w D5 | " * 6 + "w D5 fermata"),
    "lines for a phone": change(E1, "w D5 | " * 6, ""),
    "a spelling": change(E1, "meter: 4/4", "meter: 4/4\nspelling: flats"),
    "nothing": lambda folder: None,
}
IN_THE_BOOK: dict[str, Step] = {
    "a new exercise": write("exercises/three.warmup", ONE.replace("title: One", "title: Three")),
    "an exercise taken away": remove("exercises/three.warmup"),
    "the book's name": change(CONFIG, "A test's book", "Another book"),
    "its description": change(CONFIG, "docs_dir", "site_description: A description\ndocs_dir"),
    "its address": change(CONFIG, "docs_dir", "site_url: https://millrace.example/book/\ndocs_dir"),
    "a day, which a feed tells": change(E1, "home:", "added: 2026-11-01\nhome:"),
    "another instrument": change(CONFIG, "[flute]", "[flute, oboe]"),
    "one instrument again": change(CONFIG, "[flute, oboe]", "[flute]"),
    "a top": change(CONFIG, "flute: A6", "flute: E6"),
    "a pitch to tune to": change(CONFIG, "      tops", "      a4: 442\n      tops"),
    "a longer breath": change(CONFIG, "      tops", "      breath_seconds: 2\n      tops"),
    "a page of the studio's own": write("pages/about.md", "# About\n\nWords.\n"),
    "words for a generated page": write("pages/find.md", "# Find\n\nWords.\n"),
    "names of notes": change_names,
}
BRINGS = {"lines too wide for a phone": "exercises/one/d/phone.js", "a day, which a feed tells": "feed.xml"}
"""Files that come with a step."""
UNTOUCHED = {
    "a note": re.compile("exercises/two/.+/index.html"),
    "a new exercise": re.compile("exercises/(one|two)/.+/index.html"),
    "nothing": re.compile("exercises/.+/.+/index.html"),
}
"""Pages that stay as they are in a step: those of an exercise in one key."""


def content(site: Path) -> dict[str, bytes]:
    return {
        path.relative_to(site).as_posix(): path.read_bytes() for path in site.rglob("*") if path.is_file()
    }


@pytest.fixture
def folder(book: Callable[[dict[str, str | bytes]], Path]) -> Path:
    return book({"one": ONE, "two": TWO})


class Here(HelperPool):
    """Helpers whose work is done in this very process, at once. What they are given is sent as to a process.

    That processes of their own do the same is tested in test_print_ahead.py.
    """

    done = 0
    """Tasks done by all of them."""

    def __init__(self, cache: Path, jobs: int | None = None, preload: Sequence[str] = ()) -> None:
        super().__init__(cache, jobs=1)
        self.count, self._cache, self._common = 2, cache, b""
        self.limit(jobs)

    def share(self, common: Any) -> None:
        self._common = pickle.dumps(common)

    def submit(self, *rounds: Sequence[Task]) -> None:
        for tasks in rounds if self.count > 1 else ():
            for work, share in pickle.loads(pickle.dumps(list(tasks))):
                work(pickle.loads(self._common), share, self._cache)
                Here.done += 1


@sweep("steps", [IN_AN_EXERCISE, IN_THE_BOOK], ids=["an exercise", "the book"], every_day=1)
def test_every_step_ends_where_a_clean_build_would(
    steps: dict[str, Step], folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rendered: list[str] = []
    render = written.Template.render

    def noted(self: written.Template, *args: Any, **more: object) -> str:
        # What is no page, such as the controls of sound, is rendered without a context.
        page = args[0].get("page") if args else None
        rendered.append(page.url if page else "")
        return render(self, *args, **more)

    # Helpers are at work in each step, on a book of any size.
    monkeypatch.setattr(helpers, "HelperPool", Here)
    monkeypatch.setattr(Here, "done", 0)
    for module in (daily_page, print_page):
        monkeypatch.setattr(module, "_WORTH", 1)
    # As many papers and plans as show what is kept of them.
    monkeypatch.setattr(print_page, "PAPERS", {"a4": print_page.PAPERS["a4"]})
    monkeypatch.setattr(daily_page, "LENGTHS", (5, daily_page.USUAL))
    get = CacheStore.get
    of_no_book: set[str] = set()

    def only_ink(self: CacheStore, key: str) -> bytes | None:
        """Clean builds share their ink with each other, and find nothing else that is of a book."""
        found = get(self, key)
        return found if found and (key in of_no_book or found.startswith(b'{"drawing"')) else None

    for name in ("step by step", "clean cache"):
        keep_language(tmp_path / name)
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(tmp_path / "clean cache"))
    language_view()
    of_no_book.update(path.parent.name + path.stem for path in (tmp_path / "clean cache").glob("??/*.piece"))
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(tmp_path / "step by step"))
    assert main(["build", "--book", str(folder)]) == 0
    for name, step in steps.items():
        step(folder)
        monkeypatch.setenv("STAVEWRIGHT_CACHE", str(tmp_path / "step by step"))
        with monkeypatch.context() as patch:
            patch.setattr(written.Template, "render", noted)
            rendered.clear()
            assert main(["build", "--again", "--book", str(folder)]) == 0, name
        monkeypatch.setenv("STAVEWRIGHT_CACHE", str(tmp_path / "clean cache"))
        with monkeypatch.context() as patch:
            patch.setattr(CacheStore, "get", only_ink)
            # By this process alone: a helper of its own would find what an earlier clean build has left.
            clean_build = ["build", "--again", "--book", str(folder), "--out", str(tmp_path / "clean")]
            assert main([*clean_build, "--jobs", "1"]) == 0
        now, clean = content(folder / "site"), content(tmp_path / "clean")
        assert now.keys() == clean.keys(), name
        if name in BRINGS:
            assert BRINGS[name] in now
        assert [file for file in now if now[file] != clean[file]] == [], name
        if name in UNTOUCHED:
            # The pages of other exercises were not written anew.
            others = {file.removesuffix("index.html") for file in now if UNTOUCHED[name].match(file)}
            assert len(others) >= 2
            assert others.isdisjoint(rendered), name
    assert Here.done > len(steps)


@pytest.mark.parametrize("what", ["hooks", "custom_dir"])
def test_pages_are_not_kept_where_something_else_has_a_part(what: str, folder: Path) -> None:
    """A hook, or templates of the studio's own, may write what they like."""
    config = folder / CONFIG
    assert main(["build", "--book", str(folder)]) == 0
    if what == "hooks":
        (folder / "hook.py").write_text(
            "def on_page_context(context, page, config, nav):\n"
            "    page.title = 'Mine ' + str(page.title)\n    return context\n"
        )
        config.write_text(config.read_text() + "hooks: [hook.py]\n")
    else:
        (folder / "mine" / "parts").mkdir(parents=True)
        (folder / "mine" / "parts" / "timing.html").write_text("<p>Mine</p>")
        config.write_text(
            config.read_text().replace("{name: stavewright}", "{name: stavewright, custom_dir: mine}")
        )
    assert main(["build", "--book", str(folder)]) == 0
    assert "Mine" in (folder / "site/exercises/two/d/index.html").read_text()


def test_the_number_of_workers_decides_no_page() -> None:
    def decided(jobs: int | None) -> tuple[str, ...]:
        plugin = SimpleNamespace(config={"jobs": jobs, "paper": "a4"})
        theme = SimpleNamespace(custom_dir=None, dirs=[])
        config: Any = SimpleNamespace(
            hooks={},
            plugins={"stavewright": plugin},
            theme=theme,
            site_name="",
            site_description="",
            site_url="",
            copyright=None,
            repo_url=None,
            repo_name=None,
            extra_css=[],
            extra_javascript=[],
        )
        return written.decided_by_all(config, [], (), has_feed=False)

    assert decided(1) == decided(None) != ()
