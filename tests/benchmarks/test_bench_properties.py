"""How fast the property look-ups are, against CoolProp in the same run.

``pytest tests/benchmarks --benchmark-only`` draws the table; everyday runs skip benchmarks, so that no test fails on a busy
machine.
"""

from __future__ import annotations

import statistics
import timeit
from collections.abc import Callable

from pytest_benchmark.fixture import BenchmarkFixture

from diagnose.properties import refrigerant, saturation_temperature

R410A = refrigerant("R-410A")


def median_seconds(call: Callable[[], object], number: int) -> float:
    """Median over nine rounds of the time of one call."""
    return statistics.median(timeit.repeat(call, number=number, repeat=9)) / number


def lookup_over_coolprop(ours: int = 2000, theirs: int = 200) -> float:
    """Time of a saturation look-up over that of the equivalent CoolProp call, R-22: CoolProp's fastest fluid."""
    from CoolProp.CoolProp import PropsSI

    look_up = median_seconds(lambda: saturation_temperature("R-22", "dew", 5e5), ours)
    call = median_seconds(lambda: PropsSI("T", "P", 5e5, "Q", 1, "R22"), theirs)
    return look_up / call


def test_bench_saturation_temperature(benchmark: BenchmarkFixture) -> None:
    """The promise, a tenth of a CoolProp call at most, is a ratio within this run."""
    benchmark(saturation_temperature, R410A, "dew", 9e5)
    benchmark.extra_info["times a CoolProp call"] = round(lookup_over_coolprop(), 3)
    assert lookup_over_coolprop() <= 0.1
