"""The liquid line: drier, tube, restrictions; liquid may turn to vapor on the way.

Losses go with flow squared over density. Enthalpy changes only by the heat given to the surroundings, so liquid that
falls below its bubble pressure flashes and gets colder: what a hand on a plugged drier feels.
"""

from __future__ import annotations

from math import pi
from typing import NamedTuple

from diagnose.properties import liquid_density, saturation_pressure
from diagnose.simulator.fluid import (
    Saturation,
    liquid_at,
    mean_rho,
    mixture_rho,
    quality_of,
    saturated,
    sure,
    vapour_at,
)
from diagnose.simulator.model import Faults, Plant

FRICTION = 0.02
"""Darcy factor: smooth copper at a Reynolds number near 80 000."""
DRIER_VOLUME = 1.2e-4  # m3 of liquid in the filter drier


class Here(NamedTuple):
    """The refrigerant at one place of the line."""

    pressure: float
    h: float
    temperature: float
    quality: float  # 0 where liquid
    moving: float  # kg/m3 of what flows, for losses
    resting: float  # kg/m3 of what the tube holds
    sat: Saturation | None  # only where it flashes


class LiquidLine(NamedTuple):
    """What arrives at the metering device."""

    end: Here
    after_drier: float  # K
    mass: float  # kg
    heat_loss: float  # W


def here_at(ref: str, pressure: float, h: float, near: float) -> Here:
    """State at a pressure (Pa) and enthalpy (J/kg); `near` is the temperature it would have as liquid."""
    T = near
    boils = saturation_pressure(ref, "bubble", T)
    if boils is not None and pressure >= boils:
        rho = sure(liquid_density(ref, T))
        return Here(pressure, h, T, 0.0, rho, rho, None)
    sat = saturated(ref, pressure)
    x = quality_of(h, sat)
    if x <= 0.0:
        rho = sure(liquid_density(ref, min(T, sat.bubble)))
        return Here(pressure, h, min(T, sat.bubble), 0.0, rho, rho, None)
    return Here(pressure, h, vapour_at(ref, h, sat), x, mixture_rho(x, sat), mean_rho(x, x, sat), sat)


def through(
    machine: Plant,
    faults: Faults,
    flow: float,
    pressure: float,
    h: float,
    liquid_temperature: float,
    floor: float,
) -> LiquidLine:
    """Along the line from the condenser's outlet (Pa, J/kg, K); pressure never below `floor`.

    `liquid_temperature` is the temperature of liquid with enthalpy h, whatever it is now.
    """
    ref = machine.refrigerant
    extra = max(faults.restriction, 0.0) * machine.restriction_unit
    at_drier, at_end = (extra, 0.0) if faults.restriction_at == "drier" else (0.0, extra)
    start = here_at(ref, pressure, h, liquid_temperature)
    p = max(pressure - (machine.drier_loss + at_drier) * flow**2 / start.moving, floor)
    after = here_at(ref, p, h, liquid_temperature)
    area = pi / 4.0 * machine.liquid_bore**2
    tube = FRICTION * machine.liquid_length / machine.liquid_bore / (2.0 * area**2)
    p = max(p - tube * flow**2 / after.moving, floor)
    end = here_at(ref, p, h, liquid_temperature)
    mass = DRIER_VOLUME * start.resting + area * machine.liquid_length * 0.5 * (after.resting + end.resting)
    if at_end > 0.0:
        end = here_at(ref, max(p - at_end * flow**2 / end.moving, floor), h, liquid_temperature)
    return LiquidLine(end, after.temperature, mass, 0.0)


def with_heat(
    machine: Plant, line: LiquidLine, flow: float, surroundings: float, liquid_temperature: float
) -> LiquidLine:
    """The line's end after its small heat exchange: conductance x (temperature after the drier - surroundings)."""
    heat = machine.liquid_conductance * (line.after_drier - surroundings)
    heat = min(max(heat, -0.02 * flow * 2e5), 0.02 * flow * 2e5)  # never more than a fiftieth of the cooling
    h = line.end.h - heat / flow
    near = liquid_at(machine.refrigerant, h, liquid_temperature)
    return LiquidLine(here_at(machine.refrigerant, line.end.pressure, h, near), line.after_drier, line.mass, heat)
