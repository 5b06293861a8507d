"""Many visits in columns: pytest tests/benchmarks/test_bench_columns.py -o addopts= --benchmark-only

Eight readings and the minutes of simulated machines, sound and faulty, each row a little off another: what a firm's table of
one summer looks like. What is asserted is a ratio to looping over `examine` in the same run, in processor time.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))

from gaps import EIGHT
from shared import machines

from diagnose import examine, load_rules
from diagnose.batch.columnwise.table import of_visits
from diagnose.batch.evaluator import examine_vectors
from diagnose.visit import Visit, visit_from

PLATE = ("mode", "refrigerant", "metering", "nominal capacity", "SEER", "rated subcooling")
CHUNK = 100_000


@cache
def visits() -> list[Visit]:
    """Visits of eight readings."""
    found = []
    for each in machines(240):
        readings = {n: v for n, v in each.visit["readings"].items() if n in EIGHT or n == "minutes running"}
        found.append(
            visit_from(
                {"machine": {n: v for n, v in each.visit["machine"].items() if n in PLATE}, "readings": readings}
            )
        )
    return found


def table(n: int, seed: int = 0) -> dict[str, Any]:
    """So many rows: pressures off by 0.3 %, temperatures by 0.2 K."""
    source, rng = of_visits(visits()), np.random.default_rng(seed)
    pick = rng.integers(0, source.n, n)
    columns: dict[str, Any] = {name: column[pick] for name, column in (*source.readings.items(), *source.facts.items())}
    for name in source.readings:
        far = rng.normal(0, 1, n)
        columns[name] = columns[name] * (1 + 0.003 * far) if "pressure" in name else columns[name] + 0.2 * far
    words = {name: (worded.codes[pick], worded.words) for name, worded in source.words.items()}
    return {**columns, **words, "minutes running": source.minutes[pick]}


def processor_time(do: Callable[[], object]) -> float:
    begun = time.process_time()
    do()
    return time.process_time() - begun


def one_by_one() -> float:
    """Seconds of `examine` for one of these visits."""
    rules = load_rules()
    some = visits()[:60]
    for visit in some:
        examine(visit, rules)
    return min(processor_time(lambda: [examine(visit, rules) for visit in some]) for _ in range(3)) / len(some)


@pytest.mark.parametrize("uncertainty", [True, False], ids=["with uncertainty", "without"])
def test_a_hundred_times_as_quick_as_one_after_another(benchmark, uncertainty):
    columns, rules = table(CHUNK), load_rules()
    examine_vectors(table(20_000, 1), rules, uncertainty=uncertainty)  # the kinds of machines are worked out once
    seconds = [processor_time(lambda: examine_vectors(columns, rules, uncertainty=uncertainty)) for _ in range(3)]
    ratio = one_by_one() * CHUNK / min(seconds)
    benchmark.extra_info["times as quick"] = round(ratio)
    benchmark.extra_info["visits a second"] = round(CHUNK / min(seconds))
    outcome = benchmark.pedantic(lambda: examine_vectors(columns, rules, uncertainty=uncertainty), rounds=1)
    assert outcome.by_row == 0
    assert ratio >= 100


@pytest.mark.parametrize("rows", [1_000, 10_000, 100_000, 400_000])
def test_cost_against_size(benchmark, rows):
    """What a call costs whatever its size is spread over its rows."""
    columns, rules = table(rows), load_rules()
    examine_vectors(table(20_000, 1), rules)
    seconds = processor_time(lambda: examine_vectors(columns, rules))
    benchmark.extra_info["microseconds a row"] = round(seconds / rows * 1e6, 1)
    benchmark.pedantic(lambda: examine_vectors(columns, rules), rounds=1)


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="needs Linux")
@pytest.mark.parametrize("rows", [100_000, 2_000_000])
def test_memory_is_flat(benchmark, rows):
    """In chunks, of which nothing is kept; ten million rows were run once by hand, see DEVELOPERS.md."""

    def resident() -> float:
        return int(Path("/proc/self/statm").read_text().split()[1]) * 4096 / 2**20

    rules = load_rules()
    for seed in range(3):
        examine_vectors(table(CHUNK // 2, seed), rules)
    before = resident()

    def run() -> None:
        for chunk in range(rows // (CHUNK // 2)):
            examine_vectors(table(CHUNK // 2, chunk), rules)

    benchmark.pedantic(run, rounds=1)
    grown = resident() - before
    benchmark.extra_info["grown MiB"] = round(grown, 1)
    assert grown < 100
