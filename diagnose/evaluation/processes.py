"""Processes that share work, and Ctrl-C while they are started."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from typing import Any


def processors() -> int:
    """How many this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def fresh_processes(jobs: int, begin: Callable[..., None], *given: Any) -> ProcessPoolExecutor:
    """A pool whose processes each call `begin(*given)` once, before any work.

    Fresh processes, not forks: they start alike on every system, and threads of a caller cannot be caught half-way.
    """
    context = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(jobs, mp_context=context, initializer=_begin, initargs=(begin, given))


def _begin(begin: Callable[..., None], given: tuple[Any, ...]) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the process that asked; it sends no more work
    begin(*given)


@contextmanager
def without_interrupts() -> Iterator[None]:
    """Ctrl-C waits; a process started meanwhile never sees one, not even before its `begin`."""
    if not hasattr(signal, "pthread_sigmask") or threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []  # by any other thread of this process, which the mask does not hold for
    handler = signal.signal(signal.SIGINT, lambda number, _: came.append(number))
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
        signal.signal(signal.SIGINT, handler)
        if came:
            signal.raise_signal(signal.SIGINT)
