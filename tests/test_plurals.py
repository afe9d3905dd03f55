"""Counts in words."""

from __future__ import annotations

import pytest

from stavewright.plurals import count_of, plural


@pytest.mark.parametrize(("count", "said"), {0: "0 pages", 1: "1 page", 2: "2 pages"}.items())
def test_counts(count: int, said: str) -> None:
    assert count_of(count, "page") == said


def test_parts_of_a_whole() -> None:
    assert [plural(hours, "hour") for hours in (0.5, 1.0, 1.5)] == ["hours", "hour", "hours"]
