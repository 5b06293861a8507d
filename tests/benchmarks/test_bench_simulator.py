"""How long a simulated case takes: ``pytest tests/benchmarks --benchmark-only``.

That each solution ends after so many looks at the circuit is a test: tests/simulator/test_simulator.py.
"""

from __future__ import annotations

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from diagnose.simulator import AHRI_A, HEALTHY, Faults, design, population, solve

CASES = {
    "healthy": HEALTHY,
    "charge 70 %": Faults(charge=0.7),
    "charge 130 %": Faults(charge=1.3),
    "restriction": Faults(restriction=0.6),
    "non-condensables": Faults(non_condensable=0.003),
    "weak compressor": Faults(valve_leakage=0.3),
}


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("device", ["TXV", "fixed orifice"])
def test_bench_solve(benchmark: BenchmarkFixture, device: str, name: str) -> None:
    machine = design("R-410A", device)  # type: ignore[arg-type]
    benchmark(solve, machine, AHRI_A, CASES[name])


def test_bench_ten_cases_of_the_population(benchmark: BenchmarkFixture) -> None:
    benchmark.pedantic(lambda: list(population(1, 10)), rounds=3)
