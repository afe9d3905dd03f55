"""A small book in two versions with the sites of both, to see which of them stands after a fault."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest
from conftest import TWO_KEYS, write_book
from made_site import keep_language

from stavewright.cli import main
from stavewright.engrave.piece import Piece
from stavewright.engrave.processes.lilypond import Engraver

Content = dict[str, bytes]
ODD = TWO_KEYS.format(title="Odd") + '  above "mill"\n'


def content(site: Path) -> Content:
    """Every file of a site and its bytes."""
    files = (path for path in site.rglob("*") if path.is_file())
    return {path.relative_to(site).as_posix(): path.read_bytes() for path in files}


@dataclass(frozen=True)
class Made:
    """A book in two versions, the whole site of each, and the cache with the pieces of both.

    `added` are the names of what the new version has in the cache and the old has not, `pieces` all that was
    engraved, by the name of its ink in the cache; equal pieces have one.
    """

    old_book: Path
    new_book: Path
    old: Content
    new: Content
    cache: Path
    added: frozenset[str]
    pieces: dict[str, list[Piece]]


def built_versions(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Both versions, built once in a run of this process."""
    return _built_versions(tmp_path_factory.getbasetemp() / "two_versions")


@cache
def _built_versions(folder: Path) -> Made:
    exercises: dict[str, str | bytes] = {"tiny": TWO_KEYS.format(title="Tiny")}
    old_book = write_book(folder / "old" / "book", exercises)
    new_book = write_book(folder / "new" / "book", exercises | {"odd": ODD})
    sites, entries = [], []
    pieces: dict[str, list[Piece]] = {}
    key_of = Piece.key

    def noted(piece: Piece, engraver: Engraver) -> str:
        key = key_of(piece, engraver)
        pieces.setdefault(f"{key[:2]}/{key[2:]}.piece", []).append(piece)
        return key

    keep_language(folder / "cache")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Piece, "key", noted)
        patch.setenv("STAVEWRIGHT_CACHE", str(folder / "cache"))
        for book in (old_book, new_book):
            assert main(["build", "--book", str(book)]) == 0
            sites.append(content(book / "site"))
            entries.append(
                {f"{path.parent.name}/{path.name}" for path in (folder / "cache").glob("??/*.piece")}
            )
    assert sites[0] != sites[1]
    return Made(old_book, new_book, *sites, folder / "cache", frozenset(entries[1] - entries[0]), pieces)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Both versions, built once."""
    return built_versions(tmp_path_factory)


@pytest.fixture
def cache(made: Made, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A cache of this test's own, with every piece in it."""
    place = tmp_path / "cache"
    shutil.copytree(made.cache, place)
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(place))
    return place


@pytest.fixture
def site(made: Made, tmp_path: Path) -> Path:
    """The old site, published."""
    place = tmp_path / "published" / "site"
    shutil.copytree(made.old_book / "site", place)
    return place


def build(book: Path, site: Path, *more: str) -> int:
    """A build in this process, with one engraver."""
    return main(["build", "--again", "--book", str(book), "--out", str(site), "--jobs", "1", *more])


def alone(site: Path) -> bool:
    """Whether nothing was left beside a site."""
    return [path.name for path in site.parent.iterdir() if path.name.startswith(".")] == []
