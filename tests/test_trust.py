"""What docs/trust.md says: which files of a book are data, and which commands run mkdocs.yml as a program."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
import yaml

from stavewright.cli import main

ROOT = Path(__file__).parents[1]


@pytest.fixture
def stranger(
    book: Callable[[dict[str, str | bytes]], Path], tiny: Callable[[str], str], tmp_path: Path
) -> Path:
    """A book whose mkdocs.yml makes a folder by a tag and a file by a hook, when it is run."""
    folder = book({"a": tiny("A")})
    (folder / "hook.py").write_text(f"open({str(tmp_path / 'by-hook')!r}, 'w').close()\n")
    config = folder / "mkdocs.yml"
    tag = f"!!python/object/apply:os.mkdir ['{tmp_path}/by-tag']"
    config.write_text(config.read_text() + f"hooks: [hook.py]\nextra: {{x: {tag}}}\n")
    return folder


@pytest.mark.parametrize(
    "command",
    [
        ["check"],
        ["print", "--all", "-o", "{}/a.pdf"],
        ["daily", "--minutes", "5", "--days", "1", "-o", "{}/d.pdf"],
        ["export", "--midi", "-o", "{}/midi"],
        ["new", "another"],
    ],
    ids=lambda command: command[0],
)
def test_a_strangers_book_can_be_looked_at(stranger: Path, tmp_path: Path, command: list[str]) -> None:
    assert main([*(word.format(tmp_path) for word in command), "--book", str(stranger)]) == 0
    assert list(tmp_path.glob("by-*")) == []


def test_to_build_a_book_is_to_run_its_configuration(stranger: Path, tmp_path: Path) -> None:
    """If this ceases to be so, the page may promise more."""
    assert main(["build", "--book", str(stranger)]) == 0
    assert sorted(path.name for path in tmp_path.glob("by-*")) == ["by-hook", "by-tag"]


def test_the_publishing_workflow_installs_the_locked_list_and_asks_for_little() -> None:
    told = yaml.safe_load((ROOT / "builder/templates/publish.yml").read_text(encoding="utf-8"))
    assert told["permissions"] == {}
    jobs = told["jobs"]
    assert jobs["build"]["permissions"] == {"contents": "read"}
    assert jobs["publish"]["permissions"] == {"pages": "write", "id-token": "write"}
    steps = [step for step in jobs["build"]["steps"] if "pip install" in step.get("run", "")]
    installs = [step["run"] for step in steps]
    assert [step["if"] for step in steps] == [
        "hashFiles('.ci/locked.txt') != ''",
        "hashFiles('.ci/locked.txt') != ''",
        "hashFiles('builder/templates/publish.yml') != ''",
        "hashFiles('builder/templates/publish.yml') == ''",
    ]
    assert all("--require-hashes" in command and ".ci/locked.txt" in command for command in installs[:2])
    # What is not on the list is this program itself: the clone's, for which nothing is fetched, or a release.
    assert installs[2:] == ["pip install --no-deps --no-build-isolation .", 'pip install "$STAVEWRIGHT"']
    # They are those by which the checks install it too.
    checks = (ROOT / ".ci/run").read_text(encoding="utf-8").replace("install -q", "install")
    for command in installs[:2]:
        assert command in checks
