"""What is handed to others: the source archive is whole, and one line installs the program everywhere.

The commands of MANIFEST.in are in https://setuptools.pypa.io/en/latest/userguide/miscellaneous.html.
"""

from __future__ import annotations

import re
import subprocess
import tomllib
from fnmatch import fnmatch
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


def in_archive(name: str) -> bool:
    """Whether MANIFEST.in puts a file into the source archive; setuptools adds pyproject.toml by itself."""
    for line in (ROOT / "MANIFEST.in").read_text(encoding="utf-8").splitlines():
        command, *words = line.split()
        if command == "include" and name in words:
            return True
        if command == "graft" and name.startswith(f"{words[0]}/"):
            return True
        if command == "recursive-include" and name.startswith(f"{words[0]}/"):
            last = name.rpartition("/")[2]
            if any(fnmatch(last, pattern) for pattern in words[1:]):
                return True
    return name == "pyproject.toml"


@pytest.mark.slow
def test_the_source_archive_holds_every_file() -> None:
    if not (ROOT / ".git").exists():
        pytest.skip("this is no clone")
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    assert [name for name in listed.splitlines() if not in_archive(name)] == []


def test_what_an_index_shows_is_there() -> None:
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert told["authors"] and len(told["keywords"]) > 3 and len(told["description"]) < 200
    versions = {
        each.rpartition(" ")[2] for each in told["classifiers"] if each.startswith("Programming Language")
    }
    assert told["requires-python"] == ">=3.11" and {"3.11", "3.12", "3.13"} <= versions
    # With a licence expression (PEP 639) a classifier of a licence is an error.
    assert not any(each.startswith("License ::") for each in told["classifiers"])


@pytest.mark.parametrize(
    "place", sorted({*ROOT.glob("*.md"), *ROOT.glob("docs/*.md"), *ROOT.glob("builder/**/*.py")})
)
def test_an_optional_part_is_installed_in_one_way(place: Path) -> None:
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    text = place.read_text(encoding="utf-8")
    for line in re.findall(r"pip install[^\n`]*\[\w+\][^\n`]*", text):
        extra = re.findall(r"\[(\w+)\]", line)[0]
        assert extra in told["optional-dependencies"], line
        # Developers install what the tests need from their clone.
        wanted = "'.[test]'" if extra == "test" else f"'stavewright[{extra}]'"
        assert wanted in line and "-e '.[" not in line.replace("-e '.[test]'", ""), line
