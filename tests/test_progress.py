"""How long work tells of itself where there is no terminal."""

from __future__ import annotations

import io
import sys

import pytest

from stavewright.jobs import progress as module
from stavewright.jobs.progress import progress


class Clock:
    """A clock that a test sets."""

    now = 0.0

    def monotonic(self) -> float:
        return self.now


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    made = Clock()
    monkeypatch.setattr(module, "time", made)
    return made


def test_a_pipe_gets_one_plain_line_a_minute(clock: Clock, capsys: pytest.CaptureFixture[str]) -> None:
    with progress("Engraving") as report:
        assert report is not None
        for second in range(181):
            clock.now = second
            report(second, 180)
    assert capsys.readouterr().err.splitlines() == ["Engraving: 60 of 180 done", "Engraving: 120 of 180 done"]


def test_what_is_done_within_a_minute_says_nothing(clock: Clock, capsys: pytest.CaptureFixture[str]) -> None:
    with progress("Engraving") as report:
        assert report is not None
        clock.now = 59.9
        report(10, 20)
        clock.now = 70
        report(20, 20)
    assert capsys.readouterr().err == ""


def test_a_quiet_command_shows_nothing() -> None:
    with progress("Engraving", quiet=True) as report:
        assert report is None


def test_the_work_goes_on_where_nobody_reads(clock: Clock, monkeypatch: pytest.MonkeyPatch) -> None:
    class Closed(io.StringIO):
        def write(self, text: str) -> int:
            raise BrokenPipeError

    monkeypatch.setattr(sys, "stderr", Closed())
    with progress("Engraving") as report:
        assert report is not None
        clock.now = 100
        report(1, 2)
