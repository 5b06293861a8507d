"""How long a technician waits: pytest tests/benchmarks --benchmark-only

The whole command, cold, against the bare import of the libraries it cannot do without, both in one run.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from pathlib import Path

import pytest
from strategies import State, visit

BIN = Path(sys.executable).parent
ALLOWED = 5.0  # times the bare import
RUNS = 7


def seconds(*command: str) -> float:
    begun = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - begun


@pytest.mark.parametrize("words", [("examine",), ("examine", "--as", "json"), ("why", "low-charge")], ids=" ".join)
def test_cold_start(benchmark, tmp_path, words):
    """Best of several runs in turn, so that a busy moment of the computer meets both."""
    path = tmp_path / "visit.yaml"
    path.write_text(json.dumps(visit(State(), extra=True)), encoding="utf-8")
    command = (str(BIN / "diagnose"), words[0], str(path), *words[1:])
    bare = (sys.executable, "-c", "import typer, pydantic, yaml")
    seconds(*command)
    pairs = [(seconds(*bare), seconds(*command)) for _ in range(RUNS)]
    ratio = min(whole for _, whole in pairs) / min(start for start, _ in pairs)
    benchmark.extra_info["times the bare import"] = round(ratio, 2)
    benchmark.pedantic(seconds, command, rounds=3)
    assert ratio <= ALLOWED
