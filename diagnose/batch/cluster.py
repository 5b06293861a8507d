"""A Dask cluster as workers. The only importer of Dask (extra `cluster`).

Each worker gets the rule book and the layouts once, by a plug-in, also one that joins later; a chunk is a few hundred bytes.
The scheduler hands a chunk of a worker that was lost to another one.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager, suppress

from distributed import Client, Worker, WorkerPlugin
from distributed.scheduler import KilledWorker

from diagnose.batch.chunk import Chunk, Done, Setup
from diagnose.batch.running import Submit
from diagnose.batch.work import work
from diagnose.shipped import VERSION
from diagnose.yamlfile import InputProblems, first_line, refusal

PATIENCE = 10.0
"""Seconds."""
AGAIN = 3
"""How often a chunk that failed is tried once more."""
_OF_DASK = ("distributed", "dask", "tornado", "asyncio", "concurrent")
_SETUPS: dict[str, Setup] = {}


class SetUp(WorkerPlugin):
    """Brings what every chunk needs to a worker, once."""

    def __init__(self, mark: str, setup: Setup) -> None:
        self.name = f"diagnose-{mark}"
        self.mark, self.given = mark, setup

    def setup(self, worker: Worker) -> None:
        """On the worker."""
        _SETUPS[self.mark] = self.given

    def teardown(self, worker: Worker) -> None:
        """The run is over."""
        _SETUPS.pop(self.mark, None)


def version() -> str:
    """Of the program on a worker."""
    return VERSION


def do(mark: str, chunk: Chunk) -> Done:
    """One chunk, on a worker."""
    return work(chunk, _SETUPS[mark])


@contextmanager
def connected(address: str, setup: Setup, mark: str) -> Iterator[tuple[Submit, int]]:
    """How to hand out a chunk, and how many workers there are. Raises InputProblems."""
    logging.getLogger("distributed").setLevel(logging.CRITICAL)  # what it would print is said here in words
    try:
        client = Client(address, timeout=PATIENCE, set_as_default=False)
    except (OSError, ValueError, TimeoutError, ImportError) as error:
        fix = "Start it, or check its address: `dask scheduler` prints one like tcp://10.0.0.5:8786."
        raise refusal(f"no scheduler answers there ({first_line(error)})", fix, address) from None
    plugin = SetUp(mark, setup)
    try:
        with _gone(address):
            count = _workers(client, address)
            client.register_plugin(plugin)
            executor = client.get_executor(pure=False, retries=AGAIN)
            yield (lambda chunk: executor.submit(do, mark, chunk)), count
    finally:
        with suppress(Exception):
            if client.status == "running":
                client.unregister_worker_plugin(plugin.name)
        with suppress(Exception):
            client.close(timeout=2)


def _workers(client: Client, address: str) -> int:
    """How many threads do work, all with this version of the program. Raises InputProblems."""
    with suppress(TimeoutError):
        client.wait_for_workers(1, timeout=PATIENCE)
    threads = sum(client.nthreads().values())
    if not threads:
        raise refusal("this scheduler has no workers", f"Start some: `dask worker {address}`.", address)
    try:
        found = client.run(version)
    except Exception as error:  # whatever a worker without the program says
        what = f"its workers cannot run this program ({first_line(error)})"
        raise refusal(what, f"Install it there: `pip install 'diagnose[batch,cluster]=={VERSION}'`.", address) from None
    others = sorted({other for other in found.values() if other != VERSION})
    if others:
        what = f"its workers have version {', '.join(others)} of this program, and this is {VERSION}"
        raise refusal(what, "Install the same version everywhere.", address)
    return int(threads)


@contextmanager
def _gone(address: str) -> Iterator[None]:
    """What a cluster that is lost says, in words."""
    try:
        yield
    except InputProblems:
        raise
    except KilledWorker as error:
        what = f"the workers that had the same chunk ended one after the other ({first_line(error)})"
        fix = "They may lack memory. What was done is kept: --resume goes on with it."
        raise refusal(what, fix, address) from None
    except Exception as error:
        if type(error).__module__.partition(".")[0] not in _OF_DASK and not isinstance(error, OSError):
            raise
        why = "connection lost" if "Cancelled" in type(error).__name__ else first_line(error)
        what = f"the scheduler does not answer any more ({why})"
        raise refusal(what, "Start it again; what was done is kept: --resume goes on with it.", address) from None
