"""A real Dask cluster of several processes on this machine: the same bytes as without one, whoever is killed meanwhile."""

from __future__ import annotations

import os
import pickle
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from tables import many

from diagnose.batch.answers import Asked
from diagnose.batch.examining import plan, run
from diagnose.batch.parts import ENDING
from diagnose.batch.sources import Plan
from diagnose.rulebook import Rulebook
from diagnose.yamlfile import InputProblems

distributed = pytest.importorskip("distributed", reason="Dask is not installed")
cluster = pytest.importorskip("diagnose.batch.cluster")
pytestmark = pytest.mark.filterwarnings("ignore")  # Dask's own; ours are errors in every other test
ROWS = 120


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    """Some 30 chunks."""
    from diagnose.batch import sources

    whole = sources.pieces
    monkeypatch.setattr(sources, "pieces", lambda *given: whole(*given, 200))


@pytest.fixture(scope="module")
def workers() -> Iterator[str]:
    """The address of a scheduler with two workers, each a process of its own that is begun anew when it ends."""
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None, silence_logs=50) as found:
        yield found.scheduler_address


def planned(table: Path, book: Rulebook) -> Plan:
    return plan(str(table), book, Asked(shares=True), "parquet")


def asked(address: str, function: object, *given: object) -> dict[str, object]:
    with distributed.Client(address, set_as_default=False) as client:
        return dict(client.run(function, *given))


def test_the_same_bytes_and_the_book_is_sent_once_to_each_worker(
    tmp_path: Path, small: None, book: Rulebook, workers: str
) -> None:
    table = many(tmp_path / "in.csv", ROWS)
    found = planned(table, book)
    chunks = list(found.chunks())
    assert len(chunks) > 20
    assert len(pickle.dumps(chunks[0])) < 1000  # a chunk brings no book
    brought: list[object] = []

    def look(*_: int) -> None:
        brought[:] = (
            brought or asked(workers, lambda dask_worker: [p for p in dask_worker.plugins if found.mark in p]).values()
        )

    here = run(found, tmp_path / "here.parquet")
    there = run(found, tmp_path / "there.parquet", scheduler=workers, progress=look)
    assert here == there
    assert (tmp_path / "there.parquet").read_bytes() == (tmp_path / "here.parquet").read_bytes()
    assert brought == [[f"diagnose-{found.mark}"]] * 2  # but one that each worker got


def test_a_worker_that_is_killed_in_mid_run_loses_nothing(
    tmp_path: Path, small: None, book: Rulebook, workers: str
) -> None:
    table = many(tmp_path / "in.csv", ROWS)
    run(planned(table, book), tmp_path / "here.parquet")
    killed: list[int] = []

    def kill_one(done: int, whole: int, rows: int) -> None:
        if not killed and rows > ROWS / 4:
            killed.append(int(str(next(iter(asked(workers, os.getpid).values())))))
            os.kill(killed[0], signal.SIGKILL)

    run(planned(table, book), tmp_path / "there.parquet", scheduler=workers, progress=kill_one)
    assert killed
    assert (tmp_path / "there.parquet").read_bytes() == (tmp_path / "here.parquet").read_bytes()


@contextmanager
def scheduler(tmp_path: Path) -> Iterator[tuple[subprocess.Popen[bytes], str]]:
    """A scheduler that can be killed."""
    file = tmp_path / "scheduler.json"
    words = ["--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--scheduler-file", str(file)]
    process = subprocess.Popen(
        [sys.executable, "-m", "distributed.cli.dask_scheduler", *words],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        while '"address"' not in (file.read_text() if file.exists() else ""):
            assert process.poll() is None
            time.sleep(0.05)
        yield process, file.read_text().partition('"address": "')[2].partition('"')[0]
    finally:
        process.kill()
        process.wait()


def test_a_scheduler_that_dies_is_told_and_the_run_can_go_on(
    tmp_path: Path, small: None, book: Rulebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    table, out = many(tmp_path / "in.csv", ROWS), tmp_path / "out.parquet"
    found = planned(table, book)
    with scheduler(tmp_path) as (process, address):
        monkeypatch.setattr(cluster, "PATIENCE", 0.5)
        with pytest.raises(InputProblems, match="this scheduler has no workers"):
            run(found, out, scheduler=address)
        assert not out.with_name(out.name + ENDING).exists()
        monkeypatch.setattr(cluster, "PATIENCE", 30.0)
        worker = subprocess.Popen(
            [sys.executable, "-m", "distributed.cli.dask_worker", address, "--no-dashboard", "--nthreads", "1", "--no-nanny"],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            with pytest.raises(InputProblems, match="the scheduler does not answer any more") as told:
                run(found, out, scheduler=address, progress=lambda *_: process.kill())
        finally:
            worker.kill()
            worker.wait()
    assert "--resume goes on with it" in str(told.value)
    assert any(out.with_name(out.name + ENDING).glob("*.part"))
    run(found, out, resume=True)
    run(found, tmp_path / "whole.parquet")
    assert out.read_bytes() == (tmp_path / "whole.parquet").read_bytes()


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "no address", "tcp://"])
def test_a_scheduler_that_is_not_there(
    tmp_path: Path, book: Rulebook, monkeypatch: pytest.MonkeyPatch, address: str
) -> None:
    monkeypatch.setattr(cluster, "PATIENCE", 0.5)
    with pytest.raises(InputProblems, match="no scheduler answers there"):
        run(planned(many(tmp_path / "in.csv", 3), book), tmp_path / "out.parquet", scheduler=address)


def test_workers_of_another_version_are_refused(
    tmp_path: Path, book: Rulebook, workers: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster, "VERSION", "99.0")
    with pytest.raises(InputProblems, match=r"its workers have version .*, and this is 99\.0"):
        run(planned(many(tmp_path / "in.csv", 3), book), tmp_path / "out.parquet", scheduler=workers)


def test_without_dask_it_is_said_what_to_install(
    tmp_path: Path, book: Rulebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    monkeypatch.delitem(sys.modules, "diagnose.batch.cluster")
    monkeypatch.delattr("diagnose.batch.cluster")
    with pytest.raises(InputProblems, match=r"pip install 'diagnose\[cluster\]'"):
        run(planned(many(tmp_path / "in.csv", 3), book), tmp_path / "out.parquet", scheduler="tcp://127.0.0.1:9")
