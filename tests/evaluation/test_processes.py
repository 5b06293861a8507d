"""Ctrl-C while processes are started: none is left half-way, and none of them ever sees it."""

from __future__ import annotations

import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterable
from concurrent.futures import Future
from typing import Any

import pytest

from diagnose.batch import running
from diagnose.evaluation import work
from diagnose.evaluation.processes import without_interrupts

pytestmark = pytest.mark.skipif(not hasattr(signal, "pthread_sigmask"), reason="a system without signals to hold back")


class Pool:
    """Ctrl-C comes while a process is being started. whole: starts that came to their end."""

    def __init__(self, interrupt: Callable[[], None]) -> None:
        self.interrupt, self.whole, self.shut = interrupt, 0, False

    def submit(self, *_: Any) -> Future[Any]:
        self.interrupt()
        self.whole += 1
        return Future()

    def shutdown(self, cancel_futures: bool) -> None:
        self.shut = cancel_futures


def here() -> None:
    signal.raise_signal(signal.SIGINT)


def by_another_thread() -> None:
    """Of a process with several threads any may be the one that takes it."""

    def take() -> None:
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
        signal.raise_signal(signal.SIGINT)

    thread = threading.Thread(target=take)
    thread.start()
    thread.join()


@pytest.mark.parametrize("interrupt", [here, by_another_thread])
@pytest.mark.parametrize(
    ("room", "begun"),
    [
        (running, lambda: running.on_processes(iter([None]), None, 1)),  # type: ignore[arg-type, list-item]
        (work, lambda: work._shared([None], None, 1)),  # type: ignore[arg-type, list-item]
    ],
    ids=["batch", "evaluation"],
)
def test_a_process_is_started_whole_and_then_all_are_ended(
    monkeypatch: pytest.MonkeyPatch, room: Any, begun: Callable[[], Iterable[Any]], interrupt: Callable[[], None]
) -> None:
    pool = Pool(interrupt)
    monkeypatch.setattr(room, "fresh_processes", lambda *_: pool)
    with pytest.raises(KeyboardInterrupt):
        list(begun())
    assert (pool.whole, pool.shut) == (1, True)


def test_a_process_started_meanwhile_is_born_deaf_to_it() -> None:
    asked = [
        sys.executable,
        "-Sc",
        "import signal; print(signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, []))",
    ]
    assert subprocess.check_output(asked) == b"False\n"
    with without_interrupts():
        assert subprocess.check_output(asked) == b"True\n"
    assert subprocess.check_output(asked) == b"False\n"
