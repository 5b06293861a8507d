"""Moist air: against printed ASHRAE figures, real-gas CoolProp, an independent library, and nonsense."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from published import rows
from work import examples

from diagnose.properties import (
    dew_point,
    enthalpy,
    humidity_ratio_from_relative_humidity,
    humidity_ratio_from_wet_bulb,
    relative_humidity,
    saturation_vapour_pressure,
    specific_volume,
    standard_pressure,
    wet_bulb,
)

SEA_LEVEL = 101325.0
ZERO = 273.15

dry_bulbs = st.floats(240.0, 330.0)
humidities = st.floats(0.02, 1.0)
pressures = st.floats(65e3, 108e3)  # 11,500 ft to below sea level


# --- printed figures -----------------------------------------------------------------------------


def table_rows(table: str) -> list[dict[str, str]]:
    return [row for row in rows("psychrometric_tables.csv") if row["table"] == table]


@pytest.mark.parametrize("row", table_rows("standard atmosphere pressure"), ids=lambda r: r["x"] + r["x_unit"])
def test_standard_atmosphere(row: dict[str, str]) -> None:
    """Source: ASHRAE Fundamentals 2017 ch. 1 table 1: 0.02 % where people live; the formula is 0.2 % off at 9 km."""
    metres = float(row["x"]) * (1.0 if row["x_unit"] == "m" else 0.3048)
    expected = float(row["value"]) * (1.0 if row["unit"] == "Pa" else 6894.757293)
    assert standard_pressure(metres) == pytest.approx(expected, rel=2e-4 if metres < 5000 else 2e-3)


@pytest.mark.parametrize("row", table_rows("saturation vapour pressure"), ids=lambda r: r["x"])
def test_saturation_pressure(row: dict[str, str]) -> None:
    """Source: ASHRAE Fundamentals 2017 ch. 1 table 3. The table is a newer formulation: 0.03 % from eq. 5 and 6."""
    assert saturation_vapour_pressure(float(row["x"]) + ZERO) == pytest.approx(float(row["value"]), rel=3e-4)


@pytest.mark.parametrize("row", table_rows("saturation humidity ratio at 101325 Pa"), ids=lambda r: r["x"])
def test_saturated_air(row: dict[str, str]) -> None:
    """Source: ASHRAE Fundamentals 2017 ch. 1 table 2: real gas, up to 0.7 % above the ideal-gas relations."""
    T = float(row["x"]) + ZERO
    assert humidity_ratio_from_relative_humidity(T, 1.0, SEA_LEVEL) == pytest.approx(float(row["value"]), rel=0.007)


@pytest.mark.parametrize("row", table_rows("saturated air enthalpy at 101325 Pa"), ids=lambda r: r["x"])
def test_saturated_air_enthalpy(row: dict[str, str]) -> None:
    """Source: ASHRAE Fundamentals 2017 ch. 1 table 2; 0.7 % as the humidity ratio."""
    T = float(row["x"]) + ZERO
    water = humidity_ratio_from_relative_humidity(T, 1.0, SEA_LEVEL)
    assert enthalpy(T, water) == pytest.approx(float(row["value"]), rel=0.007)


def test_handbook_example() -> None:
    """Source: ASHRAE Fundamentals 2017 ch. 1 example 1, 40 C dry bulb, 20 C wet bulb: read off the chart, hence
    the tolerances: W 0.1 g/kg, h 0.3 kJ/kg, dew point 0.5 K, RH 0.5 %, volume 0.001 m3/kg.
    """
    row = rows("psychrometrics_example.csv")[0]
    T, wet, p = float(row["dry_bulb"]) + ZERO, float(row["wet_bulb"]) + ZERO, float(row["pressure"])
    water = humidity_ratio_from_wet_bulb(T, wet, p)
    assert water == pytest.approx(float(row["humidity_ratio"]), abs=1.01e-4)
    assert enthalpy(T, water) == pytest.approx(float(row["enthalpy"]), abs=300)
    assert dew_point(water, p) == pytest.approx(float(row["dew_point"]) + ZERO, abs=0.5)
    assert relative_humidity(T, water, p) == pytest.approx(float(row["rel_humidity"]), abs=0.005)
    assert specific_volume(T, water, p) == pytest.approx(float(row["specific_volume"]), abs=0.001)


def test_handbook_example_inch_pound() -> None:
    """Source: the same example in inch-pound units, 100 F and 65 F: W 0.0001, h 0.3 Btu/lb, dew 1 F, volume 0.02."""
    row = rows("psychrometrics_example.csv")[1]
    T, wet = (float(row["dry_bulb"]) + 459.67) / 1.8, (float(row["wet_bulb"]) + 459.67) / 1.8
    p = float(row["pressure"]) * 6894.757293
    water = humidity_ratio_from_wet_bulb(T, wet, p)
    assert water == pytest.approx(float(row["humidity_ratio"]), abs=1e-4)
    # inch-pound tables count from 0 F: dry air at 32 F holds 0.240 * 32 Btu/lb; water counts from 32 F in both
    assert enthalpy(T, water) / 2326 + 0.240 * 32 == pytest.approx(float(row["enthalpy"]), abs=0.3)
    assert dew_point(water, p) * 1.8 - 459.67 == pytest.approx(float(row["dew_point"]), abs=1)
    assert relative_humidity(T, water, p) == pytest.approx(float(row["rel_humidity"]), abs=0.005)
    assert specific_volume(T, water, p) * 35.3147 / 2.20462 == pytest.approx(float(row["specific_volume"]), abs=0.02)


# --- CoolProp: moist air as a real gas -----------------------------------------------------------


@examples(3)
@given(T=st.floats(278.0, 323.0), rh=st.floats(0.05, 0.98), p=st.floats(70e3, 105e3))
def test_against_coolprop(T: float, rh: float, p: float) -> None:
    """Source: CoolProp 8 HAPropsSI. Ideal gas against real gas: W 0.7 %, wet bulb 0.05 K, dew 0.02 K, volume 0.1 %."""
    from CoolProp.CoolProp import HAPropsSI

    water = humidity_ratio_from_relative_humidity(T, rh, p)
    assert water == pytest.approx(HAPropsSI("W", "T", T, "R", rh, "P", p), rel=0.007)
    dew = dew_point(water, p)
    if dew > 273.5:
        assert dew == pytest.approx(HAPropsSI("D", "T", T, "R", rh, "P", p), abs=0.02)
    wet = wet_bulb(T, water, p)
    if wet > 274.5:  # CoolProp raises between its ice and water branches
        assert wet == pytest.approx(HAPropsSI("B", "T", T, "R", rh, "P", p), abs=0.05)
    assert specific_volume(T, water, p) == pytest.approx(HAPropsSI("V", "T", T, "R", rh, "P", p), rel=0.001)


@examples(6)
@given(
    room=st.floats(296.0, 303.0),
    room_rh=st.floats(0.4, 0.65),
    supply=st.floats(283.0, 290.0),
    supply_rh=st.floats(0.85, 0.97),
)
def test_heat_taken_out_by_a_coil(room: float, room_rh: float, supply: float, supply_rh: float) -> None:
    """Source: CoolProp 8. What a capacity is made of: the enthalpy difference over an indoor coil, within 0.5 %."""
    from CoolProp.CoolProp import HAPropsSI

    ours = enthalpy(room, humidity_ratio_from_relative_humidity(room, room_rh, SEA_LEVEL)) - enthalpy(
        supply, humidity_ratio_from_relative_humidity(supply, supply_rh, SEA_LEVEL)
    )
    theirs = HAPropsSI("H", "T", room, "R", room_rh, "P", SEA_LEVEL) - HAPropsSI(
        "H", "T", supply, "R", supply_rh, "P", SEA_LEVEL
    )
    # 50 J/kg besides, a tenth of a degree or two of dry bulb: small differences of large numbers
    assert ours == pytest.approx(theirs, rel=0.005, abs=50)


# --- an independent general-purpose library with the same handbook equations ---------------------


@given(T=dry_bulbs, rh=humidities, p=pressures)
def test_against_independent_library(T: float, rh: float, p: float) -> None:
    """Source: psychrolib 2.5 (ASHRAE 2017 ch. 1). Same equations: rounding only; its wet bulb is solved to 0.001 K."""
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    t = T - ZERO
    water = humidity_ratio_from_relative_humidity(T, rh, p)
    assume(water > 2e-7)  # the library silently puts anything drier at 1e-7
    assert water == pytest.approx(psychrolib.GetHumRatioFromRelHum(t, rh, p), rel=1e-9)
    assert relative_humidity(T, water, p) == pytest.approx(rh, rel=1e-9)
    assert enthalpy(T, water) == pytest.approx(psychrolib.GetMoistAirEnthalpy(t, water), abs=1e-6)
    assert specific_volume(T, water, p) == pytest.approx(psychrolib.GetMoistAirVolume(t, water, p), rel=1e-6)
    dew = dew_point(water, p)
    if dew - ZERO > -99:
        assert dew - ZERO == pytest.approx(psychrolib.GetTDewPointFromHumRatio(t, water, p), abs=0.001)
    wet = wet_bulb(T, water, p)
    # near 0 C a wick of water and one of ice both fit; the two solvers may choose differently
    if not -1.0 < wet - ZERO < 1.0:
        assert wet - ZERO == pytest.approx(psychrolib.GetTWetBulbFromHumRatio(t, water, p), abs=0.002)


# --- what must hold ------------------------------------------------------------------------------


@given(T=dry_bulbs, rh=humidities, p=pressures)
def test_wet_bulb_and_back(T: float, rh: float, p: float) -> None:
    water = humidity_ratio_from_relative_humidity(T, rh, p)
    wet = wet_bulb(T, water, p)
    dew = dew_point(water, p)
    assert dew - 1e-6 <= wet <= T
    assert humidity_ratio_from_wet_bulb(T, wet, p) == pytest.approx(water, abs=1e-9)
    assert saturation_vapour_pressure(dew) == pytest.approx(p * water / (0.621945 + water), rel=1e-8)


@given(T=dry_bulbs, p=pressures)
def test_saturated_air_has_one_temperature(T: float, p: float) -> None:
    water = humidity_ratio_from_wet_bulb(T, T, p)
    assert water == pytest.approx(humidity_ratio_from_relative_humidity(T, 1.0, p), rel=1e-9)
    assert wet_bulb(T, water, p) == pytest.approx(T, abs=1e-6)
    assert dew_point(water, p) == pytest.approx(T, abs=1e-6)
    assert relative_humidity(T, water, p) == pytest.approx(1.0, abs=1e-9)


@given(T=st.floats(280.0, 320.0), a=st.floats(0.02, 0.98), step=st.floats(0.005, 0.3), p=pressures)
def test_wetter_air_has_a_higher_wet_bulb(T: float, a: float, step: float, p: float) -> None:
    one = humidity_ratio_from_relative_humidity(T, a, p)
    two = humidity_ratio_from_relative_humidity(T, min(a + step, 1.0), p)
    assert wet_bulb(T, one, p) < wet_bulb(T, two, p)
    assert dew_point(one, p) < dew_point(two, p)


def test_pressure_falls_with_altitude() -> None:
    found = [standard_pressure(z) for z in range(-500, 11000, 250)]
    assert found == sorted(found, reverse=True)
    assert standard_pressure(0) == SEA_LEVEL


# --- impossible and nonsense ---------------------------------------------------------------------


def test_impossible_states() -> None:
    assert humidity_ratio_from_wet_bulb(295.0, 295.1, SEA_LEVEL) is None
    assert humidity_ratio_from_wet_bulb(295.0, 295.0 + 1e-10, SEA_LEVEL) is not None  # rounding
    assert humidity_ratio_from_wet_bulb(310.0, 280.0, SEA_LEVEL) is None  # drier than dry
    assert humidity_ratio_from_relative_humidity(295.0, 50.0, SEA_LEVEL) is None  # percent
    assert humidity_ratio_from_relative_humidity(295.0, -0.01, SEA_LEVEL) is None
    assert humidity_ratio_from_relative_humidity(22.0, 0.5, SEA_LEVEL) is None  # Celsius
    assert humidity_ratio_from_relative_humidity(295.0, 0.5, 101.325) is None  # kPa
    assert humidity_ratio_from_relative_humidity(400.0, 1.0, SEA_LEVEL) is None  # steam
    assert relative_humidity(295.0, -0.001, SEA_LEVEL) is None
    assert relative_humidity(295.0, 0.05, SEA_LEVEL) is None  # fog
    assert wet_bulb(295.0, 0.05, SEA_LEVEL) is None
    assert wet_bulb(295.0, -0.001, SEA_LEVEL) is None
    assert dew_point(0.0, SEA_LEVEL) is None
    assert dew_point(-0.001, SEA_LEVEL) is None
    assert enthalpy(295.0, -0.001) is None
    assert specific_volume(295.0, -0.001, SEA_LEVEL) is None
    assert standard_pressure(20000.0) is None


def test_perfectly_dry_air() -> None:
    assert humidity_ratio_from_relative_humidity(300.0, 0.0, SEA_LEVEL) == 0.0
    wet = wet_bulb(300.0, 0.0, SEA_LEVEL)
    assert humidity_ratio_from_wet_bulb(300.0, wet + 1e-7, SEA_LEVEL) == pytest.approx(0.0, abs=1e-9)


garbage = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True),
    st.floats(170.0, 480.0),
    st.sampled_from([math.nan, math.inf, -math.inf, 0.0, -1.0, 1e308, 5e-324, 10**400, None, "70 F", [], True]),
)


@given(a=garbage, b=garbage, c=garbage, p=st.one_of(garbage, st.floats(1e3, 1e7)))
def test_numbers_never_raise(a: Any, b: Any, c: Any, p: Any) -> None:
    answers = [
        standard_pressure(a),
        saturation_vapour_pressure(a),
        humidity_ratio_from_wet_bulb(a, b, p),
        humidity_ratio_from_wet_bulb(300.0, b, p),
        humidity_ratio_from_relative_humidity(a, b, p),
        humidity_ratio_from_relative_humidity(300.0, b, p),
        relative_humidity(a, b, p),
        relative_humidity(300.0, b, p),
        wet_bulb(a, b, p),
        wet_bulb(a, 0.01, p),
        wet_bulb(300.0, b, p),
        dew_point(a, p),
        enthalpy(a, b),
        specific_volume(a, b, c),
    ]
    assert all(answer is None or math.isfinite(answer) for answer in answers)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf, None, "70"])
def test_nonsense_answers_none(bad: Any) -> None:
    assert standard_pressure(bad) is None
    assert saturation_vapour_pressure(bad) is None
    assert humidity_ratio_from_wet_bulb(bad, 290.0, SEA_LEVEL) is None
    assert humidity_ratio_from_wet_bulb(300.0, bad, SEA_LEVEL) is None
    assert humidity_ratio_from_wet_bulb(300.0, 290.0, bad) is None
    assert humidity_ratio_from_relative_humidity(300.0, bad, SEA_LEVEL) is None
    assert relative_humidity(300.0, bad, SEA_LEVEL) is None
    assert wet_bulb(300.0, bad, SEA_LEVEL) is None
    assert wet_bulb(bad, 0.01, SEA_LEVEL) is None
    assert dew_point(bad, SEA_LEVEL) is None
    assert enthalpy(bad, 0.01) is None
    assert enthalpy(300.0, bad) is None
    assert specific_volume(300.0, 0.01, bad) is None
