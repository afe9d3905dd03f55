"""Workers on a Dask cluster of separate processes: the same ink, and no piece lost with a worker."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from conftest import TWO_KEYS

from stavewright.cache.store import CacheStore
from stavewright.cli import main
from stavewright.engrave.engravings import Engravings
from stavewright.engrave.piece import Engraved, Failure, Piece
from stavewright.engrave.processes import scheduler as batch
from stavewright.engrave.processes.lilypond import EngraverAtFault, EngraverMissing
from stavewright.engrave.processes.scheduler import RemoteWorkers, WorkersDiffer

distributed = pytest.importorskip("distributed")
dask = pytest.importorskip("dask")

SOUND = "\\score {{ \\new Staff {{ {0} }} }}\n"
PIECES = {f"{count}": Piece(f"{count}", SOUND.format("c'4 d' " * count)) for count in range(1, 17)}
ROLES = ("scheduler", "worker", "client")
WRONG = Piece("wrong", SOUND.format("c'4 \\nosuchcommand"))


def made(folder: Path, pieces: dict[str, Piece], workers: RemoteWorkers | None = None) -> Engravings[str]:
    return batch.engrave_all(pieces, pieces.__getitem__, workers, cache=CacheStore(folder))


def bytes_of(result: Engraved | Failure) -> bytes:
    assert isinstance(result, Engraved), result
    return result.to_bytes()


@pytest.fixture(scope="module")
def here(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """The pieces as this machine makes them."""
    ink = made(tmp_path_factory.mktemp("here"), PIECES)
    return {name: bytes_of(ink[name]) for name in PIECES}


@pytest.fixture(scope="module")
def scheduler() -> Iterator[str]:
    """A scheduler and two workers with a process each; its address."""
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, protocol="tcp://"
    ) as cluster:
        yield cluster.scheduler_address


def test_a_cluster_makes_the_same_ink(scheduler: str, here: dict[str, bytes], tmp_path: Path) -> None:
    from stavewright.engrave.processes.cluster import cluster

    with cluster(scheduler) as workers:
        assert workers.count == 2
        ink = made(tmp_path, PIECES | {"wrong": WRONG}, workers)
        assert {name: bytes_of(ink[name]) for name in PIECES} == here
        [failure] = ink.failures
        assert str(failure).startswith("wrong: the engraver failed: line 2")
    # What was made elsewhere is kept here.
    assert CacheStore(tmp_path).size()[0] == len(PIECES)


@pytest.fixture
def certificate(tmp_path: Path) -> dict[str, str]:
    """Dask's settings for a certificate that is its own authority, made as docs/trust.md says."""
    if shutil.which("openssl") is None:
        pytest.skip("no openssl on this machine")
    key, own = str(tmp_path / "key.pem"), str(tmp_path / "cluster.pem")
    request = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-subj", "/CN=cluster"]
    subprocess.run([*request, "-days", "2", "-keyout", key, "-out", own], check=True, capture_output=True)
    roles = {f"distributed.comm.tls.{role}": {"key": key, "cert": own} for role in ROLES}
    return {"distributed.comm.tls.ca-file": own} | roles


def test_a_closed_cluster_asks_for_certificates(
    certificate: dict[str, str], here: dict[str, bytes], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from stavewright.engrave.processes import cluster as module

    with (
        dask.config.set(certificate),
        distributed.LocalCluster(
            n_workers=1,
            threads_per_worker=1,
            processes=True,
            dashboard_address=None,
            protocol="tls://",
            security=distributed.Security(require_encryption=True),
        ) as cluster,
    ):
        address = cluster.scheduler_address
        assert address.startswith("tls://")
        few = {name: PIECES[name] for name in ("1", "2")}
        with module.cluster(address) as workers:
            ink = made(tmp_path / "cache", few, workers)
        assert {name: bytes_of(ink[name]) for name in few} == {name: here[name] for name in few}
        # Without the certificate nobody comes in.
        monkeypatch.setattr(module, "_SECONDS", 2)
        nothing = {"distributed.comm.tls.ca-file": None} | {
            f"distributed.comm.tls.{role}": {"key": None, "cert": None} for role in ROLES
        }
        with dask.config.set(nothing):
            plain = address.replace("tls://", "tcp://")
            for asked, said in ((address, "name no certificates"), (plain, "no Dask scheduler answers")):
                with pytest.raises(EngraverMissing, match=said), module.cluster(asked):
                    pass


def test_a_lost_workers_batch_is_done_again(scheduler: str, here: dict[str, bytes], tmp_path: Path) -> None:
    from stavewright.engrave.processes.cluster import cluster

    with distributed.Client(scheduler, set_as_default=False) as client:
        processes = sorted(client.run(os.getpid).values())
    killed: list[int] = []

    def kill_one(done: int, of: int) -> None:
        if done and not killed:
            killed.append(processes[0])
            os.kill(processes[0], signal.SIGKILL)

    with cluster(scheduler) as workers:
        ink = batch.engrave_all(PIECES, PIECES.__getitem__, workers, kill_one, cache=CacheStore(tmp_path))
    assert killed
    assert {name: bytes_of(ink[name]) for name in PIECES} == here


class Losing(Executor):
    """An executor that loses its first tasks, as a cluster does whose workers die."""

    def __init__(self, losses: int) -> None:
        self.losses = losses
        self.pool = ThreadPoolExecutor(1)

    def submit(self, work: Any, /, *args: Any, **more: Any) -> Future[Any]:
        if self.losses:
            self.losses -= 1
            lost: Future[Any] = Future()
            lost.set_exception(RuntimeError("the worker died"))
            return lost
        return self.pool.submit(work, *args, **more)


def test_losses_are_made_good_up_to_a_number(here: dict[str, bytes], tmp_path: Path) -> None:
    ink = made(tmp_path / "some", PIECES, RemoteWorkers(Losing(2), 1))
    assert {name: bytes_of(ink[name]) for name in PIECES} == here
    few = {name: PIECES[name] for name in ("1", "2")}
    said = "2 of 2 new pieces failed; the last: .* its worker was lost 4 times: RuntimeError: the worker died"
    with pytest.raises(EngraverAtFault, match=said):
        made(tmp_path / "all", few, RemoteWorkers(Losing(10**6), 1))


def test_workers_of_another_version_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with ThreadPoolExecutor(1) as pool:
        # Here, another version; there, this one: both are asked in one process.
        monkeypatch.setattr(batch._RemoteWorker, "run", _run_as_another_version)
        with pytest.raises(WorkersDiffer, match="another version of Stavewright"):
            made(tmp_path, PIECES, RemoteWorkers(pool, 1))


def _run_as_another_version(self: batch._RemoteWorker, tasks: Any) -> Iterator[Any]:
    self._same = ("other code", *self._same[1:])
    yield from _RUN(self, tasks)


_RUN = batch._RemoteWorker.run


def test_a_cluster_that_is_not_there_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    from stavewright.engrave.processes import cluster as module

    monkeypatch.setattr(module, "_SECONDS", 1)
    for address in ("tcp://127.0.0.1:1", "nonsense://?"):
        with (
            pytest.raises(EngraverMissing, match="no Dask scheduler answers there"),
            module.cluster(address),
        ):
            pass


def test_the_command_says_so_too(
    book: Callable[[dict[str, str | bytes]], Path],
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from stavewright.engrave.processes import cluster as module

    monkeypatch.setattr(module, "_SECONDS", 1)
    folder = book({"tiny": TWO_KEYS.format(title="Tiny")})
    assert main(["build", "--book", str(folder), "--workers", "tcp://127.0.0.1:1"]) == 1
    assert capsys.readouterr().err.startswith("tcp://127.0.0.1:1: no Dask scheduler answers there")
    assert not (folder / "site").exists()
