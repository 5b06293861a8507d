"""What is worked out at a start-up, each figure of judgement just inside and just outside."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from judged import JUDGEMENT

from diagnose.quantities.start_up import (
    WATER_AT_MOST,
    Loss,
    Measure,
    airflow_by_heat,
    airflow_by_table,
    decay,
    pressure_lost,
)
from diagnose.units import CFM, MICRON, PSI

FIGURES = JUDGEMENT.start_up
SEA = Measure(101325.0, 300.0)


def fahrenheit(value: float) -> float:
    return (value + 459.67) / 1.8


def lost(start: float, end: float, at: float | None = 70, then: float | None = 70, gauge: float = 0.01) -> Loss:
    read = [Measure((psig + 14.7) * PSI, gauge * psig * PSI) for psig in (start, end)]
    air = [None if each is None else Measure(fahrenheit(each), 0.8) for each in (at, then)]
    return pressure_lost(*read, *air, FIGURES)


def test_what_the_temperature_explains_is_no_loss() -> None:
    cold = lost(450, 430, 84, 63)
    assert cold.moved / PSI == pytest.approx(-19.4, abs=0.3)  # 21 °F at a good 0.9 psi a degree
    assert abs(cold.lost.value) < cold.lost.error
    assert lost(450, 430).lost.value / PSI == pytest.approx(20.0, abs=0.01)


def test_one_gauge_errs_the_same_way_twice_and_the_gas_is_not_as_warm_as_the_clamp() -> None:
    # 450 psig: 0.25 × 4.5 psi twice, and 0.93 psi/°F times 2 °F with a quarter of two clamps of 1.4 °F
    assert lost(450, 450).lost.error / PSI == pytest.approx((2 * 1.125**2 + (0.95 * 2.06) ** 2) ** 0.5, rel=0.03)
    assert lost(450, 450, gauge=0.05).lost.error > 2 * lost(450, 450).lost.error


@pytest.mark.parametrize(("at", "then"), [(None, None), (70, None), (None, 70)])
def test_without_both_temperatures_ten_degrees_may_have_passed(at: float | None, then: float | None) -> None:
    found = lost(450, 450, at, then)
    assert found.moved == pytest.approx(0.0, abs=1e-3)
    assert found.lost.error / PSI == pytest.approx(9.5, abs=0.5)


def test_out_of_range_is_not_worked_out() -> None:
    assert pressure_lost(Measure(3e6, 0), Measure(3e6, 0), Measure(200.0, 1), Measure(300.0, 1), FIGURES) is None
    assert pressure_lost(Measure(7e6, 0), Measure(7e6, 0), None, None, FIGURES) is None


def stood(*points: tuple[float, float]) -> str:
    """Of (minutes, microns), by a gauge of 10 % and 10 microns."""
    return decay([(m * 60, Measure(p * MICRON, (0.1 * p + 10) * MICRON)) for m, p in points], FIGURES).code


@pytest.mark.parametrize(
    ("code", "points"),
    [
        ("vacuum-one-point", [(0, 300)]),
        ("vacuum-holds", [(0, 320), (5, 390), (10, 410)]),
        ("vacuum-holds", [(0, 320), (10, 330)]),
        ("vacuum-holds", [(0, 300), (9.9, 310), (10, 310)]),
        ("vacuum-too-short", [(0, 320), (9.9, 330)]),
        ("vacuum-levels-off", [(0, 300), (5, 1200), (10, 1500), (20, 1600)]),
        ("vacuum-climbs", [(0, 300), (5, 900), (10, 1500), (15, 2100)]),
        ("vacuum-climbs", [(0, 200), (5, 450), (10, 700)]),
        ("vacuum-climbs", [(0, 300), (1, 60_000)]),  # no water boils up to that
        ("vacuum-rises", [(0, 300), (10, 1900)]),
        ("vacuum-rises", [(0, 300), (1, 500), (10, 1320)]),  # slower, and far from level
        ("vacuum-still-rising", [(0, 300), (10, 900)]),
        ("vacuum-still-rising", [(0, 300), (5, 600), (10, 760)]),
        ("vacuum-falls", [(0, 400), (10, 300)]),
        ("vacuum-not-deep", [(0, 1500), (10, 1520)]),
    ],
)  # fmt: skip
def test_how_a_vacuum_stands(code: str, points: list[tuple[float, float]]) -> None:
    assert stood(*points) == code


@pytest.mark.parametrize(
    ("points", "code"),
    [
        # stays: 1,000 microns
        ([(0, 300), (30, 1000), (60, 1000)], "vacuum-holds"), ([(0, 300), (30, 1001), (60, 1001)], "vacuum-levels-off"),
        ([(0, 1000), (10, 1000)], "vacuum-holds"), ([(0, 1001), (10, 1001)], "vacuum-not-deep"),
        # ahead: thirty minutes at the last rate
        ([(0, 300), (10, 500), (20, 624)], "vacuum-holds"), ([(0, 300), (10, 500), (20, 626)], "vacuum-still-rising"),
        # levels: half the first rate, and between that and three quarters nobody can tell
        ([(0, 300), (20, 2300), (40, 2600)], "vacuum-levels-off"), ([(0, 300), (20, 2300), (40, 3500)], "vacuum-rises"),
        ([(0, 300), (20, 2300), (40, 4100)], "vacuum-climbs"),
    ],
)  # fmt: skip
def test_the_limits_of_a_vacuum(points: list[tuple[float, float]], code: str) -> None:
    assert stood(*points) == code


@given(st.floats(0.02, 50), st.floats(100, 400), st.integers(3, 8))
def test_a_leak_never_counts_as_moisture_and_water_never_as_a_leak(rate: float, start: float, count: int) -> None:
    """rate: of a leak, microns a second; water fills the lines within two minutes and levels off."""
    times = [i * 300.0 for i in range(count)]
    leak = [(t / 60, start + rate * t) for t in times]
    assert stood(*leak) not in ("vacuum-levels-off", "vacuum-falls")
    water = [(t / 60, start + 3000 * (1 - 2 ** (-t / 60))) for t in times]
    assert stood(*water) in ("vacuum-levels-off", "vacuum-rises")


def test_no_water_boils_up_to_more_in_a_warm_line() -> None:
    assert pytest.approx(49_000, rel=0.02) == WATER_AT_MOST / MICRON  # steam tables: 0.949 psia at 100 °F


def test_airflow_by_heat_is_the_trade_s_formula_at_sea_level() -> None:
    found = airflow_by_heat(
        Measure(9600, 200), Measure(fahrenheit(70), 0.5), Measure(fahrenheit(95), 0.5), SEA, FIGURES
    )
    assert found.value / CFM == pytest.approx(9600 * 3.412 / (1.08 * 25), rel=0.01)
    assert 0.05 < found.error / found.value < 0.10


def test_thin_air_takes_more_of_it() -> None:
    high = Measure(84_300.0, 300.0)  # 5,000 ft
    air = (Measure(fahrenheit(70), 0.5), Measure(fahrenheit(95), 0.5))
    low, up = (airflow_by_heat(Measure(9600, 200), *air, place, FIGURES) for place in (SEA, high))
    assert up.value / low.value == pytest.approx(101_325 / 84_300)


def test_air_that_gets_no_warmer_tells_nothing() -> None:
    for supply in (69.0, 70.0, 71.0):  # within the errors of two thermometers
        air = (Measure(fahrenheit(70), 0.55), Measure(fahrenheit(supply), 0.55))
        assert airflow_by_heat(Measure(9600, 200), *air, SEA, FIGURES) is None


ROWS = [(50.0, 0.60), (100.0, 0.55), (150.0, 0.45)]


@pytest.mark.parametrize(("static", "flow"), [(50, 0.60), (75, 0.575), (100, 0.55), (125, 0.50), (150, 0.45)])
def test_a_blower_table_is_read_by_straight_lines(static: float, flow: float) -> None:
    found = airflow_by_table(ROWS, Measure(static, 0.0), FIGURES)
    assert found == (pytest.approx(flow), pytest.approx(FIGURES.blower_table * flow))


@pytest.mark.parametrize("static", [49.9, 150.1, 0.0])
def test_and_never_beyond_its_ends(static: float) -> None:
    assert airflow_by_table(ROWS, Measure(static, 5.0), FIGURES) is None


def test_a_table_of_one_row_holds_at_that_row() -> None:
    assert airflow_by_table(ROWS[:1], Measure(50.0, 2.0), FIGURES) == (0.60, pytest.approx(0.03))
    assert airflow_by_table(ROWS[:1], Measure(51.0, 2.0), FIGURES) is None
    assert airflow_by_table([], Measure(50.0, 2.0), FIGURES) is None


def test_the_manometer_counts_as_steeply_as_the_fan_falls() -> None:
    sure = replace(FIGURES, blower_table=0.0)
    found = airflow_by_table(ROWS, Measure(125.0, 10.0), sure)
    assert found.error == pytest.approx(10 * 0.1 / 50)


def test_the_figures_as_they_are_written() -> None:
    wanted = {"same_instrument": 0.25, "gas_temperature": 2 / 1.8, "unknown_temperature": 10 / 1.8, "shows": 0.02,
              "least_pressure": 150 * PSI,
              "least_held": 900.0, "depth": 500 * MICRON, "decay": 600.0, "stays": 1000 * MICRON, "ahead": 1800.0,
              "levels": 0.5, "airflow": 0.15, "uneven": 0.05, "blower_table": 0.05,
              "of_the_plate": 0.9}  # fmt: skip
    assert {name: getattr(FIGURES, name) for name in wanted} == pytest.approx(wanted)
    assert set(wanted) == set(type(FIGURES).__dataclass_fields__)
