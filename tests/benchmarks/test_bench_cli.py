"""How long a technician waits: pytest tests/benchmarks --benchmark-only

The whole command, cold, against the bare import of the libraries it cannot do without, both in one run and in processor time.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys

import pytest
from strategies import State, visit

ALLOWED = {"examine": 3.5, "examine --as json": 3.7, "why low-charge": 3.4}  # times the bare import
RUNS = 9


def seconds(*command: str) -> float:
    """Processor time of a command, its own and the system's for it."""
    begun = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    return ended.ru_utime + ended.ru_stime - begun.ru_utime - begun.ru_stime


@pytest.mark.parametrize("line", ALLOWED)
def test_cold_start(benchmark, tmp_path, line):
    """Best of several runs in turn, so that a busy moment of the computer meets both."""
    path = tmp_path / "visit.yaml"
    path.write_text(json.dumps(visit(State(), extra=True)), encoding="utf-8")
    word, *more = line.split()
    command = (sys.executable, "-m", "diagnose", word, str(path), *more)
    bare = (sys.executable, "-c", "import typer, pydantic, yaml")
    seconds(*command)
    pairs = [(seconds(*bare), seconds(*command)) for _ in range(RUNS)]
    ratio = min(whole for _, whole in pairs) / min(start for start, _ in pairs)
    benchmark.extra_info["times the bare import"] = round(ratio, 2)
    benchmark.pedantic(seconds, command, rounds=3)
    assert ratio <= ALLOWED[line]
