"""The condenser: an air-cooled coil in three zones, and non-condensable gas in it.

Every bit of coil sees outdoor air and a local refrigerant temperature, which is the exact picture of one row in cross
flow: heat = E (T_r - T_air) for each share of the coil, E = C_air (1 - exp(-UA/C_air)). Along a zone of constant heat
capacity (a glide is one) the share taken is then  flow dh / (E LMTD): no iteration anywhere.
"""

from __future__ import annotations

from math import exp, log
from typing import NamedTuple

from diagnose.properties import liquid_density, liquid_enthalpy
from diagnose.simulator.fluid import Saturation, mean_rho, sure, vapour_at, vapour_rho
from diagnose.simulator.model import Plant

# Refrigerant-side conductance at design flow over the air side's, by zone; it goes with flow^0.8 (turbulent tube flow).
# Boiling and condensing films carry several times what gas or liquid do. Our figures, within the usual ranges.
CONDENSING, GAS = 3.0, 1.0
LIQUID = {"crossflow": 0.8, "lower pass": 1.6, "warm air": 0.6}
AIR_EXPONENT = 0.6
"""Air-side conductance goes with airflow to this power (finned coils: 0.5..0.65)."""
NEAREST = 0.02
"""K; a refrigerant this close to the air counts as having come no closer."""
GAS_CONSTANT, AIR_MOLAR_MASS = 8.314462, 0.0289647


class Condensed(NamedTuple):
    """What leaves the condenser and what it holds."""

    outlet_h: float  # J/kg
    outlet_temperature: float  # K
    outlet_quality: float  # below 0: liquid
    mass: float  # kg
    gas_volume: float  # m3 free for gas
    shares: tuple[float, float, float]  # of the coil: gas, two-phase, liquid


def log_mean(a: float, b: float) -> float:
    """Logarithmic mean of two temperature differences, each at least `NEAREST`."""
    a, b = max(a, NEAREST), max(b, NEAREST)
    ratio = a / b
    if abs(ratio - 1.0) < 1e-3:
        return 0.5 * (a + b)
    return (a - b) / log(ratio)


def strength(air_side: float, ratio: float, flow_ratio: float, capacity_rate: float) -> float:
    """E (W/K) of a whole coil filled with one zone."""
    inner = ratio * air_side * max(flow_ratio, 0.02) ** 0.8
    ua = air_side * inner / (air_side + inner)
    return capacity_rate * (1.0 - exp(-ua / capacity_rate))


def condense(
    machine: Plant,
    air_side: float,
    capacity_rate: float,
    air: float,
    flow: float,
    inlet_h: float,
    sat: Saturation,
    design_air_side: float,
) -> Condensed:
    """Outlet state, charge and free gas volume from flow (kg/s), inlet enthalpy, and the refrigerant's own pressure.

    `air_side` (W/K) and `capacity_rate` (W/K) are today's air side; `air` its temperature. `design_air_side` carries the
    inside of the tubes, which dirt outside does not change.
    """
    ref = machine.refrigerant
    flow_ratio = flow / machine.design_flow
    scale = design_air_side / air_side
    inner = (GAS, CONDENSING, LIQUID[machine.structure.subcooler])
    gas, wet, liquid = (strength(air_side, k * scale, flow_ratio, capacity_rate) for k in inner)
    T_in = vapour_at(ref, inlet_h, sat)
    y_gas = 0.0
    if inlet_h > sat.vapour:
        y_gas = min(flow * (inlet_h - sat.vapour) / (gas * log_mean(T_in - air, sat.dew - air)), 1.0)
    start_h = min(inlet_h, sat.vapour)
    left = 1.0 - y_gas
    need = flow * max(start_h - sat.liquid, 0.0) / (wet * log_mean(sat.dew - air, sat.bubble - air))
    if need >= left:
        y_wet, y_liquid = left, 0.0
        h_out = start_h - max(start_h - sat.liquid, 0.0) * (left / need if need > 0.0 else 0.0)
        T_out = vapour_at(ref, h_out, sat)
    else:
        y_wet, y_liquid = need, left - need
        met = air
        if machine.structure.subcooler == "warm air":
            met += machine.coefficients.warming * flow * (inlet_h - sat.liquid) / capacity_rate
        T_out = _cool_liquid(ref, flow, liquid * y_liquid, min(met, sat.bubble - NEAREST), sat)
        h_out = sure(liquid_enthalpy(ref, T_out))
    span = sat.vapour - sat.liquid
    x_in, x_out = (start_h - sat.liquid) / span, (h_out - sat.liquid) / span
    rho_wet = mean_rho(x_in, x_out, sat, machine.structure.void)
    filled = (rho_wet - sat.vapour_density) / (sat.liquid_density - sat.vapour_density)  # liquid's share of that zone
    gas_rho = vapour_rho(ref, 0.5 * (T_in + sat.dew), sat)
    liquid_rho = sure(liquid_density(ref, 0.5 * (T_out + sat.bubble)))
    volume = machine.condenser_volume
    mass = volume * (y_gas * gas_rho + y_wet * rho_wet + y_liquid * liquid_rho)
    if machine.structure.surplus == "header":  # it drains the coil, and fills as liquid backs up
        level = 1.0 - 0.9 * exp(-max(sat.bubble - T_out, 0.0) / 5.0) if y_liquid > 0.0 else 0.1
        header = machine.coefficients.header * volume
        mass += header * (level * sat.liquid_density + (1.0 - level) * sat.vapour_density)
    return Condensed(h_out, T_out, x_out, mass, volume * (y_gas + y_wet * (1.0 - filled)), (y_gas, y_wet, y_liquid))


def _cool_liquid(ref: str, flow: float, reach: float, air: float, sat: Saturation) -> float:
    """Temperature (K) of liquid leaving: (T - air) = (T_bubble - air) exp(-reach / (flow cp)), cp over the span."""
    T, hot = sat.bubble - 3.0, sat.bubble
    h_hot = sat.liquid
    for _ in range(2):
        low = min(T, hot - 0.5)
        cp = (h_hot - sure(liquid_enthalpy(ref, low))) / (hot - low)
        T = air + (hot - air) * exp(-min(reach / (flow * cp), 50.0))
        T = min(T, hot)
    return T


def partial_pressure(air_mass: float, gas_volume: float, temperature: float) -> float:
    """Pressure (Pa) of trapped air in the condenser's gas space: Dalton and the ideal gas law."""
    return air_mass / AIR_MOLAR_MASS * GAS_CONSTANT * temperature / max(gas_volume, 1e-5)
