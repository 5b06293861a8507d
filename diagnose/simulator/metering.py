"""The metering device: short-tube orifice and thermostatic expansion valve.

Orifice: Payne and O'Neal 2004 (R-12, R-134a, R-502, R-22, R-407C, R-410A data), used for R-32 and R-454B too, since it
is dimensionless. Valve: Li, Braun and Shen 2004, flow = rating (2A - A²) sqrt(density (p_up - p_down)).
Other laws: `structure`.
"""

from __future__ import annotations

from math import log, pi, sqrt

from diagnose.properties import liquid_density, refrigerant, saturation_pressure
from diagnose.simulator.fluid import Saturation, mixture_rho, sure
from diagnose.simulator.liquid_line import Here
from diagnose.simulator.model import Faults, Plant

_A = (0.38811, 11.427, -14.194, 1.0703, -0.091928, 21.425, -581.95)
_B = (1.1831, -1.468, -0.15285, -14.639, 9.8401, -0.019798, -1.5348, -2.0533, -17.195)
CRITICAL_PRESSURE = {"R-410A": 4.9012e6, "R-22": 4.99e6, "R-32": 5.782e6, "R-454B": 5.267e6, "R-407C": 4.6317e6}
"""Pa; from CoolProp 8 (R-454B: published 5.27 MPa, from memory)."""


def orifice_flow(
    ref: str,
    diameter: float,
    length: float,
    pressure: float,
    temperature: float,
    quality: float,
    upstream: Saturation,
) -> float:
    """Flow (kg/s) through a short tube; `temperature` of the liquid (K), `quality` at the inlet (0 or less: liquid).

    G = pi1 sqrt(rho_f P_c), pi1 = (a1 + a2 pi3 + a3 pi9 + a4 pi6 + a5 ln pi10)/(1 + a6 pi3 + a7 pi9²) with
    pi3 = (P_up - P_sat)/P_c, pi9 = subcooling/T_c, pi6 = rho_g/rho_f, pi10 = L/D; times C_tp for a wet-vapour inlet.
    """
    P_c, T_c = CRITICAL_PRESSURE[ref], refrigerant(ref).critical_temperature
    T = min(temperature, upstream.bubble)
    P_sat = min(sure(saturation_pressure(ref, "bubble", T)), pressure)
    rho_f = sure(liquid_density(ref, T))
    # vapour density at the liquid's own saturation: scaled from that at the inlet pressure, p/T as in an ideal gas
    rho_g = upstream.vapour_density * (P_sat / upstream.pressure) * (upstream.bubble / T)
    pi3, pi9 = (pressure - P_sat) / P_c, max(upstream.bubble - T, 0.0) / T_c
    pi6, pi10 = rho_g / rho_f, length / diameter
    pi1 = (_A[0] + _A[1] * pi3 + _A[2] * pi9 + _A[3] * pi6 + _A[4] * log(pi10)) / (1.0 + _A[5] * pi3 + _A[6] * pi9**2)
    flow = max(pi1, 0.0) * sqrt(rho_f * P_c) * pi / 4.0 * diameter**2
    if quality > 0.0:
        flow *= two_phase_factor(min(quality, 0.6), pressure, P_c, length / diameter, upstream)
    return flow


def two_phase_factor(x: float, pressure: float, P_c: float, slenderness: float, sat: Saturation) -> float:
    """C_tp of Payne and O'Neal over its own value at x = 0 (0.94 to 1.04, so that flow has no step), at most 1.

    (b1 tp6 + b2 tp6² + b3 ln²tp6 + b4 ln²tp35 + b5 ln²tp32 + b6 ln²tp27)/(1 + b7 tp6 + b8 tp34 + b9 tp28³), tp6 the
    homogeneous density over the liquid's, tp34 = x/(1-x) sqrt(rho_f/rho_g), tp35 = tp32 = (P_c - P_up)/P_c where both
    phases enter at saturation, tp27 = L/D, tp28 = P_up/P_c.
    """
    pressures = (_B[3] + _B[4]) * log(max((P_c - pressure) / P_c, 0.02)) ** 2 + _B[5] * log(slenderness) ** 2
    cubed = _B[8] * (pressure / P_c) ** 3
    tp6 = mixture_rho(x, sat) / sat.liquid_density
    tp34 = x / (1.0 - x) * sqrt(sat.liquid_density / sat.vapour_density)
    here = (_B[0] * tp6 + _B[1] * tp6**2 + _B[2] * log(tp6) ** 2 + pressures) / (
        1.0 + _B[6] * tp6 + _B[7] * tp34 + cubed
    )
    dry = (_B[0] + _B[1] + pressures) / (1.0 + _B[6] + cubed)
    return min(max(here / dry, 0.02), 1.0)


def fixed_flow(machine: Plant, diameter: float, end: Here, upstream: Saturation, low: float) -> float:
    """Flow (kg/s) of an orifice into an evaporator at `low` (Pa), by the machine's own law.

    Open and flashing: 0.6 A sqrt(2 rho (P_up - P)), P the evaporator's pressure (open) or `choking` times that at which
    the liquid boils (flashing), whichever is more; rho homogeneous.
    """
    law, ref = machine.structure.orifice, machine.refrigerant
    if law == "short tube":
        flow = orifice_flow(ref, diameter, machine.orifice_length, end.pressure, end.temperature, end.quality, upstream)
        # a short tube chokes; only where hardly any difference is left does its flow fall to nothing
        return flow * sqrt(min(max((end.pressure - low) / (0.25 * end.pressure), 0.0), 1.0))
    throat = low
    if law == "flashing":
        boils = sure(saturation_pressure(ref, "bubble", min(end.temperature, upstream.bubble)))
        throat = max(low, machine.coefficients.choking * min(boils, end.pressure))
    return 0.6 * pi / 4.0 * diameter**2 * sqrt(2.0 * end.moving * max(end.pressure - throat, 0.0))


def valve_position(
    machine: Plant, faults: Faults, coil_superheat: float, coil_outlet: float, air: float, dew: float = 0.0
) -> float:
    """Opening 0..1 = (superheat at the bulb - static) / range, or where it is stuck.

    A bulb in poor contact takes part of the temperature of the air around it. `dew` (K) is the evaporator's: a bleeding
    valve's static superheat tilts with it.
    """
    law = machine.coefficients
    if faults.valve_opening is not None:
        return min(max(faults.valve_opening, law.bleed), 1.0)
    static = machine.valve_static
    if machine.structure.valve == "bleeding":
        static += min(max(law.tilt * (dew - machine.design_evaporating), -3.0), 3.0)
    bulb = coil_superheat + (1.0 - faults.bulb_contact) * (air - coil_outlet)
    return min(max((bulb - static) / machine.valve_range, law.bleed), 1.0)


def port(machine: Plant, opening: float) -> float:
    """Flow area at an opening, over the rating's: 2A - A², of a small valve A."""
    return opening if machine.structure.valve == "small" else 2.0 * opening - opening**2


def valve_flow(machine: Plant, faults: Faults, opening: float, density: float, drop: float) -> float:
    """Flow (kg/s) of the valve at an opening, inlet density (kg/m3) and pressure drop (Pa)."""
    return (
        machine.valve_rating * faults.metering_size * port(machine, opening) * sqrt(max(density, 1.0) * max(drop, 0.0))
    )
