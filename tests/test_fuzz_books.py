"""A small part of `benchmarks/fuzz.py --books`: books and commands that nobody would write."""

from __future__ import annotations

import importlib.util
from collections import Counter
from pathlib import Path
from types import ModuleType

import pytest

from stavewright.book.instruments_file import read_own


@pytest.fixture(scope="module")
def fuzz() -> ModuleType:
    """The benchmark's module, which is no package's."""
    path = Path(__file__).parent.parent / "benchmarks" / "fuzz_books.py"
    spec = importlib.util.spec_from_file_location("fuzz_books", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("seeds", [range(30), pytest.param(range(30, 100), marks=pytest.mark.exhaustive)])
def test_none_ends_in_a_traceback(fuzz: ModuleType, tmp_path: Path, seeds: range) -> None:
    """Each seed is a run of its own: `tried` raises what a run raises."""
    ends = Counter(fuzz.tried(seed, tmp_path / str(seed)) for seed in seeds)
    assert set(ends) == {"good", "fault", "wrong use"}
    assert min(ends.values()) >= len(seeds) / 10, "too much of one kind to be of use"


@pytest.mark.parametrize("text", [f"a = {'9' * 5000}", f"a = {'[' * 5000}"], ids=["number", "brackets"])
def test_instruments_beyond_the_bounds_of_toml_are_a_fault(text: str) -> None:
    found, (fault,) = read_own(text.encode(), {})
    assert found == {}
    assert "a number is too long, or brackets lie too deep in each other" in str(fault)
