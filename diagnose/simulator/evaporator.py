"""The evaporator: a coil with a boiling and a superheating share, wet or dry outside.

Bypass-factor picture (DOE-2): a part exp(-UA/C) of the air passes untouched, the rest leaves as air saturated at the
surface. Heat through the boiling share: m_air (1 - BF) (h_in - h_sat(T_s)) = UA_r (T_s - T_r); where the surface is
above the dew point, dry air's heat instead. The superheating share is dry.
"""

from __future__ import annotations

from math import exp
from typing import NamedTuple, Self

from diagnose.properties import dew_point, enthalpy, specific_volume
from diagnose.properties.moist_air import saturated_enthalpy as of_saturated_air
from diagnose.simulator.condenser import log_mean
from diagnose.simulator.fluid import Saturation, mean_rho, sure, vapour_at, vapour_rho
from diagnose.simulator.model import Plant

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


SUPERHEATING = 0.5
"""Refrigerant-side conductance where gas is superheated, over the air side's."""
BOILING_EXPONENT = 0.4
"""The boiling side's conductance goes with flow to this power: part nucleate, part convective boiling."""


class AirState(NamedTuple):
    """Air entering the coil."""

    flow: float  # kg/s dry air
    conductance: float  # W/K, air side today
    dry_bulb: float
    humidity_ratio: float
    enthalpy: float
    dew_point: float
    station_pressure: float

    @property
    def capacity_rate(self) -> float:
        """W/K."""
        return self.flow * heat_capacity(self.humidity_ratio)

    @classmethod
    def of(cls, volume: float, conductance: float, dry_bulb: float, water: float, pressure: float) -> Self:
        """Of a flow of moist air, m3/s."""
        heat = sure(enthalpy(dry_bulb, water))
        flow = volume * density(dry_bulb, water, pressure)
        return cls(flow, conductance, dry_bulb, water, heat, dew_point(water, pressure) or 200.0, pressure)


class Evaporated(NamedTuple):
    """How the coil and the refrigerant's state agree."""

    excess: float  # share of the coil needed, less 1
    outlet_temperature: float  # K
    heat: float  # W, air side
    sensible: float
    surface: float  # K
    mass: float  # kg


def boiling(air: AirState, refrigerant_side: float, T_r: float, water: float = 1.0) -> tuple[float, float, float]:
    """Heat (W) of a whole coil at refrigerant temperature T_r (K), its sensible part, and the surface temperature.

    `water`: exchange of water over that of heat; at 1 the air that touches the surface leaves saturated.
    """
    contact = 1.0 - exp(-air.conductance / air.capacity_rate)
    dry = contact * air.capacity_rate
    T_s = (dry * air.dry_bulb + refrigerant_side * T_r) / (dry + refrigerant_side)
    if T_s < air.dew_point:
        T_s = _wet_surface(air, contact * air.flow, refrigerant_side, T_r, T_s, water)
        wet = contact * air.flow * (air.enthalpy - saturated_enthalpy(T_s, air.station_pressure))
        total = water * wet + (1.0 - water) * dry * (air.dry_bulb - T_s)
    else:
        total = dry * (air.dry_bulb - T_s)
    return max(total, 1.0), max(min(dry * (air.dry_bulb - T_s), total), 0.0), T_s


def _wet_surface(
    air: AirState, touched: float, refrigerant_side: float, T_r: float, start: float, water: float
) -> float:
    """Surface temperature (K) at which air gives what the refrigerant takes; five Newton steps (convex, so safe)."""
    T = start
    sensible = (1.0 - water) * touched * heat_capacity(air.humidity_ratio)
    for _ in range(5):
        h = saturated_enthalpy(T, air.station_pressure)
        slope = (saturated_enthalpy(T + 0.1, air.station_pressure) - h) * 10.0
        lack = water * touched * (air.enthalpy - h) + sensible * (air.dry_bulb - T) - refrigerant_side * (T - T_r)
        step = lack / (water * touched * slope + sensible + refrigerant_side)
        T += step
        if abs(step) < 1e-7:
            break
    return T


def evaporate(machine: Plant, air: AirState, flow: float, h_in: float, h_out: float, sat: Saturation) -> Evaporated:
    """Share of the coil that flow (kg/s) needs to come from h_in to h_out (J/kg), less 1; and what the air gives."""
    ref = machine.refrigerant
    span = sat.vapour - sat.liquid
    boiled = max(min(h_out, sat.vapour) - h_in, 0.0)
    x_in = min(max((h_in - sat.liquid) / span, 0.0), 1.0)
    x_out = min(max((h_out - sat.liquid) / span, 0.0), 1.0)
    T_r = sat.bubble + 0.5 * (x_in + x_out) * (sat.dew - sat.bubble)
    refrigerant_side = machine.evaporator_refrigerant * max(flow / machine.design_flow, 0.02) ** BOILING_EXPONENT
    whole, whole_sensible, surface = boiling(air, refrigerant_side, T_r, machine.coefficients.water)
    y_boil = flow * boiled / whole
    y_gas, gas_heat, T_out = 0.0, 0.0, vapour_at(ref, h_out, sat)
    if h_out > sat.vapour:
        gas_heat = flow * (h_out - sat.vapour)
        ua = air.conductance * SUPERHEATING / (1.0 + SUPERHEATING)
        reach = air.capacity_rate * (1.0 - exp(-ua / air.capacity_rate))
        y_gas = gas_heat / (reach * log_mean(air.dry_bulb - sat.dew, air.dry_bulb - T_out))
        y_gas += max(T_out - air.dry_bulb, 0.0)  # hotter than the air cannot be: keep the slope
    y_left = max(1.0 - y_gas, 0.0)
    volume = machine.evaporator_volume
    gas_share = min(y_gas, 1.0)
    mass = volume * (
        (1.0 - gas_share) * mean_rho(x_in, x_out, sat, machine.structure.void)
        + gas_share * vapour_rho(ref, 0.5 * (T_out + sat.dew), sat)
    )
    return Evaporated(
        y_boil + y_gas - 1.0,
        T_out,
        y_left * whole + gas_heat,
        y_left * whole_sensible + gas_heat,
        surface,
        mass,
    )
