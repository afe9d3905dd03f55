"""Links in a book that lead out of it are faults; what they lead to is neither read nor published."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import TWO_KEYS

from stavewright.book.links import link_faults
from stavewright.book.read import open_book
from stavewright.cache.build_stamp import fingerprint
from stavewright.cli import main
from stavewright.language.faults import BookFaults

WriteBook = Callable[[dict[str, str | bytes]], Path]
SECRET = "root:x:0:0: a secret of the machine"

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")


@pytest.fixture
def outside(tmp_path: Path) -> Path:
    """A folder beside the book with files that are none of its business."""
    folder = tmp_path / "outside"
    folder.mkdir()
    (folder / "secret.txt").write_text(SECRET)
    (folder / "good.warmup").write_text(TWO_KEYS.format(title="From outside"))
    (folder / "instruments.toml").write_text(SECRET)
    return folder


@pytest.fixture
def small(book: WriteBook) -> Path:
    return book({"tiny": TWO_KEYS.format(title="Tiny")})


def allow(book: Path, *names: str) -> None:
    """Allow links by name."""
    path = book / "mkdocs.yml"
    text = path.read_text(encoding="utf-8")
    path.write_text(f"{text}      links: [{', '.join(names)}]\n", encoding="utf-8")


@pytest.mark.parametrize(
    ("link", "target"),
    [
        ("exercises/evil.warmup", "secret.txt"),
        ("exercises/good.warmup", "good.warmup"),
        ("exercises/deep/er", "."),
        ("pages/leak.txt", "secret.txt"),
        ("pages/deep/er", "."),
        ("instruments.toml", "instruments.toml"),
    ],
)
@pytest.mark.parametrize("relative", [True, False])
def test_a_link_out_of_the_book_is_a_fault(
    small: Path, outside: Path, capsys: pytest.CaptureFixture[str], link: str, target: str, relative: bool
) -> None:
    path = small / link
    path.parent.mkdir(parents=True, exist_ok=True)
    path.symlink_to(os.path.relpath(outside / target, path.parent) if relative else outside / target)
    for command in (["check"], ["build"], ["print", "--all", "-o", str(small / "x.pdf")]):
        assert main([*command, "--book", str(small)]) == 1
        said = capsys.readouterr()
        assert f"{link}:1:1: this is a link that leads out of the book; " in said.out
        assert f"`links: [{link}]`" in said.out
        assert "secret of" not in said.out + said.err
    assert not (small / "site").exists()


def test_mkdocs_does_not_publish_what_a_link_leads_to(small: Path, outside: Path) -> None:
    (small / "pages" / "leak.txt").symlink_to(outside / "secret.txt")
    command = [sys.executable, "-m", "mkdocs", "build"]
    done = subprocess.run(command, cwd=small, capture_output=True, text=True)
    assert done.returncode == 1
    assert "pages/leak.txt:1:1: this is a link that leads out of the book" in done.stderr
    assert not (small / "site").exists()
    assert [path.name for path in small.iterdir() if path.name.startswith(".")] == []


def test_a_hand_out_that_is_a_link_out_of_the_book_is_not_quoted(
    small: Path, outside: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (small / "week.set").symlink_to(outside / "secret.txt")
    wish = ["print", "--book", str(small), "-o", str(tmp_path / "x.pdf"), "--set"]
    assert main([*wish, str(small / "week.set")]) == 1
    assert "week.set:1:1: this is a link that leads out of the book" in capsys.readouterr().out
    # What the user names elsewhere is the user's to name.
    assert main([*wish, str(outside / "secret.txt")]) == 1
    assert "leads out of the book" not in capsys.readouterr().out


def test_links_within_the_book_are_files_like_others(small: Path) -> None:
    (small / "exercises" / "other.warmup").write_text(TWO_KEYS.format(title="Other"))
    (small / "pages" / "text.txt").symlink_to(small / "exercises" / "other.warmup")
    (small / "pages" / "round").symlink_to("..")
    (small / "pages" / "itself").symlink_to("itself")
    assert len(open_book(small).exercises) == 2
    linked = small.with_name("linked")
    linked.symlink_to(small)
    assert len(open_book(linked).exercises) == 2


def test_a_link_is_allowed_by_its_name_or_a_folders(small: Path, outside: Path) -> None:
    (small / "exercises" / "good.warmup").symlink_to(outside / "good.warmup")
    (small / "pages" / "more").mkdir()
    (small / "pages" / "more" / "leak.txt").symlink_to(outside / "secret.txt")
    with pytest.raises(BookFaults) as found:
        open_book(small)
    assert [fault.file for fault in found.value.faults] == [
        "exercises/good.warmup",
        "pages/more/leak.txt",
    ]
    allow(small, "pages/more", "exercises/good.warmup")
    assert [exercise.title for exercise in open_book(small).exercises] == ["From outside", "Tiny"]


def test_what_is_allowed_opens_nothing_else(small: Path, outside: Path, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (outside / "further").symlink_to(elsewhere)
    (small / "pages" / "allowed").symlink_to(outside)
    (small / "pages" / "other").symlink_to(outside)
    found = link_faults(small, [small / "pages"], {"links": ["pages/allowed"]})
    assert [fault.file for fault in found] == ["pages/other"]


def test_what_mkdocs_yml_names_outside_is_no_link(small: Path, outside: Path) -> None:
    (outside / "leak.txt").symlink_to("/etc/hostname")
    (outside / "same.txt").symlink_to("secret.txt")
    found = link_faults(small, [small / ".." / "outside"], {})
    assert [fault.file for fault in found] == ["../outside/leak.txt"]


def test_what_is_no_file_is_not_read_to_know_whether_it_changed(tmp_path: Path) -> None:
    (tmp_path / "endless").symlink_to("/dev/zero")
    with pytest.raises(OSError, match="no file"):
        fingerprint([str(tmp_path)])
    (tmp_path / "endless").unlink()
    (tmp_path / "folder").symlink_to("/")
    with pytest.raises(OSError, match="a folder that is a link"):
        fingerprint([str(tmp_path)])
