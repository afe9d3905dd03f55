"""The same book makes the same bytes: anywhere, at any time, with any number of workers."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from conftest import write_book
from made_site import keep_language

EXERCISE = """\
title: A tide
rights: written for this test, public domain
purpose: To compare two builds, byte by byte.
attend:
  - the same ink
home: D5 in D major
travel: semitones up from D5 to Eb5
meter: 4/4
tempo: quarter = 54 to 66
variations: swell up
music:
  slur( h D5 mf q C#5 D5 ) | w D5 above "still" fermata ,
"""


def built(folder: Path, jobs: int, **environment: str) -> dict[str, bytes]:
    """A clean build in a folder of its own, in a fresh process."""
    book = write_book(folder / "book", {"a-tide": EXERCISE})
    config = book / "mkdocs.yml"
    config.write_text(config.read_text() + "site_url: https://millrace.example/book/\n")
    done = subprocess.run(
        [sys.executable, "-m", "stavewright", "build", "--book", str(book), "--jobs", str(jobs)],
        env=os.environ | {"STAVEWRIGHT_CACHE": str(folder / "cache")} | environment,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    site = book / "site"
    return {
        path.relative_to(site).as_posix(): path.read_bytes() for path in site.rglob("*") if path.is_file()
    }


@pytest.mark.every_core
def test_two_clean_builds_are_the_same(tmp_path: Path) -> None:
    # The first has the ink of the language's page from this process; the other makes it anew, as all else.
    keep_language(tmp_path / "one" / "cache")
    one = built(tmp_path / "one", 1, TZ="UTC", PYTHONHASHSEED="1", LANG="C")
    other = built(
        tmp_path / "a longer name" / "other", 3, TZ="Asia/Tokyo", PYTHONHASHSEED="2", LANG="C.UTF-8"
    )
    assert one.keys() == other.keys()
    assert [name for name in one if one[name] != other[name]] == []
    for folder in (tmp_path, Path.home()):
        assert [name for name, data in one.items() if str(folder).encode() in data] == []
    kinds = {name.rpartition(".")[2] for name in one}
    assert {"html", "pdf", "css", "js", "xml", "gz"} <= kinds
