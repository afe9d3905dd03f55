"""What the project takes from others is bounded, and the checks' list of it is whole.

The list's form is pip's (https://pip.pypa.io/en/stable/topics/secure-installs/), the markers' meaning that of
https://packaging.python.org/en/latest/specifications/dependency-specifiers/, read here by `packaging`.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

ROOT = Path(__file__).parents[1]
PYTHONS = ["3.11.7", "3.12.1", "3.13.0"]


def wanted() -> list[Requirement]:
    """Everything that pyproject.toml names, the extras and the build backend too."""
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    extras = told["project"]["optional-dependencies"].values()
    lists = [told["build-system"]["requires"], told["project"]["dependencies"], *extras]
    return [Requirement(line) for some in lists for line in some]


def locked() -> list[tuple[Requirement, list[str]]]:
    """Each entry of the list, with its hashes."""
    text = (ROOT / ".ci" / "locked.txt").read_text(encoding="utf-8").replace("\\\n", " ")
    entries = []
    for line in text.splitlines():
        stated, *hashes = line.split("--hash=")
        entries.append((Requirement(stated), [value.strip() for value in hashes]))
    return entries


def on_linux(python: str) -> dict[str, str]:
    """Markers' values on Linux x86-64 under this Python."""
    return {
        "platform_machine": "x86_64",
        "platform_python_implementation": "CPython",
        "platform_system": "Linux",
        "python_full_version": python,
        "python_version": python.rpartition(".")[0],
        "sys_platform": "linux",
    }


@pytest.mark.parametrize("requirement", wanted(), ids=lambda requirement: requirement.name)
def test_every_requirement_has_both_bounds(requirement: Requirement) -> None:
    signs = {part.operator for part in requirement.specifier}
    assert signs == {">=", "<"}


def test_every_locked_entry_is_one_version_with_its_hashes_and_no_address() -> None:
    entries = locked()
    assert entries
    for requirement, hashes in entries:
        assert [part.operator for part in requirement.specifier] == ["=="], requirement
        assert requirement.url is None
        assert hashes, requirement
        assert all(re.fullmatch("sha256:[0-9a-f]{64}", value) for value in hashes), requirement


@pytest.mark.parametrize("python", PYTHONS)
def test_the_list_holds_all_that_is_named(python: str) -> None:
    """If this fails, `.ci/lock` writes the list anew."""
    here = on_linux(python)
    versions: dict[str, Version] = {}
    for requirement, _ in locked():
        if requirement.marker is None or requirement.marker.evaluate(here):
            name = canonicalize_name(requirement.name)
            assert name not in versions, f"two versions of {name}"
            (only,) = requirement.specifier
            versions[name] = Version(only.version)
    for requirement in wanted():
        assert requirement.marker is None or requirement.marker.evaluate(here)
        assert versions[canonicalize_name(requirement.name)] in requirement.specifier
