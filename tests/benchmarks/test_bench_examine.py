"""Whole visits: pytest tests/benchmarks/test_bench_examine.py --benchmark-only

Times of different computers or days say little, so what is asserted is a ratio to plain Python work in the same run.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))

from strategies import State, visit

from diagnose import examine
from diagnose.rulebook.reading import read_book
from diagnose.shipped import shipped

MANY = [
    visit(State(superheat=float(s), subcooling=float(c), metering=m), extra=True)
    for s in range(5, 25, 3)
    for c in (3, 10, 16)
    for m in ("fixed orifice", "TXV")
]


def plain_work() -> float:
    """Seconds for about 5 ms of plain Python on a computer of 2024: the best of twenty."""
    best = 1.0
    for _ in range(20):
        start = time.perf_counter()
        total = 0
        for i in range(100_000):
            total += i & 7
        best = min(best, time.perf_counter() - start)
    return best


@pytest.mark.parametrize("extra", [False, True], ids=["usual readings", "all readings"])
def test_one_warm_visit(benchmark, extra):
    data = visit(State(), extra=extra)
    examine(data)
    benchmark(examine, data)
    ratio = benchmark.stats.stats.min / plain_work()
    benchmark.extra_info["times plain work"] = round(ratio, 2)
    assert ratio < 3.0  # 5 ms where the plain work takes a little under 2 ms


def test_the_rule_book(benchmark):
    benchmark(read_book, shipped("rules"), [])


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="needs Linux")
def test_twenty_thousand_visits_leave_the_memory_flat(benchmark):
    def resident() -> float:
        return int(Path("/proc/self/statm").read_text().split()[1]) * 4096 / 2**20

    for i in range(1000):
        examine(MANY[i % len(MANY)])
    before = resident()

    def run() -> None:
        for i in range(20_000):
            examine(MANY[i % len(MANY)])

    benchmark.pedantic(run, rounds=1)
    grown = resident() - before
    benchmark.extra_info["grown MiB"] = round(grown, 2)
    assert grown < 10
