"""The cache is as trusted as the program: it is for its owner alone."""

from __future__ import annotations

import os
import stat
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import TINY

from stavewright.cache.store import CacheRefused, CacheStore, own_folder
from stavewright.cli import main

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="owners and modes are another matter there")
ROOT = hasattr(os, "getuid") and os.getuid() == 0


def mode_of(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_a_new_cache_is_closed_to_others(tmp_path: Path) -> None:
    own_folder(tmp_path / "cache")
    CacheStore(tmp_path / "cache").put("0" * 64, b"ink")
    assert mode_of(tmp_path / "cache") == 0o700
    assert {mode_of(path) for path in (tmp_path / "cache").rglob("*") if path.is_file()} == {0o600}


@pytest.mark.parametrize("mode", [0o755, 0o777, 0o1777, 0o750])
def test_an_empty_folder_that_is_open_to_others_is_closed(tmp_path: Path, mode: int) -> None:
    (tmp_path / "cache").mkdir()
    (tmp_path / "cache").chmod(mode)
    own_folder(tmp_path / "cache")
    assert mode_of(tmp_path / "cache") == 0o700


def test_a_cache_that_others_can_read_is_closed(tmp_path: Path) -> None:
    assert CacheStore(tmp_path / "cache").put("0" * 64, b"ink")
    (tmp_path / "cache").chmod(0o755)
    own_folder(tmp_path / "cache")
    assert mode_of(tmp_path / "cache") == 0o700
    assert CacheStore(tmp_path / "cache").get("0" * 64) == b"ink"


@pytest.mark.parametrize("command", ["build", "cache"])
@pytest.mark.parametrize("mode", [0o777, 0o775, 0o1777])
def test_a_cache_in_which_others_may_have_put_something_is_refused(
    book: Callable[[dict[str, str | bytes]], Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    mode: int,
    command: str,
) -> None:
    place = tmp_path / "cache"
    assert CacheStore(place).put("0" * 64, b"ink")
    place.chmod(mode)
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(place))
    folder = book({"a": TINY.format(title="A")})
    options = ["--book", str(folder)] if command == "build" else []
    assert main([command, *options]) == 2
    assert "others can write in the cache" in capsys.readouterr().err
    assert not (folder / "site").exists()
    assert mode_of(place) == mode


def test_a_folder_of_something_else_keeps_its_mode(tmp_path: Path) -> None:
    """As a home folder, or the system's temporary folder where root builds."""
    (tmp_path / "else").write_text("something of the user's")
    tmp_path.chmod(0o755)
    own_folder(tmp_path)
    assert mode_of(tmp_path) == 0o755
    tmp_path.chmod(0o1777)
    with pytest.raises(CacheRefused, match="others can write"):
        own_folder(tmp_path)
    assert mode_of(tmp_path) == 0o1777


@pytest.mark.skipif(not ROOT, reason="only root can give a folder away")
def test_a_cache_of_another_user_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    place = tmp_path / "cache"
    place.mkdir()
    os.chown(place, 12345, 12345)
    with pytest.raises(CacheRefused, match="belongs to another user"):
        own_folder(place)
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(place))
    assert main(["cache"]) == 2
    said = capsys.readouterr().err
    assert "STAVEWRIGHT_CACHE" in said
    assert not list(place.iterdir())


def test_a_folder_that_stays_open_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As on a disk that knows no modes."""
    (tmp_path / "cache").mkdir()
    (tmp_path / "cache").chmod(0o777)
    monkeypatch.setattr(Path, "chmod", lambda *_, **__: None)
    with pytest.raises(CacheRefused, match="others can write"):
        own_folder(tmp_path / "cache")


def test_where_none_can_be_made_a_build_goes_on(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    own_folder(tmp_path / "file")
    own_folder(tmp_path / "file" / "cache")
