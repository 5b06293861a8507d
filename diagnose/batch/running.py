"""Chunks handed out and what came of them taken in: to processes of this machine, or to the workers of a cluster."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager

from diagnose.batch.chunk import Chunk, Done, Setup
from diagnose.batch.refusals import refusal
from diagnose.batch.work import work
from diagnose.processes import fresh_processes, without_interrupts

AHEAD = 3
"""Chunks handed out for each worker, so that none waits; those that came back and wait for nothing are few."""
PATIENCE = 3
"""How often in a row the processes may be ended from outside without one chunk done."""

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
    """On processes of this machine, as they are done. Processes that are ended from outside are begun anew. Raises
    InputProblems where that goes on.
    """
    left: list[Chunk] = []
    ended = 0
    while True:
        with _ending(fresh_processes(jobs, begin, setup)) as pool:
            waiting: dict[Future[Done], Chunk] = {}
            try:
                for pair in _as_done(
                    _again(left, chunks), lambda chunk: _submitted(pool, chunk), jobs * AHEAD, waiting
                ):
                    ended = 0
                    yield pair
                return
            except BrokenProcessPool:
                ended += 1
                left = [*waiting.values(), *left]
        if ended >= PATIENCE:
            what = "the processes that do the work were ended from outside, again and again"
            fix = "They may lack memory: try --workers 1. What was done is kept: --resume goes on with it."
            raise refusal("", what, fix)


def _again(left: list[Chunk], chunks: Iterator[Chunk]) -> Iterator[Chunk]:
    while left:
        yield left.pop(0)
    yield from chunks


def _submitted(pool: Executor, chunk: Chunk) -> Future[Done]:
    with without_interrupts():
        return pool.submit(do, chunk)


@contextmanager
def _ending(pool: Executor) -> Iterator[Executor]:
    try:
        yield pool
    finally:
        pool.shutdown(cancel_futures=True)


def _as_done(
    chunks: Iterator[Chunk], submit: Submit, ahead: int, waiting: dict[Future[Done], Chunk]
) -> Iterator[tuple[Chunk, Done]]:
    """Each chunk with what came of it, as they are done. waiting: those that are not, for whoever must hand them out again."""
    more = True
    while more or waiting:
        while more and len(waiting) < ahead:
            chunk = next(chunks, None)
            if chunk is None:
                more = False
                break
            try:
                waiting[submit(chunk)] = chunk
            except BrokenProcessPool:
                waiting[Future()] = chunk
                raise
        if not waiting:
            return
        for future in wait(waiting, return_when=FIRST_COMPLETED).done:
            done = future.result()
            yield waiting.pop(future), done


def on_cluster(chunks: Iterator[Chunk], setup: Setup, address: str, mark: str) -> Iterator[tuple[Chunk, Done]]:
    """On the workers of a Dask cluster. Raises InputProblems where it does not answer."""
    from diagnose.batch.cluster import connected

    with connected(address, setup, mark) as (submit, workers):
        yield from _as_done(chunks, submit, workers * AHEAD, {})
