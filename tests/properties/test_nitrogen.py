"""Nitrogen in a closed system, against CoolProp."""

from __future__ import annotations

import math

import pytest

from diagnose.properties.nitrogen import COLDEST, HIGHEST, HOTTEST, pressure_after, second_virial
from diagnose.units import PSI


@pytest.mark.parametrize("psig", [50, 150, 300, 450, 600])
@pytest.mark.parametrize("temperature", [253.0, 273.0, 295.0, 315.0])
@pytest.mark.parametrize("by", [-40.0, -20.0, -5.0, 5.0, 20.0])
def test_it_follows_the_temperature_as_the_real_gas_does(psig: float, temperature: float, by: float) -> None:
    from CoolProp.CoolProp import PropsSI  # takes a second, which no other worker needs

    start, then = (psig + 14.7) * PSI, temperature + by
    if not COLDEST <= then <= HOTTEST:
        assert pressure_after(start, temperature, then) is None
        return
    density = PropsSI("D", "P", start, "T", temperature, "Nitrogen")
    real = PropsSI("P", "D", density, "T", then, "Nitrogen")
    found = pressure_after(start, temperature, then)
    assert found == pytest.approx(real, abs=0.001 * start)
    assert found - start == pytest.approx(real - start, rel=0.01)  # the part that a test is corrected by


def test_an_ideal_gas_would_hide_a_leak() -> None:
    start = 515 * PSI
    found = pressure_after(start, 305.0, 285.0)
    assert (start - found) / (start * 20 / 305) == pytest.approx(1.08, abs=0.01)


@pytest.mark.parametrize("temperature", [250.0, 273.15, 300.0, 335.0])
def test_the_second_virial_coefficient(temperature: float) -> None:
    from CoolProp.CoolProp import PropsSI

    real = PropsSI("Bvirial", "P", 1e5, "T", temperature, "Nitrogen")  # m³/mol
    assert second_virial(temperature) == pytest.approx(real, abs=1.5e-6)


def test_where_it_ends() -> None:
    assert pressure_after(3e6, 300.0, 300.0) == pytest.approx(3e6)
    assert pressure_after(0.0, 300.0, 310.0) == 0.0
    assert pressure_after(HIGHEST, COLDEST, HOTTEST) is not None
    for odd in ((3e6, COLDEST - 1, 300.0), (3e6, 300.0, HOTTEST + 1), (HIGHEST + 1, 300.0, 300.0), (-1.0, 300.0, 300.0),
                (math.nan, 300.0, 300.0), (3e6, math.nan, 300.0)):  # fmt: skip
        assert pressure_after(*odd) is None
