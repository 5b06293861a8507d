"""Every figure by which readings are doubted, just inside and just outside; each written down here a second time."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping
from typing import Any

import pytest
from judged import JUDGEMENT
from strategies import F

from diagnose.properties import (
    humidity_ratio_from_wet_bulb,
    refrigerant,
    relative_humidity,
    saturation_pressure,
    saturation_range,
    saturation_temperature,
    wet_bulb,
)
from diagnose.quantities.plausibility import doubts, misreadings, saturations
from diagnose.quantities.plausibility.limits import PlausibilityLimits
from diagnose.quantities.plausibility.misreadings import Misreading
from diagnose.quantities.plausibility.strain import strains
from diagnose.quantities.plausibility.view import Doubt, ReadingsView
from diagnose.quantities.uncertainty import COVERAGE, Estimate
from diagnose.units import CFM, TON
from diagnose.visit import Machine, Reading, Round, Visit

SEA = 101325.0
LIMITS = JUDGEMENT.plausibility
R410A = refrigerant("R-410A")
Pair = float | tuple[float, float]  # a value in SI, or that with its limit of error

SUCTION, LIQUID = "suction line temperature", "liquid line temperature"
OUTDOOR, RETURN, SUPPLY = "outdoor air temperature", "return air dry bulb", "supply air dry bulb"
WET = "return air wet bulb"
LOW, HIGH = "suction pressure", "liquid pressure"
COOLS = {SUPPLY: 285.0, RETURN: 297.0, OUTDOOR: 300.0}  # the air, K


def _pair(value: Pair) -> tuple[float, float]:
    return value if isinstance(value, tuple) else (value, 0.0)


def view(
    readings: Mapping[str, Pair],
    quantities: Mapping[str, Pair] | None = None,
    gas: Any = None,
    mode: str = "cooling",
    **facts: float,
) -> ReadingsView:
    """Readings and quantities as given, K and Pa absolute, exact unless a limit of error is given with them."""
    taken = {name: Reading(name, *_pair(value), "K") for name, value in readings.items()}
    made = {}
    for name, value in (quantities or {}).items():
        best, error = _pair(value)
        made[name] = Estimate(
            name, "difference", best, error / COVERAGE, None, None, error / COVERAGE, (), {}, "", "test"
        )
    machine = Machine(mode=mode, refrigerant=gas, facts={n.replace("_", " "): v for n, v in facts.items()})
    return ReadingsView(Visit(machine, (Round(20.0, taken),), {}, None, (), "si"), made, LIMITS)


def told(*args: Any, **facts: Any) -> dict[str, Doubt]:
    seen = view(*args, **facts)
    return {doubt.reason.code: doubt for doubt in doubts(seen.visit, seen.estimates, LIMITS) if doubt.firm}


def half(*errors: float) -> float:
    """K beyond what can be at which a doubt is as likely as not: two and a half standard deviations and lags."""
    return 2.5 * math.sqrt(0.7**2 + sum((error / COVERAGE) ** 2 for error in errors))


# -- readings that cannot be -------------------------------------------------------------------------------------------


def _order(warm: str, cold: str, *errors: float) -> Callable[[float], dict[str, Doubt]]:
    one, other = errors or (0.0, 0.0)
    return lambda x: told({warm: (290.0, one), cold: (290.0 + x, other)})


def _humid(x: float) -> dict[str, Doubt]:
    water = humidity_ratio_from_wet_bulb(297.0, 290.0, SEA)
    assert water is not None
    by_wet_bulb = relative_humidity(297.0, water, SEA)
    return told({RETURN: 297.0, WET: 290.0, "return air relative humidity": (by_wet_bulb + x, 0.03)})


def _one_air(split: float, over: float) -> dict[str, Doubt]:
    return told({RETURN: 297.0, SUPPLY: 297.0 - split}, {"condensing over ambient": over})


def _cold_liquid(over: float | tuple[float, float], subcooling: float = 20.0) -> dict[str, Doubt]:
    return told({}, {"liquid over return air": over, "subcooling": subcooling}, mode="heating")


def _as_running(standing: float, excess: float | tuple[float, float]) -> dict[str, Doubt]:
    return told({HIGH: 20e5, "standing pressure": standing}, {"standing pressure excess": excess})


def _equal(below_return: float, below_outdoor: float) -> dict[str, Doubt]:
    supply = 285.0
    return told({LOW: 1e6, HIGH: 1e6, SUPPLY: supply, RETURN: supply + below_return, OUTDOOR: supply + below_outdoor})


def _cold(split: float, below: float) -> dict[str, Doubt]:
    readings = {RETURN: 297.0, SUPPLY: 297.0 - split, LOW: 2e5}
    return told(readings, {"evaporator temperature difference": below})


# code, edge, which side doubts (+1: above), the readings with the figure at x
EDGES: list[tuple[str, float, int, Callable[[float], dict[str, Doubt]]]] = [
    ("suction-above-liquid", 1.15e6, 1, lambda x: told({LOW: (x, 3e3 * COVERAGE), HIGH: (1e6, 4e3 * COVERAGE)})),
    ("suction-above-liquid", 1.25e6, 1, lambda x: told({LOW: (x, 6e4 * COVERAGE), HIGH: (1e6, 8e4 * COVERAGE)})),
    ("pressures-equal", 1.15, -1, lambda x: told({LOW: x * 1e6, HIGH: 1e6})),
    ("below-vacuum", 3039.75, -1, lambda x: told({LOW: x})),
    ("below-vacuum", 3039.75, -1, lambda x: told({HIGH: x})),
    ("pressures-equal", 1.15, -1, lambda x: told({LOW: 1e6, HIGH: x * 1e6})),
    ("no-compressor-current", 0.2, -1, lambda x: told({"compressor current": x})),
    ("no-compressor-current", 0.2, -1, lambda x: told({"compressor current": x}, rated_current=1.5)),
    ("current-beyond-the-plate", 17 * 1.75, 1, lambda x: told({"compressor current": x}, rated_current=17.0)),
    (
        "current-beyond-the-capacity",
        2.5 * 12 * 1.75,
        1,
        lambda x: told({"compressor current": x}, nominal_capacity=2.5 * TON),
    ),
    (
        "airflow-beyond-the-capacity",
        720.0,
        1,
        lambda x: told({"airflow": x * 2.5 * CFM}, nominal_capacity=2.5 * TON),
    ),
    (
        "airflow-beyond-the-capacity",
        80.0,
        -1,
        lambda x: told({"airflow": x * 2.5 * CFM}, nominal_capacity=2.5 * TON),
    ),
    ("no-compressor-current", 1.7, -1, lambda x: told({"compressor current": x}, rated_current=17.0)),
    ("humidity-contradicts-wet-bulb", 0.15, 1, _humid),
    ("humidity-contradicts-wet-bulb", -0.15, -1, _humid),
    ("suction-pressure-too-low-to-cool", 85 * F, 1, lambda x: _cold(10.0, x)),
    ("suction-pressure-too-low-to-cool", 9 * F, 1, lambda x: _cold(x, 60.0)),
    ("return-air-like-fog", 0.85, 1, lambda x: told({"return air relative humidity": x})),
    ("return-air-without-water", 0.03, -1, lambda x: told({"return air relative humidity": x})),
    ("pressures-equal-while-it-cools", 9 * F, 1, lambda x: _equal(x, 15.0)),
    ("pressures-equal-while-it-cools", 9 * F, 1, lambda x: _equal(15.0, x)),
    ("suction-line-too-cold", half(), 1, lambda x: told({SUCTION: 290.0}, {"superheat": -x})),
    ("suction-line-too-cold", half(2.0), 1, lambda x: told({SUCTION: 290.0}, {"superheat": (-x, 2.0)})),
    (
        "suction-line-too-cold",
        half() + refrigerant("R-407C").glide,
        1,
        lambda x: told({SUCTION: 290.0}, {"superheat": -x}, refrigerant("R-407C")),
    ),
    (
        "suction-clamp-reads-air",
        2 * F,
        -1,
        lambda x: told({SUCTION: 300.0 + x, OUTDOOR: 300.0}, {"superheat": 20.0}),
    ),
    (
        "suction-clamp-reads-air",
        -2 * F,
        1,
        lambda x: told({SUCTION: 300.0 + x, OUTDOOR: 300.0}, {"superheat": 20.0}),
    ),
    ("suction-clamp-reads-air", 30 * F, 1, lambda x: told({SUCTION: 300.0, OUTDOOR: 300.0}, {"superheat": x})),
    (
        "suction-clamp-reads-air",
        5 * F,
        1,
        lambda x: told({SUCTION: 300.0, OUTDOOR: 300.0}, {"superheat": 20.0, "subcooling": x}),
    ),
    ("suction-line-warmed", 12 * F, 1, lambda x: told({SUCTION: 290.0}, {"superheat": 5.0 + x, "coil superheat": 5.0})),
    ("suction-line-warmed", 20 * F, -1, lambda x: told({SUCTION: 290.0}, {"superheat": 40.0, "coil superheat": x})),
    ("suction-line-above-air", 35 * F, 1, lambda x: told({SUCTION: 300.0 + x, OUTDOOR: 300.0, RETURN: 295.0})),
    ("suction-line-above-air", 5 * F, 1, lambda x: told({SUCTION: 300.0 + x, LIQUID: 300.0 + x, OUTDOOR: 300.0})),
    ("suction-line-above-air", 1.5 * F, -1, lambda x: told({SUCTION: 310.0, LIQUID: 310.0 + x, OUTDOOR: 300.0})),
    ("condensing-below-outdoor-air", half(), 1, lambda x: told({}, {"condensing over ambient": -x})),
    ("condensing-below-outdoor-air", half(2.0), 1, lambda x: told({}, {"condensing over ambient": (-x, 2.0)})),
    ("condensing-below-outdoor-air", half() - 2.5 * F, 1, lambda x: told(COOLS, {"condensing over ambient": -x})),
    ("liquid-line-below-outdoor-air", half(), 1, lambda x: told({}, {"liquid line approach": -x})),
    ("liquid-line-below-outdoor-air", half(2.0), 1, lambda x: told({}, {"liquid line approach": (-x, 2.0)})),
    ("liquid-line-too-warm", half(), 1, lambda x: told({}, {"subcooling": -x})),
    ("liquid-line-too-warm", half(2.0), 1, lambda x: told({}, {"subcooling": (-x, 2.0)})),
    ("liquid-line-below-house-air", 10 * F + half(), 1, lambda x: _cold_liquid(-x)),
    ("liquid-line-below-house-air", 10 * F + half(2.0), 1, lambda x: _cold_liquid((-x, 2.0))),
    ("liquid-line-below-house-air", 15 * F, 1, lambda x: _cold_liquid(-12.0, x)),
    ("liquid-clamp-reads-air", 1.5 * F, -1, lambda x: told({}, {"subcooling": 10.0, "liquid line approach": x})),
    ("liquid-clamp-reads-air", 15 * F, 1, lambda x: told({}, {"subcooling": x, "liquid line approach": 0.0})),
    ("discharge-line-too-cold", half(), 1, lambda x: told({}, {"discharge superheat": -x})),
    ("discharge-line-too-cold", half(2.0), 1, lambda x: told({}, {"discharge superheat": (-x, 2.0)})),
    ("supply-air-too-cold", half(), 1, lambda x: told({SUPPLY: 285.0 - x}, {"evaporating temperature": 285.0})),
    (
        "supply-air-too-cold",
        half(3.0),
        1,
        lambda x: told({SUPPLY: (285.0 - x, 1.0)}, {"evaporating temperature": (285.0, 2.0)}),
    ),
    ("wick-at-freezing", 274.15, -1, lambda x: told({WET: x})),
    ("wick-at-freezing", 272.15, 1, lambda x: told({WET: x})),
    ("wick-at-freezing", 274.15, -1, lambda x: told({"supply air wet bulb": x})),
    ("return-wet-bulb-above-dry-bulb", half(), 1, _order(RETURN, WET)),
    ("return-wet-bulb-above-dry-bulb", half(0.5), 1, _order(RETURN, WET, 0.3, 0.4)),
    ("supply-wet-bulb-above-dry-bulb", half(), 1, _order(SUPPLY, "supply air wet bulb")),
    ("suction-line-above-discharge-line", half(), 1, _order("discharge line temperature", SUCTION)),
    ("supply-air-above-return-air", half(), 1, _order(RETURN, SUPPLY)),
    ("supply-wet-bulb-above-return", half(), 1, _order(WET, "supply air wet bulb")),
    ("drier-outlet-above-inlet", half(), 1, _order("drier inlet temperature", "drier outlet temperature")),
    ("metering-inlet-above-liquid-line", half(), 1, _order(LIQUID, "metering inlet temperature")),
    ("outdoor-air-above-condenser-leaving-air", half(), 1, _order("condenser leaving air temperature", OUTDOOR)),
    ("discharge-line-too-hot", 444.2611, 1, lambda x: told({"discharge line temperature": x})),  # 340 °F
    ("supply-air-same-as-return-air", 1.5 * F, -1, lambda x: _one_air(x, 15.0)),
    ("supply-air-same-as-return-air", -1.5 * F, 1, lambda x: _one_air(x, 15.0)),
    ("supply-air-same-as-return-air", 9 * F, 1, lambda x: _one_air(0.0, x)),
    (
        "standing-pressure-too-low",
        4 * F,
        1,
        lambda x: told({}, {"standing pressure excess": -x, "subcooling": 10.0}),
    ),
    (
        "standing-pressure-too-low",
        4 * F + 1.0,
        1,
        lambda x: told({}, {"standing pressure excess": (-x, 1.0), "subcooling": 10.0}),
    ),
    (
        "standing-pressure-too-low",
        3 * F,
        1,
        lambda x: told({}, {"standing pressure excess": -9.0, "subcooling": x}),
    ),
    (
        "standing-pressure-too-low",
        3 * F + 1.0,
        1,
        lambda x: told({}, {"standing pressure excess": -9.0, "subcooling": (x, 1.0)}),
    ),
    ("standing-pressure-as-when-running", 4 * F + 1.0, 1, lambda x: _as_running(20e5, (x, 1.0))),
    ("standing-pressure-as-when-running", 0.98 * 20e5, 1, lambda x: _as_running(x, 9.0)),
]


@pytest.mark.parametrize(("code", "edge", "side", "at"), EDGES)
def test_a_doubt_begins_at_its_edge(code: str, edge: float, side: int, at: Callable[[float], dict[str, Doubt]]) -> None:
    step = abs(edge) * 1e-6 * side
    assert code not in at(edge - step)
    assert code in at(edge + step)


# code, which of EDGES of that code, and over how much to either side the doubt grows from nothing to certain
GROWS = [
    ("suction-above-liquid", 0, 5e4), ("suction-above-liquid", 1, 125e3),
    ("pressures-equal", 0, 0.05), ("below-vacuum", 0, 0.02 * SEA), ("no-compressor-current", 0, 0.2),
    ("humidity-contradicts-wet-bulb", 0, 0.06), ("suction-pressure-too-low-to-cool", 0, 12 * F),
    ("return-air-like-fog", 0, 0.1), ("return-air-without-water", 0, 0.035),
    ("suction-line-too-cold", 0, 0.5 * half()),
    ("suction-clamp-reads-air", 0, 2 * F), ("suction-clamp-reads-air", 2, 4 * F), ("suction-clamp-reads-air", 3, 2 * F),
    ("suction-line-above-air", 0, 10 * F), ("suction-line-warmed", 0, 4 * F), ("suction-line-warmed", 1, 3 * F),
    ("liquid-clamp-reads-air", 0, 1 * F), ("liquid-clamp-reads-air", 1, 3 * F), ("wick-at-freezing", 0, 0.5),
    ("standing-pressure-too-low", 0, 1 * F), ("standing-pressure-too-low", 2, 1 * F),
    ("standing-pressure-as-when-running", 0, 1 * F), ("standing-pressure-as-when-running", 1, 0.01 * 20e5),
    ("current-beyond-the-plate", 0, 17 * 0.25), ("discharge-line-too-hot", 0, 20 * F),
    ("airflow-beyond-the-capacity", 0, 70), ("airflow-beyond-the-capacity", 1, 30),
    ("supply-air-same-as-return-air", 0, 1 * F), ("supply-air-same-as-return-air", 2, 2 * F),
]  # fmt: skip


@pytest.mark.parametrize(("code", "which", "width"), GROWS)
def test_a_doubt_grows_from_nothing_to_certain_around_its_edge(code: str, which: int, width: float) -> None:
    _, edge, side, at = [each for each in EDGES if each[0] == code][which]
    weights = [_weight(code, at, edge + side * part * width) for part in (-1.001, -0.5, 0.0, 0.5, 1.0)]
    assert weights == pytest.approx([0.0, 0.25, 0.5, 0.75, 1.0], abs=2e-3)


def _weight(code: str, at: Callable[[float], dict[str, Doubt]], x: float) -> float:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Doubt, "firm", property(lambda _: True))
        found = at(x).get(code)
    return 0.0 if found is None else found.weight


@pytest.mark.parametrize(("name", "end", "code"), [(HIGH, 1, "pressure-above-table"), (LOW, 0, "pressure-below-table")])
def test_so_near_to_the_end_of_the_table_that_a_gauge_may_be_off_by_as_much_a_pressure_is_doubted(
    name: str, end: int, code: str
) -> None:
    """A good gauge by 1 % of what it reads."""
    edge = saturation_range(R410A)[end]
    inward = -1 if end else 1
    for percent, weight in ((1.02, 0.0), (0.5, 0.25)):
        x = edge * (1 + inward * percent / 100)
        assert _weight(code, lambda p: told({name: p}, gas=R410A), x) == pytest.approx(weight, abs=3e-3)


@pytest.mark.parametrize(("edge", "side"), [(30 * F, -1), (0.0, 1)])
def test_an_absolute_gauge_explains_a_superheat_that_machines_have(edge: float, side: int) -> None:
    dew = saturation_temperature(R410A, "dew", 1.3e6 - SEA)
    assert dew is not None

    def fits(x: float) -> bool:
        found = told({LOW: 1.3e6, SUCTION: dew + x}, {"superheat": -5.0}, R410A)
        return bool(found["suction-line-too-cold"].reason.figures["absolute_gauge_fits"])

    assert fits(edge + 1e-6 * side)
    assert not fits(edge - 1e-6 * side)


def test_without_a_refrigerant_no_absolute_gauge_is_suspected() -> None:
    found = told({LOW: 1.3e6, SUCTION: 290.0}, {"superheat": -5.0})["suction-line-too-cold"]
    assert found.reason.figures["absolute_gauge_fits"] is False


# -- what running machines keep to -------------------------------------------------------------------------------------


def dew(kelvin: float) -> float:
    return saturation_pressure(R410A, "dew", kelvin)


def bubble(kelvin: float) -> float:
    return saturation_pressure(R410A, "bubble", kelvin)


def middle(pressure: float) -> float:
    return sum(saturation_temperature(R410A, line, pressure) or 0.0 for line in ("dew", "bubble")) / 2


P, Q = dew(280.0), bubble(315.0)


def _air_with(percent: float) -> dict[str, float]:
    """Return air at 297 K whose wet bulb means this relative humidity."""
    low, high = 275.0, 297.0
    for _ in range(60):
        wet = (low + high) / 2
        water = humidity_ratio_from_wet_bulb(297.0, wet, SEA)
        found = relative_humidity(297.0, water, SEA) if water is not None and water > 0 else 0.0
        low, high = (wet, high) if (found or 0.0) * 100 < percent else (low, wet)
    return {RETURN: 297.0, WET: low}


# name: lowest and highest, °F or %, over how much unlikely below and above, and readings that have the figure at x
KEPT: dict[str, tuple[float, float, float, float, Callable[[float], dict[str, float]]]] = {
    "superheat": (-1, 45, 2, 5, lambda x: {LOW: P, SUCTION: 280 + x * F}),
    "subcooling": (0, 28, 2, 5, lambda x: {HIGH: Q, LIQUID: 315 - x * F}),
    "condensing over ambient": (8, 42, 3, 6, lambda x: {HIGH: Q, OUTDOOR: middle(Q) - x * F}),
    "return air over evaporating": (18, 55, 5, 5, lambda x: {LOW: P, RETURN: middle(P) + x * F}),
    "evaporating": (24, 58, 4, 4, lambda x: {LOW: dew((x - 32) * F + 273.15)}),
    "liquid line over outdoor air": (0, 30, 2, 8, lambda x: {LIQUID: 300 + x * F, OUTDOOR: 300}),
    "liquid line over suction line": (0, math.inf, 6, 1, lambda x: {LIQUID: 300 + x * F, SUCTION: 300}),
    "suction line over the warmest air": (
        -math.inf, 0, 1, 2, lambda x: {SUCTION: 300 + x * F, OUTDOOR: 300, RETURN: 295},
    ),
    "air temperature split": (9, 34, 4, 4, lambda x: {RETURN: 297, SUPPLY: 297 - x * F}),
    "supply air over evaporating": (4, 45, 2, 6, lambda x: {LOW: P, SUPPLY: 280 + x * F}),
    "return air": (-math.inf, 100, 5, 2.5, lambda x: {RETURN: (x - 32) * F + 273.15}),
    "humidity": (20, 85, 8, 8, _air_with),
}  # fmt: skip


def test_every_range_is_held() -> None:
    assert set(KEPT) == set(LIMITS.ranges)


@pytest.mark.parametrize("name", KEPT)
def test_a_range_begins_and_becomes_unlikely_where_it_should(name: str) -> None:
    low, high, below, above, at = KEPT[name]
    for edge, width, side in ((low, below, -1), (high, above, 1)):
        if math.isinf(edge):
            assert name not in strains(R410A, at(side * 60.0), SEA, LIMITS)
            continue
        assert name not in strains(R410A, at(edge - side * 0.01), SEA, LIMITS)
        assert strains(R410A, at(edge + side * 0.01), SEA, LIMITS)[name] < 1e-3
        assert strains(R410A, at(edge + side * width), SEA, LIMITS)[name] == pytest.approx(1.0, rel=1e-3)
        eased = strains(
            R410A, at(edge + side * width), SEA, LIMITS, {name: 0.5 * width * (0.01 if name == "humidity" else F)}
        )
        assert eased[name] == pytest.approx(0.25, rel=1e-3)


def test_pressures_beyond_the_table_strain_more_than_anything_else() -> None:
    assert strains(R410A, {HIGH: 9e6}, SEA, LIMITS) == {"outside": 100.0}
    assert strains(R410A, {LOW: 9e6, HIGH: 9e6}, SEA, LIMITS) == {"outside": 200.0}


def test_a_wet_bulb_above_the_dry_bulb_counts_ten_percent_a_degree() -> None:
    found = strains(None, {RETURN: 297.0, WET: 297.0 + F}, SEA, LIMITS)
    assert found == {"humidity": pytest.approx(((100 + 10 - 85) / 8) ** 2, rel=1e-3)}


def test_a_wet_bulb_below_that_of_dry_air_counts_ten_percent_a_degree() -> None:
    driest = wet_bulb(297.0, 0.0, SEA)
    found = strains(None, {RETURN: 297.0, WET: driest - F}, SEA, LIMITS)
    assert found == {"humidity": pytest.approx(((20 + 10) / 8) ** 2, rel=1e-3)}


# -- slips told by the other readings ----------------------------------------------------------------------------------


def _swap(written: float, left: float) -> dict[str, Doubt]:
    """Swapped clamps: the strain as written, and what the swap leaves of it."""
    split = 34 * F + 4 * F * math.sqrt(left)
    readings = {LIQUID: 290.0, SUCTION: 290.0 + 6 * F * math.sqrt(written - left), RETURN: 310.0, SUPPLY: 310.0 - split}
    return told(readings)


def _turned(gained: float, left: float = 0.0) -> bool:
    """Whether swapped clamps are told: the strain that the swap takes away, and what it leaves."""
    return "clamps-swapped" in _swap(gained + left, left)


def test_a_visit_is_looked_at_for_slips_from_a_strain_of_twelve() -> None:
    assert not _turned(11.999)
    assert _turned(12.001)


def test_a_slip_leaves_a_strain_of_six_at_most() -> None:
    assert _turned(50.0, left=5.999)
    assert not _turned(50.0, left=6.001)


def test_a_slip_takes_away_a_strain_of_nine_at_least() -> None:
    assert not _turned(8.999, left=4.5)
    assert _turned(9.001, left=4.5)


@pytest.mark.parametrize(
    ("written", "left", "weight"), [(15.0, 0.0, 0.75), (9.0, 0.0, 0.25), (14.0, 4.0, 0.6), (30.0, 7.75, 0.25)]
)
def test_a_slip_weighs_as_much_as_the_visit_is_strained_the_strain_gained_and_what_is_left_eased(
    written: float, left: float, weight: float
) -> None:
    """Strain from 6 to 18, gained from 4 to 14, and left over from 2.5 to 9.5: the least of the three."""
    assert _weight("clamps-swapped", lambda x: _swap(x, left), written) == pytest.approx(weight, abs=0.01)


@pytest.mark.parametrize(("strain", "code"), [(3.2, "clamps-swapped"), (3.66, "air-thermometers-swapped")])
def test_ways_within_four_of_the_best_fit_as_well(strain: float, code: str, monkeypatch: pytest.MonkeyPatch) -> None:
    ways = [Misreading(strain, swapped=(SUCTION, LIQUID)), Misreading(0.0, swapped=(OUTDOOR, RETURN))]
    monkeypatch.setattr(misreadings, "ways", lambda *_: iter(ways))
    assert code in told({LIQUID: 290.0, SUCTION: 330.0, OUTDOOR: 331.0, RETURN: 331.0})


def test_at_most_four_refrigerants_are_named(monkeypatch: pytest.MonkeyPatch) -> None:
    names = ("R-22", "R-32", "R-134a", "R-407C", "R-454B")
    monkeypatch.setattr(misreadings, "ways", lambda *_: iter([Misreading(0.0, gas=name) for name in names]))
    found = told({LIQUID: 290.0, SUCTION: 330.0, OUTDOOR: 331.0}, gas=R410A)
    ((_, doubt),) = [(code, d) for code, d in found.items() if code.startswith("saturations-too-")]
    assert len(doubt.reason.figures["fitting"]) == 4


def test_a_liquid_line_within_three_degrees_fits_the_condensing_temperature() -> None:
    def empty(x: float) -> bool:
        low = dew(260.0)
        return misreadings._empty(R410A, {LOW: low, HIGH: Q, LIQUID: 315.0 + x}, "R-22", LIMITS.liquid_fits) >= 0.5

    assert empty(3 * F - 1e-4)
    assert not empty(3 * F + 1e-4)
    low, width = dew(260.0), LIMITS.liquid_fits
    for by, sure in ((-1.0, 1.0), (-0.5, 0.75), (0.5, 0.25), (1.0, 0.0)):
        seen = {LOW: low, HIGH: Q, LIQUID: 315.0 + (3 + by) * F}
        assert misreadings._empty(R410A, seen, "R-22", width) == pytest.approx(sure, abs=2e-3)


@pytest.mark.parametrize("lacking", [LOW, HIGH])
def test_with_one_pressure_alone_no_other_unit_or_refrigerant_is_tried(lacking: str) -> None:
    readings = {LOW: P, HIGH: Q, LIQUID: 290.0, SUCTION: 310.0, OUTDOOR: 305.0}
    del readings[lacking]
    assert "clamps-swapped" in told(readings, gas=R410A)
    seen = view(readings, gas=R410A)
    assert saturations._about(seen) == []


# both saturations far off: word, edge, which side tells, readings and quantities at x
_COLD = {"evaporating temperature": 295.0, "condensing temperature": 330.0}
FAR_OFF: list[tuple[str, float, int, Callable[[float], dict[str, Doubt]]]] = [
    (
        "saturations-too-high",
        45 * F,
        1,
        lambda x: told({OUTDOOR: 300.0, RETURN: 297.0}, _COLD | {"condensing temperature": 300.0 + x}, R410A),
    ),
    ("saturations-too-high", 10 * F, -1, lambda x: told({OUTDOOR: 300.0, RETURN: 295.0 + x}, _COLD, R410A)),
    ("saturations-too-high", -4 * F, -1, lambda x: told({OUTDOOR: 300.0, SUCTION: 295.0 + x}, _COLD, R410A)),
    (
        "saturations-too-low",
        -2 * F,
        -1,
        lambda x: told(
            {OUTDOOR: 300.0, RETURN: 297.0},
            {"evaporating temperature": 260.0, "condensing temperature": 300.0 + x},
            R410A,
        ),
    ),
    (
        "saturations-too-low",
        55 * F,
        1,
        lambda x: told(
            {OUTDOOR: 300.0, RETURN: 297.0},
            {"evaporating temperature": 297.0 - x, "condensing temperature": 295.0},
            R410A,
        ),
    ),
    (
        "saturations-too-low",
        45 * F,
        1,
        lambda x: told(
            {OUTDOOR: 300.0, SUCTION: 295.0},
            {"evaporating temperature": 295.0 - x, "condensing temperature": 295.0},
            R410A,
        ),
    ),
    (
        "saturations-too-low",
        -10 * F,
        -1,
        lambda x: told(
            {OUTDOOR: 300.0, RETURN: 297.0},
            {"evaporating temperature": 260.0, "condensing temperature": 295.0, "subcooling": x},
            R410A,
        ),
    ),
]


@pytest.mark.parametrize(("code", "edge", "side", "at"), FAR_OFF)
def test_saturations_are_far_off_from_their_edge(
    code: str, edge: float, side: int, at: Callable[[float], dict[str, Doubt]]
) -> None:
    assert code not in at(edge - side * 1e-6)
    assert code in at(edge + side * 1e-6)
    for by, weight in ((-1.001, 0.0), (-0.5, 0.25), (0.5, 0.75), (1.0, 1.0)):  # of 2 °F to either side
        assert _weight(code, at, edge + side * by * 2 * F) == pytest.approx(weight, abs=2e-3)


@pytest.mark.parametrize(
    ("name", "zero", "sign", "low", "high"),
    [(OUTDOOR, 315.0, -1, 5, 32), (RETURN, 280.0, 1, 22, 45), (SUCTION, 280.0, 1, -1, 30)],
)
def test_a_refrigerant_fits_where_a_sound_machine_could_show_these_pressures(
    name: str, zero: float, sign: int, low: float, high: float
) -> None:
    def fits(x: float) -> bool:
        readings = {LOW: P, HIGH: Q, OUTDOOR: 305.0} | {name: zero + sign * x * F}
        return "R-410A" in saturations._about(view(readings, gas=R410A))

    assert [fits(x) for x in (low - 0.01, low + 0.01, high - 0.01, high + 0.01)] == [False, True, True, False]


# -- the tests above hold them all -------------------------------------------------------------------------------------


def test_the_tests_know_every_figure() -> None:
    """A figure that is added needs its edge above; this list is what has one."""
    assert {f.name for f in dataclasses.fields(PlausibilityLimits)} == {
        "lag", "fading", "least_share", "off", "at_rest", "over_current", "current_per_ton", "airflow_low", "airflow_high",
        "discharge_hot", "same_air", "moves_heat", "vacuum", "standing_ratio", "idle_current_share", "idle_current",
        "humidity_gap", "as_gauge_superheat",
        "same_as_air", "air_superheat", "air_subcooling", "liquid_same_as_air", "liquid_air_subcooling", "liquid_below_house",
        "freezing",
        "outside", "per_degree", "strained", "eased", "gained", "near", "named", "liquid_fits", "high_over_ambient",
        "high_below_return", "high_superheat", "low_subcooling", "low_over_ambient", "low_below_return",
        "low_superheat", "sound_over_ambient", "sound_below_return", "sound_superheat", "below_rest", "liquid_there",
        "ranges", "discharge_width", "fog", "no_water", "too_cold", "above_air", "as_when_running",
        "line_warms", "coil_is_fed",
    }  # fmt: skip
    with pytest.raises(dataclasses.FrozenInstanceError):
        LIMITS.lag = 0.0  # type: ignore[misc]
