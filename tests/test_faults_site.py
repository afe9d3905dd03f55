"""Whatever becomes of a build, the site is the old one or the new one, whole."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from builder.publish import staging
from builder.publish.staging import NoPlace, Staging


def written(folder: Path, words: str) -> None:
    """A small site, all of it of one kind."""
    for number in range(5):
        (folder / f"page{number}").mkdir(parents=True, exist_ok=True)
        (folder / f"page{number}" / "index.html").write_text(words, encoding="utf-8")
    (folder / "sitemap.xml").write_text(words, encoding="utf-8")


def said(site: Path) -> set[str]:
    """What the files of a site say; they must all be there."""
    files = [path for path in site.rglob("*") if path.is_file()]
    assert len(files) == 6
    return {path.read_text(encoding="utf-8") for path in files}


def names(folder: Path) -> list[str]:
    """What is in a folder."""
    return sorted(path.name for path in folder.iterdir())


def publish(site: Path, words: str) -> None:
    place = Staging(site)
    written(place.fresh, words)
    place.publish()


def left_beside(site: Path, words: str) -> Path:
    """A folder as a killed build leaves it."""
    left = site.with_name(".site.new-0123")
    written(left, words)
    return left


def an_hour_old(folder: Path) -> None:
    os.utime(folder, (time.time() - 3600,) * 2)


@pytest.fixture(params=["in one step", "in two steps"])
def site(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where a site goes; on platforms that can exchange folders, and on those that cannot."""
    if request.param == "in two steps":
        monkeypatch.setattr(staging, "_exchanged", lambda one, other: False)
    return tmp_path / "site"


def test_the_new_site_takes_the_old_ones_place(site: Path) -> None:
    publish(site, "old")
    assert said(site) == {"old"}
    publish(site, "new")
    assert said(site) == {"new"}
    assert names(site.parent) == ["site"]


@pytest.mark.skipif(sys.platform not in ("linux", "darwin"), reason="two steps elsewhere")
def test_this_platform_exchanges_folders_in_one_step(tmp_path: Path) -> None:
    for name in ("one", "other"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "file").write_text(name)
    assert staging._exchanged(tmp_path / "one", tmp_path / "other")
    assert (tmp_path / "one" / "file").read_text() == "other"
    assert (tmp_path / "other" / "file").read_text() == "one"


def test_until_the_end_the_old_site_stands(site: Path) -> None:
    publish(site, "old")
    place = Staging(site)
    written(place.fresh, "new")
    assert said(site) == {"old"}
    place.abandon()
    assert said(site) == {"old"}
    assert names(site.parent) == ["site"]


def test_a_build_killed_between_two_steps_is_set_right(site: Path) -> None:
    publish(site, "old")
    site.rename(site.with_name(".site.old-0123"))
    place = Staging(site)
    assert said(site) == {"old"}
    place.abandon()


def test_what_killed_builds_have_left_is_removed(site: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    publish(site, "old")
    left = [site.with_name(name) for name in (".site.new-0123", ".site.old-4567")]
    for folder in left:
        written(folder, "left over")
    place = Staging(site)
    place.abandon()
    assert all(folder.exists() for folder in left), "too young to be judged"
    for folder in left:
        an_hour_old(folder)
    Staging(site).abandon()
    if sys.platform != "win32":
        assert not any(folder.exists() for folder in left)
    assert said(site) == {"old"}


@pytest.mark.skipif(sys.platform == "win32", reason="a day's age is the rule there")
def test_a_build_that_runs_keeps_its_folder(site: Path) -> None:
    mine = Staging(site)
    an_hour_old(mine.fresh)
    Staging(site).abandon()
    assert mine.fresh.exists()
    written(mine.fresh, "mine")
    mine.publish()
    assert said(site) == {"mine"}


def test_a_clock_that_went_back_harms_nothing(site: Path) -> None:
    mine = Staging(site)
    os.utime(mine.fresh, (time.time() + 10**7,) * 2)
    Staging(site).abandon()
    assert mine.fresh.exists()
    mine.abandon()


@pytest.mark.skipif(sys.platform not in ("linux", "darwin"), reason="two steps elsewhere")
def test_two_builds_at_once_and_there_is_always_a_site(tmp_path: Path) -> None:
    site = tmp_path / "site"
    publish(site, "first")
    missing: list[int] = []
    ended = threading.Event()

    def look() -> None:
        while not ended.is_set():
            if not (site / "page4" / "index.html").exists():
                missing.append(1)

    def build(words: str) -> None:
        for number in range(20):
            publish(site, f"{words}{number}")

    watcher = threading.Thread(target=look)
    builders = [threading.Thread(target=build, args=(words,)) for words in "ab"]
    for thread in (watcher, *builders):
        thread.start()
    for builder in builders:
        builder.join()
    ended.set()
    watcher.join()
    assert not missing
    [words] = said(site)
    assert words in ("a19", "b19")
    assert names(tmp_path) == ["site"]


def test_hidden_files_of_the_user_stay(site: Path) -> None:
    publish(site, "old")
    (site / ".git").mkdir()
    (site / ".git" / "HEAD").write_text("ref")
    publish(site, "new")
    assert (site / ".git" / "HEAD").read_text() == "ref"
    assert (site / "page0" / "index.html").read_text() == "new"


@pytest.mark.skipif(sys.platform == "win32", reason="a day's age is the rule there")
def test_hidden_files_of_the_user_outlive_a_kill(site: Path) -> None:
    """The build was killed when the sites had changed places and the hidden files had not come over yet."""
    publish(site, "new")
    left = left_beside(site, "old")
    (left / "sw.js").write_text("complete")
    (left / ".git").mkdir()
    (left / ".git" / "HEAD").write_text("ref")
    (left / ".nojekyll").write_text("the old one's")
    (site / ".nojekyll").write_text("")
    Staging(site).abandon()
    assert left.exists(), "too young to be judged"
    an_hour_old(left)
    Staging(site).abandon()
    assert sorted(path.name for path in site.parent.iterdir()) == ["site"]
    assert (site / ".git" / "HEAD").read_text() == "ref"
    assert (site / ".nojekyll").read_text() == ""
    assert (site / "page0" / "index.html").read_text() == "new"


@pytest.mark.skipif(sys.platform == "win32", reason="a day's age is the rule there")
def test_hidden_files_of_half_a_site_are_not_the_users(site: Path) -> None:
    publish(site, "old")
    left = left_beside(site, "half")
    (left / ".well-known").mkdir()
    an_hour_old(left)
    Staging(site).abandon()
    assert not left.exists()
    assert not (site / ".well-known").exists()


def test_what_is_no_site_is_not_replaced(site: Path) -> None:
    site.mkdir()
    (site / "thesis.doc").write_text("years of work")
    with pytest.raises(NoPlace, match="holds something that is no site"):
        Staging(site)
    assert (site / "thesis.doc").read_text() == "years of work"


def test_the_book_is_not_replaced(tmp_path: Path) -> None:
    book = tmp_path / "books" / "mine"
    (book / "pages").mkdir(parents=True)
    for place in (book, book.parent, tmp_path):
        with pytest.raises(NoPlace, match="would replace"):
            Staging(place, (book, book / "pages"))
    with pytest.raises(NoPlace, match="would replace"):
        Staging(book / "pages", (book, book / "pages"))
    Staging(book / "site", (book, book / "pages")).abandon()


def test_a_site_that_is_a_link_stays_one(site: Path) -> None:
    real = site.with_name("real")
    publish(real, "old")
    site.symlink_to(real)
    publish(site, "new")
    assert site.is_symlink()
    assert said(real) == {"new"}


def test_a_place_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(NoPlace, match="cannot be written here"):
        Staging(tmp_path / "file" / "site")
    with pytest.raises(NoPlace, match="a file of that name"):
        Staging(tmp_path / "file")


def test_a_read_only_folder_keeps_the_old_site(site: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    publish(site, "old")
    made = Path.mkdir

    def refused(self: Path, *args: object, **more: object) -> None:
        if ".new-" in self.name:
            raise OSError(30, "Read-only file system")
        made(self, *args, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(Path, "mkdir", refused)
    with pytest.raises(NoPlace, match="cannot be written here: Read-only file system"):
        Staging(site)
    assert said(site) == {"old"}


def test_where_the_exchange_fails_the_old_site_stays(site: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    publish(site, "old")
    place = Staging(site)
    written(place.fresh, "new")

    def full(fresh: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(staging, "_settle", full)
    with pytest.raises(NoPlace, match="No space left on device"):
        place.publish()
    assert said(site) == {"old"}
    assert names(site.parent) == ["site"]


def test_unchanged_files_keep_their_time(site: Path) -> None:
    listing = '{"files": {"page0/index.html": "%s", "page1/index.html": "b"}}'
    publish(site, "old")
    (site / "book-files.json").write_text(listing % "a")
    for number in (0, 1):
        os.utime(site / f"page{number}" / "index.html", (1000, 1000))
    place = Staging(site)
    written(place.fresh, "old")
    (place.fresh / "page0" / "index.html").write_text("changed")
    (place.fresh / "book-files.json").write_text(listing % "c")
    place.publish()
    assert (site / "page0" / "index.html").stat().st_mtime > 1000
    assert (site / "page1" / "index.html").stat().st_mtime == 1000


@pytest.mark.skipif(sys.platform == "win32", reason="kills by signal")
def test_a_builder_killed_while_it_writes_leaves_the_old_site(site: Path) -> None:
    publish(site, "old")
    code = (
        "import sys, time; from pathlib import Path; from builder.publish.staging import Staging\n"
        "place = Staging(Path(sys.argv[1])); (place.fresh / 'half').write_text('x')\n"
        "print('ready', flush=True); time.sleep(60)"
    )
    process = subprocess.Popen([sys.executable, "-c", code, str(site)], stdout=subprocess.PIPE)
    assert process.stdout is not None
    assert process.stdout.readline() == b"ready\n"
    process.kill()
    process.wait()
    process.stdout.close()
    assert said(site) == {"old"}
    publish(site, "new")
    assert said(site) == {"new"}
