"""Whatever becomes of a build, the site is the old one or the new one, whole."""

from __future__ import annotations

import gzip
import hashlib
import json
import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from stavewright.site import staging
from stavewright.site.files.service_worker import LISTING
from stavewright.site.staging import NoPlace, Staging, WrongPlace


def listed(folder: Path) -> None:
    """A site's listing, as the end of a build writes it."""
    files = {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()[:10]
        for path in folder.rglob("*.html")
    }
    (folder / LISTING).write_text(json.dumps({"edition": "0123456789", "files": files}), encoding="utf-8")


def written(folder: Path, words: str) -> None:
    """A small site, all of it of one kind."""
    for number in range(5):
        (folder / f"page{number}").mkdir(parents=True, exist_ok=True)
        (folder / f"page{number}" / "index.html").write_text(words, encoding="utf-8")
    (folder / "sitemap.xml").write_text(words, encoding="utf-8")
    listed(folder)


def said(site: Path) -> set[str]:
    """What the files of a site say; they must all be there."""
    files = [path for path in site.rglob("*") if path.is_file() and path.name != LISTING]
    assert len(files) == 6
    return {path.read_text(encoding="utf-8") for path in files}


def names(folder: Path) -> list[str]:
    """What is in a folder."""
    return sorted(path.name for path in folder.iterdir())


def publish(site: Path, words: str) -> None:
    place = Staging(site)
    written(place.fresh, words)
    place.publish()


def killed(place: Staging) -> Path:
    """End a build as a kill does: its folder and its mark stay, its lock is gone."""
    assert place._folder._lock is not None
    os.close(place._folder._lock)
    place._folder._held = False
    return place.fresh


def left_beside(site: Path, words: str) -> Path:
    """A folder as a killed build leaves it."""
    place = Staging(site)
    written(place.fresh, words)
    return killed(place)


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
    fresh = left_beside(site, "new")
    site.rename(fresh.with_name(fresh.name.replace(".new-", ".old-")))
    place = Staging(site)
    assert said(site) == {"old"}
    assert len(names(site.parent)) == 3, "the site, and the new build's folder and mark"
    place.abandon()
    assert names(site.parent) == ["site"]


def test_a_build_between_its_two_steps_is_left_to_it(site: Path) -> None:
    publish(site, "old")
    mine = Staging(site)
    old = mine.fresh.with_name(mine.fresh.name.replace(".new-", ".old-"))
    site.rename(old)
    Staging(site).abandon()
    assert not site.exists()
    assert said(old) == {"old"}
    old.rename(site)
    mine.abandon()


def test_an_old_site_without_a_mark_is_put_back(site: Path) -> None:
    """As builds of the first version have left it."""
    publish(site, "old")
    site.rename(site.with_name(".site.old-0123"))
    Staging(site).abandon()
    assert said(site) == {"old"}


def test_what_killed_builds_have_left_is_removed(site: Path) -> None:
    publish(site, "old")
    fresh = left_beside(site, "left over")
    written(fresh.with_name(fresh.name.replace(".new-", ".old-")), "older")
    Staging(site).abandon()
    assert names(site.parent) == ["site"]
    assert said(site) == {"old"}


def test_what_has_no_mark_is_left_alone(site: Path) -> None:
    """A name proves nothing, nor does an age."""
    publish(site, "old")
    for name in (".site.new-0123", ".site.old-4567", ".site.new-0123456789abcdef"):
        written(site.with_name(name), "somebody's")
        os.utime(site.with_name(name), (1000, 1000))
    site.with_name(".site.new-0123456789abcdef.mark").write_text("somebody's")
    before = names(site.parent)
    Staging(site).abandon()
    assert names(site.parent) == before
    assert said(site.with_name(".site.new-0123")) == {"somebody's"}


def test_a_build_that_runs_keeps_its_folder(site: Path) -> None:
    mine = Staging(site)
    os.utime(mine.fresh, (1000, 1000))
    Staging(site).abandon()
    assert mine.fresh.exists()
    written(mine.fresh, "mine")
    mine.publish()
    assert said(site) == {"mine"}
    assert names(site.parent) == ["site"]


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


def test_hidden_files_of_the_user_outlive_a_kill(site: Path) -> None:
    """The build was killed when the sites had changed places and the hidden files had not come over yet."""
    publish(site, "new")
    left = left_beside(site, "old")
    (left / ".git").mkdir()
    (left / ".git" / "HEAD").write_text("ref")
    (left / ".nojekyll").write_text("the old one's")
    (site / ".nojekyll").write_text("")
    Staging(site).abandon()
    assert names(site.parent) == ["site"]
    assert (site / ".git" / "HEAD").read_text() == "ref"
    assert (site / ".nojekyll").read_text() == ""
    assert (site / "page0" / "index.html").read_text() == "new"


def test_a_folder_that_a_kill_left_with_files_of_the_users_stays(site: Path) -> None:
    publish(site, "new")
    left = left_beside(site, "old")
    (left / "mine.html").write_text("mine")
    for _ in range(2):
        Staging(site).abandon()
        assert (left / "mine.html").read_text() == "mine"
    assert names(site.parent) == [left.name, "site"]


def test_hidden_files_of_half_a_site_are_not_the_users(site: Path) -> None:
    publish(site, "old")
    left = left_beside(site, "half")
    (left / LISTING).unlink()
    (left / ".well-known").mkdir()
    Staging(site).abandon()
    assert not left.exists()
    assert not (site / ".well-known").exists()


def test_what_is_no_site_is_not_replaced(site: Path) -> None:
    site.mkdir()
    (site / "thesis.doc").write_text("years of work")
    with pytest.raises(WrongPlace, match=r"holds files that are not part of a site.*: thesis\.doc; move it"):
        Staging(site)
    (site / "sitemap.xml").write_text("<urlset/>")
    with pytest.raises(WrongPlace, match=r": sitemap\.xml, thesis\.doc; "):
        Staging(site)
    assert (site / "thesis.doc").read_text() == "years of work"
    assert names(site.parent) == ["site"]


def test_packed_copies_go_with_their_site(site: Path) -> None:
    publish(site, "old")
    page = site / "page1/index.html"
    for path in (page, site / LISTING):
        path.with_name(f"{path.name}.gz").write_bytes(gzip.compress(path.read_bytes()))
    publish(site, "new")
    assert not list(site.rglob("*.gz"))
    for packed in (gzip.compress(b"of the user"), b"of the user", gzip.compress(page.read_bytes())[:-9]):
        (site / "page1/index.html.gz").write_bytes(packed)
        with pytest.raises(WrongPlace, match=r": page1/index\.html\.gz; "):
            Staging(site)
    (site / "page1/index.html.gz").unlink()
    (site / "notes.gz").write_bytes(gzip.compress(page.read_bytes()))
    with pytest.raises(WrongPlace, match=r": notes\.gz; "):
        Staging(site)


def test_a_site_is_replaced_only_where_each_file_is_as_a_build_wrote_it(site: Path) -> None:
    publish(site, "old")
    for name in ("page5.html", "page1/.hidden", "page1/index.html", "page2/notes/a", "page3/page.pdf"):
        path = site / name
        before = path.read_bytes() if path.exists() else None
        path.parent.mkdir(exist_ok=True)
        path.write_text("mine")
        with pytest.raises(WrongPlace, match=rf": {name}; move it"):
            Staging(site)
        assert path.read_text() == "mine"
        path.write_bytes(before) if before else path.unlink()
    for number in range(5):
        (site / f"page{number}.html").symlink_to(site / "page0" / "index.html")
    with pytest.raises(WrongPlace, match=r": page0\.html, page1\.html, page2\.html and 2 more; "):
        Staging(site)
    for number in range(5):
        (site / f"page{number}.html").unlink()
    # A file that is gone is no loss, and what file managers leave is nobody's.
    (site / "page4" / "index.html").unlink()
    (site / "page1" / ".DS_Store").write_bytes(b"")
    publish(site, "new")
    assert said(site) == {"new"}
    assert names(site.parent) == ["site"]


@pytest.mark.parametrize("listing", ["", "[]", "{}", '{"files": {}}', '{"files": {"page0/index.html": ""}}'])
def test_a_listing_that_lists_nothing_proves_nothing(site: Path, listing: str) -> None:
    publish(site, "old")
    (site / LISTING).write_text(listing)
    with pytest.raises(WrongPlace, match=r"index\.html"):
        Staging(site)
    assert (site / "page0" / "index.html").read_text() == "old"


def test_what_the_user_puts_there_meanwhile_stays(site: Path) -> None:
    publish(site, "old")
    place = Staging(site)
    written(place.fresh, "new")
    (site / "mine.html").write_text("mine")
    with pytest.raises(WrongPlace, match=r": mine\.html; "):
        place.publish()
    assert (site / "mine.html").read_text() == "mine"
    assert (site / "page0" / "index.html").read_text() == "old"
    assert names(site.parent) == ["site"]


def test_what_the_user_puts_there_at_the_last_moment_stays(
    site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    publish(site, "old")
    place = Staging(site)
    written(place.fresh, "new")
    settle = staging._settle

    def put(fresh: Path) -> None:
        settle(fresh)
        (site / "mine.html").write_text("mine")

    monkeypatch.setattr(staging, "_settle", put)
    place.publish()
    assert said(site) == {"new"}
    [kept] = [path for path in site.parent.iterdir() if path != site]
    assert (kept / "mine.html").read_text() == "mine"


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
    publish(site, "old")
    for number in (0, 1):
        os.utime(site / f"page{number}" / "index.html", (1000, 1000))
    place = Staging(site)
    written(place.fresh, "old")
    (place.fresh / "page0" / "index.html").write_text("changed")
    listed(place.fresh)
    place.publish()
    assert (site / "page0" / "index.html").stat().st_mtime > 1000
    assert (site / "page1" / "index.html").stat().st_mtime == 1000


@pytest.mark.skipif(sys.platform == "win32", reason="kills by signal")
def test_a_builder_killed_while_it_writes_leaves_the_old_site(site: Path) -> None:
    publish(site, "old")
    code = (
        "import sys, time; from pathlib import Path; from stavewright.site.staging import Staging\n"
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
    assert names(site.parent) == ["site"]
