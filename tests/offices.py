"""An office in a process of its own, on loopback; killed and started again at the same port."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path


@dataclass
class Running:
    """port: the same however often it is started again."""

    process: subprocess.Popen[str]
    port: int
    words: tuple[str, ...]

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def kill(self) -> None:
        """As when the power fails: it has no time to end anything."""
        if self.process.poll() is None:
            os.kill(self.process.pid, signal.SIGKILL)
        self.process.wait()
        self.process.stdout.close()  # type: ignore[union-attr]

    def again(self) -> None:
        self.process = _started(self.words, self.port)


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as one:
        port: int = one.getsockname()[1]
        return port


def _started(words: tuple[str, ...], port: int) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "diagnose", "serve", *words, "--port", str(port)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    first = process.stdout.readline()
    assert re.match(r"The office is at https?://127\.0\.0\.1:\d+/office/", first), first
    return process


@contextmanager
def serving(store: Path, *words: str) -> Iterator[Running]:
    """An office with this store. words: more options."""
    port, given = free_port(), ("--store", str(store), *words)
    running = Running(_started(given, port), port, given)
    try:
        yield running
    finally:
        running.kill()
