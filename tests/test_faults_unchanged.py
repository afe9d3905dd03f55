"""Where nothing has changed, nothing is done; where anything has, it is seen."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import TINY

from stavewright.cache import build_stamp as module
from stavewright.cache.build_stamp import fingerprint, unchanged_site, write_stamp
from stavewright.cli import main

SLOW = {"abjad", "jinja2", "lark", "mkdocs", "mido", "music21", "pikepdf", "rich", "yaml", "lilypond"}


@pytest.fixture
def note(tmp_path: Path) -> tuple[Path, Path]:
    """A book and a site that has been noted as built from it."""
    book, site = tmp_path / "book", tmp_path / "book" / "site"
    (book / "exercises").mkdir(parents=True)
    (book / "exercises" / "a.warmup").write_text("title: A")
    (book / "mkdocs.yml").write_text("site_name: A book")
    (site / "page").mkdir(parents=True)
    (site / "page" / "index.html").write_text("a page")
    places = [str(book / "exercises"), str(book / "mkdocs.yml")]
    write_stamp(book, None, site, places, fingerprint(places), "1 piece")
    return book, site


def test_nothing_has_changed(note: tuple[Path, Path]) -> None:
    book, _ = note
    assert unchanged_site(book, None) == "1 piece"
    # A file written again as it was has not changed, whatever its time says.
    os.utime(book / "exercises" / "a.warmup", (10**9, 10**9))
    assert unchanged_site(book, None) == "1 piece"


def _another_exercise(book: Path, site: Path) -> None:
    (book / "exercises" / "b.warmup").write_text("title: B")


def _the_same_size(book: Path, site: Path) -> None:
    (book / "exercises" / "a.warmup").write_text("title: C")


def _renamed(book: Path, site: Path) -> None:
    (book / "exercises" / "a.warmup").rename(book / "exercises" / "z.warmup")


def _taken_away(book: Path, site: Path) -> None:
    (book / "mkdocs.yml").unlink()


def _page_lost(book: Path, site: Path) -> None:
    (site / "page" / "index.html").unlink()


def _page_altered(book: Path, site: Path) -> None:
    (site / "page" / "index.html").write_text("b page")
    os.utime(site / "page" / "index.html", (10**9, 10**9))


def _page_added(book: Path, site: Path) -> None:
    (site / "other.html").write_text("")


def _site_lost(book: Path, site: Path) -> None:
    site.rename(book / "elsewhere")


@pytest.mark.parametrize(
    "change",
    [
        _another_exercise,
        _the_same_size,
        _renamed,
        _taken_away,
        _page_lost,
        _page_altered,
        _page_added,
        _site_lost,
    ],
)
def test_a_change_is_seen(note: tuple[Path, Path], change: Callable[[Path, Path], None]) -> None:
    book, site = note
    change(book, site)
    assert unchanged_site(book, None) is None


def test_another_engraver_is_seen(note: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("STAVEWRIGHT_LILYPOND", sys.executable)
    assert unchanged_site(note[0], None) is None


def test_another_place_is_another_site(note: tuple[Path, Path], tmp_path: Path) -> None:
    assert unchanged_site(note[0], tmp_path / "out") is None
    assert unchanged_site(tmp_path / "another", None) is None


def test_a_damaged_note_is_no_note(note: tuple[Path, Path]) -> None:
    path = module._note_of(note[0], None)
    for data in (b"", b"{", b"[]", b"{}", b'{"site": 1}', path.read_bytes()[:-9]):
        path.write_bytes(data)
        assert unchanged_site(note[0], None) is None


def test_a_second_build_loads_nothing_slow(
    book: Callable[[dict[str, str | bytes]], Path], capsys: pytest.CaptureFixture[str]
) -> None:
    folder = book({"tiny": TINY.format(title="Tiny")})
    assert main(["build", "--book", str(folder)]) == 0
    first = capsys.readouterr().out
    code = (
        "import sys; from stavewright.cli import main\n"
        f"status = main(['build', '--book', {str(folder)!r}])\n"
        "print(status, *sorted({name.split('.')[0] for name in sys.modules}))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    said, last = done.stdout.splitlines()
    status, *loaded = last.split()
    assert status == "0"
    assert said.split(",")[:2] == first.splitlines()[-1].split(",")[:2]
    assert "unchanged since they were built" in said
    assert not SLOW & set(loaded)
    assert main(["build", "--book", str(folder), "--again"]) == 0
    assert "unchanged" not in capsys.readouterr().out


def test_the_cache_is_told_and_cleared(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("STAVEWRIGHT_CACHE", str(tmp_path))
        from stavewright.cache.store import CacheStore, key_of

        for number in range(3):
            CacheStore().put(key_of([str(number)]), bytes(1000))
        assert main(["cache"]) == 0
        assert main(["cache", "--clear"]) == 0
        assert main(["cache"]) == 0
    told, cleared, empty = capsys.readouterr().out.splitlines()
    assert told.startswith(f"{tmp_path}: 3 pieces, 0.0 of at most ")
    assert cleared == f"{tmp_path}: 3 pieces forgotten."
    assert empty.startswith(f"{tmp_path}: 0 pieces, 0.0 of")
