"""Moist air for the simulator: saturated air at a surface, and its inverse. Units: K, Pa, J and kg per kg of dry air."""

from __future__ import annotations

from diagnose.properties import specific_volume
from diagnose.properties.moist_air import saturated_enthalpy as of_saturated_air
from diagnose.simulator.fluid import sure

HEAT_CAPACITY = 1006.0
"""J/(kg K), dry air."""


def saturated_enthalpy(temperature: float, pressure: float) -> float:
    """Enthalpy (J/kg) of saturated air at a surface temperature (K)."""
    return sure(of_saturated_air(min(max(temperature, 200.0), 340.0), pressure))


def density(dry_bulb: float, humidity_ratio: float, pressure: float) -> float:
    """Dry air (kg) in a cubic meter of moist air."""
    return 1.0 / sure(specific_volume(dry_bulb, humidity_ratio, pressure))


def heat_capacity(humidity_ratio: float) -> float:
    """Heat capacity (J/K) of moist air per kg of dry air: 1006 + 1860 W."""
    return HEAT_CAPACITY + 1860.0 * humidity_ratio


def water_for(dry_bulb: float, air_enthalpy: float) -> float:
    """Humidity ratio (kg/kg) of air with a dry bulb (K) and enthalpy (J/kg); never below 0."""
    celsius = dry_bulb - 273.15
    return max((air_enthalpy - 1006.0 * celsius) / (2501000.0 + 1860.0 * celsius), 0.0)
