"""Chunks handed out and what came of them taken in: to processes of this machine, or to the workers of a cluster."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, wait
from concurrent.futures.process import BrokenProcessPool
from itertools import islice

from diagnose.batch.chunk import Chunk, Done, Setup
from diagnose.batch.work import work
from diagnose.evaluation.processes import fresh_processes, without_interrupts
from diagnose.yamlfile import refusal

AHEAD = 3
"""Chunks handed out for each worker, so that none waits; those that came back and wait for nothing are few."""

Submit = Callable[[Chunk], "Future[Done]"]
_SETUP: list[Setup] = []  # of a worker process, which gets it once


def begin(setup: Setup) -> None:
    """Keeps what every chunk needs."""
    _SETUP[:] = [setup]


def do(chunk: Chunk) -> Done:
    """One chunk, in a process that has begun."""
    return work(chunk, _SETUP[0])


def here(chunks: Iterator[Chunk], setup: Setup) -> Iterator[tuple[Chunk, Done]]:
    """One after the other in this process."""
    for chunk in chunks:
        yield chunk, work(chunk, setup)


def on_processes(chunks: Iterator[Chunk], setup: Setup, jobs: int) -> Iterator[tuple[Chunk, Done]]:
    """On processes of this machine, as they are done. Raises InputProblems where one is ended from outside."""
    pool = fresh_processes(jobs, begin, setup)

    def submit(chunk: Chunk) -> Future[Done]:
        with without_interrupts():
            return pool.submit(do, chunk)

    try:
        yield from _as_done(chunks, submit, jobs * AHEAD)
    except BrokenProcessPool:
        what = "a process that did part of the work was ended from outside"
        fix = "It may lack memory: try --workers 1. What was done is kept: --resume goes on with it."
        raise refusal(what, fix) from None
    finally:
        pool.shutdown(cancel_futures=True)


def _as_done(chunks: Iterator[Chunk], submit: Submit, ahead: int) -> Iterator[tuple[Chunk, Done]]:
    """Each chunk with what came of it, as they are done."""
    waiting = {submit(chunk): chunk for chunk in islice(chunks, ahead)}
    while waiting:
        for future in wait(waiting, return_when=FIRST_COMPLETED).done:
            yield waiting.pop(future), future.result()
            waiting.update((submit(chunk), chunk) for chunk in islice(chunks, 1))


def on_cluster(chunks: Iterator[Chunk], setup: Setup, address: str, mark: str) -> Iterator[tuple[Chunk, Done]]:
    """On the workers of a Dask cluster. Raises InputProblems where it does not answer."""
    from diagnose.batch.cluster import connected

    with connected(address, setup, mark) as (submit, workers):
        yield from _as_done(chunks, submit, workers * AHEAD)
