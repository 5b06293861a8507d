"""A real Dask cluster of several processes on this machine: the same bytes as without one, whoever is killed meanwhile."""

from __future__ import annotations

import json
import pickle
import signal
import sys
import time
from collections.abc import Iterator
from multiprocessing.process import BaseProcess
from pathlib import Path

import pytest
from forks import begun
from tables import many

from diagnose.batch import sources
from diagnose.batch.answers import Asked
from diagnose.batch.examining import plan, run
from diagnose.batch.parts import ENDING
from diagnose.batch.sources import Plan
from diagnose.rulebook import Rulebook
from diagnose.yamlfile import InputProblems

distributed = pytest.importorskip("distributed", reason="Dask is not installed")
cluster_of_dask = pytest.importorskip("diagnose.batch.cluster")
pytestmark = pytest.mark.filterwarnings("ignore")  # Dask's own; ours are errors in every other test
ROWS = 56


class Cluster:
    """A scheduler and its workers, each a process of its own, begun when asked for."""

    def __init__(self, folder: Path) -> None:
        file = folder / "scheduler.json"
        self.workers: list[BaseProcess] = []
        self.scheduler = _begun("scheduler", "--host", "127.0.0.1", "--port", "0", "--scheduler-file", str(file))
        while '"address"' not in (file.read_text() if file.exists() else ""):
            assert self.scheduler.is_alive()
            time.sleep(0.05)
        self.address = json.loads(file.read_text())["address"]

    def with_workers(self, count: int) -> str:
        """Its address, once so many are there."""
        self.workers = [worker for worker in self.workers if worker.is_alive()]
        while len(self.workers) < count:
            self.workers.append(_begun("worker", self.address, "--nthreads", "1", "--no-nanny"))
        with distributed.Client(self.address, set_as_default=False) as client:
            client.wait_for_workers(count)
        return self.address

    def end(self) -> None:
        """All of them."""
        for process in (*self.workers, self.scheduler):
            process.kill()
            process.join()


def _begun(what: str, *words: str) -> BaseProcess:
    return begun(f"from distributed.cli.dask_{what} import main\nmain({[*words, '--no-dashboard']})")


@pytest.fixture(scope="module")
def cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    """Of no workers yet."""
    begun = Cluster(tmp_path_factory.mktemp("cluster"))
    yield begun
    begun.end()


@pytest.fixture(scope="module", autouse=True)
def small() -> Iterator[None]:
    """Some ten chunks."""
    whole = sources.pieces
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sources, "pieces", lambda *given: whole(*given, 200))
        yield


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory, book: Rulebook) -> Plan:
    table = many(tmp_path_factory.mktemp("table") / "in.csv", ROWS)
    return plan(str(table), book, Asked(shares=True), "parquet")


@pytest.fixture(scope="module")
def here(planned: Plan, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """What a run in this process writes."""
    out = tmp_path_factory.mktemp("here") / "out.parquet"
    run(planned, out)
    return out.read_bytes()


def test_the_same_bytes_and_each_worker_gets_the_book_once_also_one_that_joins_late(
    tmp_path: Path, planned: Plan, here: bytes, cluster: Cluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    chunks, out = list(planned.chunks()), tmp_path / "there.parquet"
    assert len(chunks) > 9
    assert len(pickle.dumps(chunks[0])) < 1000  # a chunk brings no book
    with monkeypatch.context() as patch:
        patch.setattr(cluster_of_dask, "PATIENCE", 0.5)
        with pytest.raises(InputProblems, match="this scheduler has no workers"):
            run(planned, out, scheduler=cluster.address)
    assert not out.with_name(out.name + ENDING).exists()
    brought: list[object] = []

    def look(*_: int) -> None:
        if not brought:
            with distributed.Client(cluster.with_workers(2), set_as_default=False) as client:
                there = client.run(lambda dask_worker: [p for p in dask_worker.plugins if planned.mark in p])
            brought.extend(there.values())

    run(planned, out, scheduler=cluster.with_workers(1), progress=look)
    assert out.read_bytes() == here
    assert brought == [[f"diagnose-{planned.mark}"]] * 2  # but one that each worker got


def test_a_worker_that_is_killed_in_mid_run_loses_nothing(
    tmp_path: Path, planned: Plan, here: bytes, cluster: Cluster
) -> None:
    out, address = tmp_path / "there.parquet", cluster.with_workers(2)

    def kill_one(done: int, whole: int, rows: int) -> None:
        if rows > ROWS / 4:
            cluster.workers[0].kill()

    run(planned, out, scheduler=address, progress=kill_one)
    cluster.workers[0].join()
    assert cluster.workers[0].exitcode == -signal.SIGKILL
    assert out.read_bytes() == here


def test_workers_of_another_version_are_refused(
    tmp_path: Path, planned: Plan, cluster: Cluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster_of_dask, "VERSION", "99.0")
    with pytest.raises(InputProblems, match=r"its workers have version .*, and this is 99\.0"):
        run(planned, tmp_path / "out.parquet", scheduler=cluster.with_workers(1))


def test_a_scheduler_that_dies_is_told_and_the_run_can_go_on(
    tmp_path: Path, planned: Plan, here: bytes, cluster: Cluster
) -> None:
    out, address = tmp_path / "out.parquet", cluster.with_workers(1)
    with pytest.raises(InputProblems, match="the scheduler does not answer any more") as told:
        run(planned, out, scheduler=address, progress=lambda *_: cluster.scheduler.kill())
    assert "--resume goes on with it" in str(told.value)
    assert any(out.with_name(out.name + ENDING).glob("*.part"))
    run(planned, out, resume=True)
    assert out.read_bytes() == here


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "no address", "tcp://"])
def test_a_scheduler_that_is_not_there(
    tmp_path: Path, planned: Plan, monkeypatch: pytest.MonkeyPatch, address: str
) -> None:
    monkeypatch.setattr(cluster_of_dask, "PATIENCE", 0.5)
    with pytest.raises(InputProblems, match="no scheduler answers there"):
        run(planned, tmp_path / "out.parquet", scheduler=address)


def test_without_dask_it_is_said_what_to_install(
    tmp_path: Path, planned: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    monkeypatch.delitem(sys.modules, "diagnose.batch.cluster")
    monkeypatch.delattr("diagnose.batch.cluster")
    with pytest.raises(InputProblems, match=r"pip install 'diagnose\[cluster\]'"):
        run(planned, tmp_path / "out.parquet", scheduler="tcp://127.0.0.1:9")
