"""Refrigerant states for the simulator: total functions over the property table, and void fraction.

Belongs here: what the parts of the cycle ask of the refrigerant. Pressures and superheats beyond the table are held at
its edge (superheated vapour goes on with a constant heat capacity), so that a solver on its way through impossible
states never meets a ``None``; the solver refuses an answer that lies on an edge.

Units: K, Pa absolute, J/kg, kg/m3.
"""

from __future__ import annotations

from functools import lru_cache
from math import log
from typing import NamedTuple

from diagnose.properties import (
    isentropic_temperature,
    liquid_density,
    liquid_enthalpy,
    refrigerant,
    saturation_pressure,
    saturation_temperature,
    vapour_density,
    vapour_enthalpy,
    vapour_temperature,
)
from diagnose.simulator.model import VOID_EXPONENT, Void

COLDEST = 218.0
"""K; lowest evaporating temperature asked for."""
LARGEST_SUPERHEAT = 119.9
"""K; the table ends at 120."""


class OutsideTableError(ArithmeticError):
    """A state no table answers. Clamps make it unreachable; the solver still catches it."""


class Saturation(NamedTuple):
    """Both ends of the two-phase region at one pressure."""

    pressure: float
    bubble: float  # K
    dew: float  # K
    liquid: float  # J/kg
    vapour: float  # J/kg
    liquid_density: float
    vapour_density: float


def sure(value: float | None) -> float:
    """The value, or ``OutsideTableError``."""
    if value is None:
        raise OutsideTableError
    return value


@lru_cache(maxsize=32)
def pressure_range(ref: str) -> tuple[float, float]:
    """Lowest and highest pressure (Pa) the simulator works with: 218 K, and 155 °F or 8 K below the critical point."""
    hottest = min((155.0 + 459.67) / 1.8, refrigerant(ref).critical_temperature - 8.0) - 0.05
    return sure(saturation_pressure(ref, "dew", COLDEST)), sure(saturation_pressure(ref, "dew", hottest))


@lru_cache(maxsize=32)
def hottest_condensing(ref: str) -> float:
    """Highest condensing temperature (bubble line, K)."""
    return sure(saturation_temperature(ref, "bubble", pressure_range(ref)[1]))


# A solver that moves one guess asks again for the states of the others.
_again = lru_cache(maxsize=64)


@_again
def saturated(ref: str, pressure: float) -> Saturation:
    """Both ends of the two-phase region at a pressure (Pa), held to the table's range."""
    low, high = pressure_range(ref)
    p = min(max(pressure, low), high)
    bubble = sure(saturation_temperature(ref, "bubble", p))
    dew = sure(saturation_temperature(ref, "dew", p))
    return Saturation(
        p,
        bubble,
        dew,
        sure(liquid_enthalpy(ref, bubble)),
        sure(vapour_enthalpy(ref, dew, p)),
        sure(liquid_density(ref, bubble)),
        sure(vapour_density(ref, dew, p)),
    )


def at_temperature(ref: str, line: str, temperature: float) -> Saturation:
    """The same at the pressure of a dew or bubble temperature (K)."""
    low, high = pressure_range(ref)
    held = min(max(temperature, COLDEST - 6.0), 342.0)
    p = saturation_pressure(ref, "dew" if line == "dew" else "bubble", held)
    return saturated(ref, min(max(p if p is not None else high, low), high))


@_again
def vapour_at(ref: str, enthalpy: float, sat: Saturation) -> float:
    """Temperature (K) at an enthalpy (J/kg); inside the two-phase region along the glide."""
    if enthalpy <= sat.vapour:
        quality = min(max((enthalpy - sat.liquid) / (sat.vapour - sat.liquid), 0.0), 1.0)
        return sat.bubble + quality * (sat.dew - sat.bubble)
    found = vapour_temperature(ref, enthalpy, sat.pressure)
    if found is not None:
        return found
    hot, end = sat.dew + LARGEST_SUPERHEAT, sat.dew + LARGEST_SUPERHEAT - 10.0
    h_hot = sure(vapour_enthalpy(ref, hot, sat.pressure))
    slope = (h_hot - sure(vapour_enthalpy(ref, end, sat.pressure))) / 10.0
    return hot + (enthalpy - h_hot) / slope


def vapour_h(ref: str, temperature: float, sat: Saturation) -> float:
    """Enthalpy (J/kg) of vapour at a temperature (K), saturated where that is below the dew line."""
    held = min(max(temperature, sat.dew), sat.dew + LARGEST_SUPERHEAT)
    return sure(vapour_enthalpy(ref, held, sat.pressure))


@_again
def vapour_rho(ref: str, temperature: float, sat: Saturation) -> float:
    """Density (kg/m3) of vapour at a temperature (K), saturated where that is below the dew line."""
    held = min(max(temperature, sat.dew), sat.dew + LARGEST_SUPERHEAT)
    return sure(vapour_density(ref, held, sat.pressure))


def mixture_rho(quality: float, sat: Saturation) -> float:
    """Homogeneous density (kg/m3) of liquid and vapour moving together: 1 / ((1-x)/rho_f + x/rho_g)."""
    x = min(max(quality, 0.0), 1.0)
    return 1.0 / ((1.0 - x) / sat.liquid_density + x / sat.vapour_density)


def quality_of(enthalpy: float, sat: Saturation) -> float:
    """Vapour quality, unbounded: below 0 subcooled, above 1 superheated."""
    return (enthalpy - sat.liquid) / (sat.vapour - sat.liquid)


def isentropic_h(ref: str, temperature: float, suction: Saturation, discharge: Saturation) -> float:
    """Enthalpy (J/kg) after loss-free compression of vapour."""
    start = min(max(temperature, suction.dew), suction.dew + 60.0)
    high = max(discharge.pressure, 1.02 * suction.pressure)
    end = sure(isentropic_temperature(ref, start, suction.pressure, min(high, pressure_range(ref)[1])))
    return vapour_h(ref, end, discharge)


def liquid_at(ref: str, enthalpy: float, near: float) -> float:
    """Temperature (K) of liquid with an enthalpy (J/kg), by three Newton steps from a temperature nearby."""
    T = near
    for _ in range(3):
        h = sure(liquid_enthalpy(ref, T))
        slope = (sure(liquid_enthalpy(ref, T + 0.5)) - h) * 2.0
        T = min(max(T + (enthalpy - h) / slope, COLDEST), hottest_condensing(ref))
    return T


def mean_rho(x_in: float, x_out: float, sat: Saturation, void: Void = "zivi") -> float:
    """Mean density (kg/m3) of a length of tube over which the quality changes evenly: void fraction after Zivi 1964.

    alpha = [x/c2 - (c1/c2^2) ln(c1 + c2 x)] between the ends / (x_out - x_in), c1 = (rho_g/rho_f)^(2/3), c2 = 1 - c1;
    with another slip between liquid and vapour another exponent (`VOID_EXPONENT`).
    """
    low, high = sorted((min(max(x_in, 0.0), 1.0), min(max(x_out, 0.0), 1.0)))
    c1 = (sat.vapour_density / sat.liquid_density) ** VOID_EXPONENT[void]
    c2 = 1.0 - c1
    if high - low < 1e-4:
        x = 0.5 * (low + high)
        alpha = x / (c1 + c2 * x)
    else:
        alpha = ((high - low) / c2 - c1 / c2**2 * log((c1 + c2 * high) / (c1 + c2 * low))) / (high - low)
    return float(alpha * sat.vapour_density + (1.0 - alpha) * sat.liquid_density)
