"""Helpers do what they are given, in processes of their own, and none is left behind."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from stavewright.cache.store import CacheStore
from stavewright.jobs import pool as module
from stavewright.jobs.pool import HelperPool, helper_pool

WORK = """\
import os, time
from pathlib import Path
from stavewright.cache.store import CacheStore

def tell(common, share, cache):
    '''Write down who worked on what.'''
    CacheStore(cache).put(share, f"{common} {os.getpid()}".encode())

def meet(common, share, cache):
    '''Wait for the other one: two that are at it at once come to an end.'''
    mine, other = share
    Path(mine).touch()
    for _ in range(600):
        if Path(other).exists():
            CacheStore(cache).put(Path(mine).name, b"met")
            return
        time.sleep(0.05)

def after(common, share, cache):
    '''Say whether something was there already.'''
    CacheStore(cache).put("after", str(CacheStore(cache).has(share)).encode())

def fail(common, share, cache):
    '''Fail in one of several ways.'''
    if share == "raise":
        raise ValueError
    os._exit(3)

def slow(common, share, cache):
    '''Write down who is at work, and stay at it.'''
    Path(share).write_text(str(os.getpid()))
    time.sleep(600)
"""


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> CacheStore:
    """A cache, and two cores whatever the machine has; the helpers find the work above."""
    (tmp_path / "some_work.py").write_text(WORK)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    monkeypatch.syspath_prepend(str(tmp_path))
    monkeypatch.setattr(module, "cores", lambda: 2)
    return CacheStore(tmp_path / "cache")


def work(name: str) -> Callable[..., None]:
    """A function of that module."""
    import some_work  # type: ignore[import-not-found]

    found: Callable[..., None] = getattr(some_work, name)
    return found


def test_what_all_have_in_common_is_told_once(kept: CacheStore) -> None:
    with helper_pool(kept.place) as helpers:
        assert helpers.count == 2
        helpers.share("one")
        helpers.submit([(work("tell"), "ab1"), (work("tell"), "ab2")])
        helpers.share("two")
        helpers.submit([(work("tell"), "ab3")])
        helpers.wait()
    found = [(kept.get(f"ab{number}") or b"").decode().split() for number in (1, 2, 3)]
    assert [words[0] for words in found] == ["one", "one", "two"]
    if hasattr(os, "fork"):
        assert len({words[1] for words in found} | {str(os.getpid())}) == 4


@pytest.mark.skipif(not hasattr(os, "fork"), reason="there helpers do one thing after another")
def test_a_round_is_done_at_once_and_rounds_one_by_one(kept: CacheStore, tmp_path: Path) -> None:
    one, two = str(tmp_path / "m1"), str(tmp_path / "m2")
    with helper_pool(kept.place) as helpers:
        helpers.submit([(work("meet"), (one, two)), (work("meet"), (two, one))], [(work("after"), "m1")])
        helpers.wait()
    assert [kept.get(name) for name in ("m1", "m2", "after")] == [b"met", b"met", b"True"]


def test_one_that_fails_does_not_harm_the_others(kept: CacheStore, capfd: pytest.CaptureFixture[str]) -> None:
    with helper_pool(kept.place) as helpers:
        helpers.submit([(work("fail"), "raise"), (work("tell"), "ab1")])
        helpers.submit([(work("tell"), "ab2"), (work("fail"), "exit")], [(work("tell"), "ab3")])
        helpers.wait()
    assert all(kept.has(f"ab{number}") for number in (1, 2, 3))
    assert capfd.readouterr() == ("", "")


def test_nothing_given_is_nothing_to_wait_for(kept: CacheStore) -> None:
    with helper_pool(kept.place) as helpers:
        helpers.submit([], [])
        helpers.wait()
        helpers.wait()
    assert not list(kept.place.glob("*/*"))


def test_one_core_or_one_job_has_no_helper(kept: CacheStore, monkeypatch: pytest.MonkeyPatch) -> None:
    with helper_pool(kept.place, jobs=1) as helpers:
        assert helpers.count == 0
    monkeypatch.setattr(module, "cores", lambda: 1)
    with helper_pool(kept.place) as helpers:
        assert helpers.count == 0
        helpers.share("one")
        helpers.submit([(work("tell"), "ab1")])
        helpers.wait()
    assert not kept.has("ab1")


def at_work(told: Path) -> int:
    """The process that has written down its number."""
    for _ in range(600):
        if told.exists() and told.read_text():
            return int(told.read_text())
        time.sleep(0.1)
    pytest.fail("the helper did not begin")


def ended(process: int) -> bool:
    """Whether a process has ended, or does so soon."""
    for _ in range(600):
        try:
            os.kill(process, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.1)
    return False


@pytest.mark.skipif(sys.platform == "win32", reason="a signal cannot be asked for there")
def test_they_end_at_once_where_they_are_not_needed(kept: CacheStore, tmp_path: Path) -> None:
    told = [tmp_path / "t1", tmp_path / "t2"]
    with pytest.raises(ZeroDivisionError), helper_pool(kept.place) as helpers:
        helpers.submit([(work("slow"), str(place)) for place in told])
        found = list(map(at_work, told))
        raise ZeroDivisionError
    assert all(map(ended, found))


@pytest.mark.exhaustive
@pytest.mark.skipif(sys.platform == "win32", reason="a process there does not learn of its parent's end")
def test_a_helper_ends_with_its_builder(kept: CacheStore, tmp_path: Path) -> None:
    code = (
        "import sys, time, some_work; from pathlib import Path\n"
        "from stavewright.jobs import pool as helpers\n"
        "helpers.cores = lambda: 2\n"
        "found = helpers.HelperPool(Path(sys.argv[1]))\n"
        "found.submit([(some_work.slow, place) for place in sys.argv[2:]])\n"
        "if sys.argv[3:]: found.wait()\n"
        "time.sleep(600)"
    )
    for number, tasks in enumerate((1, 2)):
        told = [tmp_path / f"told{number}{task}" for task in range(tasks)]
        command = [sys.executable, "-c", code, str(kept.place), *map(str, told)]
        with subprocess.Popen(command) as builder:
            found = list(map(at_work, told))
            builder.kill()
        assert all(map(ended, found))


def test_helpers_that_are_gone_are_not_missed(kept: CacheStore) -> None:
    helpers = HelperPool(kept.place)
    helpers.stop()
    helpers.share("one")
    helpers.submit([(work("tell"), "ab1")])
    helpers.wait()
    helpers.stop()
    assert not kept.has("ab1")
