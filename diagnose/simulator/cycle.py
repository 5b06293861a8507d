"""One look round the circuit: from three guesses to everything else, and by how much the three do not yet agree.

The guesses are the dew temperature at the suction valve, the bubble temperature in the condenser, and how far the
suction gas is above saturated vapour (kJ/kg; below 0 it is wet). The disagreements are the evaporator's area, the flow
through the metering device, and the charge. Each part is explicit, so a look costs a fraction of a millisecond.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, isfinite
from typing import NamedTuple

from diagnose.properties import humidity_ratio_from_relative_humidity, saturation_pressure
from diagnose.simulator import condenser, metering
from diagnose.simulator.compressor import Pumped, compress, volumetric_efficiency
from diagnose.simulator.condenser import AIR_EXPONENT, Condensed, condense, partial_pressure
from diagnose.simulator.evaporator import AirState, Evaporated, density, evaporate, heat_capacity
from diagnose.simulator.fluid import (
    Saturation,
    at_temperature,
    hottest_condensing,
    liquid_at,
    mean_rho,
    quality_of,
    saturated,
    sure,
    vapour_at,
    vapour_rho,
)
from diagnose.simulator.liquid_line import LiquidLine, through, with_heat
from diagnose.simulator.model import Faults, Plant, Weather
from diagnose.simulator.newton import Guess

TON = 3516.8528
FAN_BAND, LEAST_FAN = 8.0, 0.25
"""K of condensing temperature over which most of the slowing happens, and the least share of its airflow (judgement)."""


class Surroundings(NamedTuple):
    """What a machine meets, worked out once for a solution."""

    air: AirState
    indoor_flow: float  # m3/s
    outdoor: float  # K
    outdoor_rate: float  # W/K
    outdoor_flow: float  # m3/s
    condenser_air_side: float  # W/K
    lines: float  # K, around the line set: half outdoors, half in the house
    trapped_air: float  # kg of non-condensable gas


def impossible(
    conditions: Weather, faults: Faults, outdoors: tuple[float, float], indoors: tuple[float, float]
) -> str | None:
    """Why these conditions or faults cannot be solved, in words; the temperatures (K) are what a model was made for."""
    if conditions.humidity_ratio is None:
        return "the return air's humidity is missing or impossible"
    sizes = [getattr(faults, name) for name in faults.__slots__ if name != "restriction_at"]
    if not all(size is None or isfinite(size) for size in sizes):
        return "the size of a fault is not a number"
    if faults.restriction > 10.0:
        return "the liquid line is all but blocked: the low-pressure switch opens first"
    if not (outdoors[0] < conditions.outdoor < outdoors[1] and indoors[0] < conditions.return_dry_bulb < indoors[1]):
        return "outdoor or return air is outside what the model was made for"
    if min(faults.indoor_airflow, faults.outdoor_airflow, faults.outdoor_coil, faults.metering_size) < 0.05:
        return "an airflow or an opening is too small to run"
    if not 0.3 <= faults.charge <= 2.0:
        return "the charge is outside 0.3 to 2 of right"
    return None


def surroundings(machine: Plant, conditions: Weather, faults: Faults) -> Surroundings | str:
    """The same, or in words why these conditions cannot be."""
    if problem := impossible(conditions, faults, (273.0, 330.0), (283.0, 315.0)):
        return problem
    water = conditions.humidity_ratio
    assert water is not None
    p = conditions.station_pressure
    volume = machine.airflow * faults.indoor_airflow
    side = machine.evaporator_air * faults.indoor_airflow**AIR_EXPONENT
    air = AirState.of(volume, side, conditions.return_dry_bulb, water, p)
    outdoor_flow = machine.condenser_airflow * faults.outdoor_airflow
    outdoor_water = (
        humidity_ratio_from_relative_humidity(conditions.outdoor, conditions.outdoor_relative_humidity, p) or 0.0
    )
    return Surroundings(
        air,
        volume,
        conditions.outdoor,
        outdoor_flow * density(conditions.outdoor, outdoor_water, p) * heat_capacity(outdoor_water),
        outdoor_flow,
        machine.condenser_conductance * faults.outdoor_airflow**AIR_EXPONENT * faults.outdoor_coil,
        0.5 * (conditions.outdoor + conditions.return_dry_bulb),
        max(faults.non_condensable, 0.0) * machine.right_charge,
    )


class OutdoorAir(NamedTuple):
    """What the condenser gets of it as its fan runs now."""

    running: float  # share of the fan's full airflow
    rate: float  # W/K
    air_side: float  # W/K


def outdoor_air(machine: Plant, around: Surroundings, condensing: float) -> OutdoorAir:
    """The outdoor fan at a condensing temperature (K): free, or slowed (on the mean of its cycles) where that is low."""
    if machine.structure.head == "free":
        return OutdoorAir(1.0, around.outdoor_rate, around.condenser_air_side)
    away = (condensing - machine.coefficients.held_head) / FAN_BAND
    share = LEAST_FAN + (1.0 - LEAST_FAN) / (1.0 + exp(-4.0 * away - 2.0))  # without corners, for the solver's sake
    return OutdoorAir(share, around.outdoor_rate * share, around.condenser_air_side * share**AIR_EXPONENT)


@dataclass(slots=True)
class CycleState:
    """Everything that follows from one guess."""

    suction: Saturation
    evaporator: Saturation
    condensing: Saturation
    discharge: Saturation
    suction_h: float
    coil_outlet_h: float
    outdoors: OutdoorAir
    pumped: Pumped
    condensed: Condensed
    line: LiquidLine
    evaporated: Evaporated
    suction_gain: float
    opening: float
    metered: float
    suction_mass: float
    shell_mass: float

    @property
    def charge(self) -> float:
        """All refrigerant, kg."""
        return self.condensed.mass + self.line.mass + self.evaporated.mass + self.suction_mass + self.shell_mass

    @property
    def subcooling(self) -> float:
        """At the liquid valve as gauge and clamp show it, K; negative where vapour leaves (as if quality were heat)."""
        shown = self.discharge.bubble - self.condensed.outlet_temperature
        return shown if self.condensed.outlet_quality <= 0.0 else shown - 100.0 * self.condensed.outlet_quality

    @property
    def superheat(self) -> float:
        """At the suction valve, K; negative where wet."""
        if self.suction_h >= self.suction.vapour:
            return self.pumped.suction_temperature - self.suction.dew
        return (self.suction_h - self.suction.vapour) / 1000.0


def look(machine: Plant, around: Surroundings, faults: Faults, guess: Guess) -> CycleState:
    """Round the circuit once: compressor, condenser, liquid line, suction line, evaporator, metering device."""
    ref = machine.refrigerant
    evaporating, condensing, excess = guess
    suction = at_temperature(ref, "dew", evaporating)
    inside = at_temperature(ref, "bubble", condensing)
    suction_h = suction.vapour + 1000.0 * excess
    outdoors = outdoor_air(machine, around, condensing)
    discharge, pumped, condensed = _high_side(machine, around, outdoors, faults, suction, inside, suction_h)
    flow = pumped.flow
    suction_rho = vapour_rho(ref, pumped.suction_temperature, suction)
    evaporator = saturated(ref, suction.pressure + machine.low_side_loss * flow**2 / suction_rho)
    gain = machine.suction_conductance * (around.lines - pumped.suction_temperature)
    coil_h = suction_h - gain / flow
    near = condensed.outlet_temperature
    if condensed.outlet_quality > 0.0:
        near = liquid_at(ref, condensed.outlet_h, min(inside.bubble + 5.0, hottest_condensing(ref)))
    line = through(machine, faults, flow, discharge.pressure, condensed.outlet_h, near, evaporator.pressure + 500.0)
    line = with_heat(machine, line, flow, around.lines, near)
    evaporated = evaporate(machine, around.air, flow, line.end.h, coil_h, evaporator)
    opening, metered = _metering(machine, around, faults, line, evaporator, coil_h, evaporated)
    suction_x = quality_of(suction_h, suction)
    held = suction_rho if suction_x >= 1.0 else mean_rho(suction_x, suction_x, suction, machine.structure.void)
    suction_mass = machine.suction_volume * held + caught(machine, suction, excess)
    return CycleState(
        suction,
        evaporator,
        inside,
        discharge,
        suction_h,
        coil_h,
        outdoors,
        pumped,
        condensed,
        line,
        evaporated,
        gain,
        opening,
        metered,
        suction_mass,
        in_shell(machine, suction, discharge, pumped, excess),
    )


def caught(machine: Plant, suction: Saturation, excess: float) -> float:
    """Refrigerant (kg) in the accumulator: gas, and liquid as soon as suction gas is wet (kJ/kg above saturated vapour)."""
    volume = machine.coefficients.catch * machine.nominal_capacity / TON
    if volume <= 0.0:
        return 0.0
    wet = min(max((1.5 - excess) / 10.0, 0.0), 1.0)
    level = 0.7 * wet * wet * (3.0 - 2.0 * wet)
    return volume * (level * suction.liquid_density + (1.0 - level) * suction.vapour_density)


def in_shell(machine: Plant, suction: Saturation, discharge: Saturation, pumped: Pumped, excess: float) -> float:
    """Refrigerant (kg) in the compressor: gas, of a rotary one at the discharge's density; and what its oil dissolves.

    Raoult's law with the oil 18 K above the suction gas, less where the gas is wet: r / (2.6 - 2 r) kg for each kg of oil,
    r the suction pressure over the saturation pressure at the oil's temperature.
    """
    ref = machine.refrigerant
    if machine.structure.compressor == "rotary":
        mass = machine.shell_volume * discharge.vapour_density * 0.85  # superheated
    else:
        mass = machine.shell_volume * vapour_rho(ref, pumped.suction_temperature, suction)
    if machine.structure.surplus == "oil":
        warmer = 18.0 * min(max(1.0 + 0.06 * excess, 0.3), 1.0)
        oil = min(pumped.suction_temperature + warmer, hottest_condensing(ref))
        r = min(suction.pressure / sure(saturation_pressure(ref, "dew", oil)), 1.0)
        mass += machine.coefficients.oil * machine.nominal_capacity / TON * r / (2.6 - 2.0 * r)
    return mass


def _high_side(
    machine: Plant,
    around: Surroundings,
    outdoors: OutdoorAir,
    faults: Faults,
    suction: Saturation,
    inside: Saturation,
    h: float,
) -> tuple[Saturation, Pumped, Condensed]:
    """Compressor and condenser; trapped air adds its partial pressure, which depends on the gas space left to it."""
    discharge = inside
    gas_volume = 0.6 * machine.condenser_volume
    for _ in range(6 if around.trapped_air > 0.0 else 1):
        if around.trapped_air > 0.0:
            added = partial_pressure(around.trapped_air, gas_volume, inside.dew)
            discharge = saturated(machine.refrigerant, inside.pressure + added)
        pumped = compress(machine, faults, h, suction, before_condenser(machine, h, suction, discharge))
        condensed = condense(
            machine,
            outdoors.air_side,
            outdoors.rate,
            around.outdoor,
            pumped.flow,
            pumped.discharge_h,
            inside,
            machine.condenser_conductance,
        )
        gas_volume = condensed.gas_volume
    return discharge, pumped, condensed


def before_condenser(machine: Plant, h: float, suction: Saturation, discharge: Saturation) -> Saturation:
    """What the compressor works against: above the condenser by what muffler, valve and inlet headers lose."""
    if machine.discharge_loss <= 0.0:
        return discharge
    rho = vapour_rho(machine.refrigerant, vapour_at(machine.refrigerant, h, suction), suction)
    ratio = discharge.pressure / suction.pressure
    swept = volumetric_efficiency(ratio, machine.structure.compressor, machine.coefficients.pumping)
    flow = machine.displacement * swept * rho  # within a few percent of what then flows
    added = machine.discharge_loss * flow**2 / discharge.vapour_density
    return saturated(machine.refrigerant, discharge.pressure + added)


def _metering(
    machine: Plant,
    around: Surroundings,
    faults: Faults,
    line: LiquidLine,
    evaporator: Saturation,
    coil_h: float,
    evaporated: Evaporated,
) -> tuple[float, float]:
    """Opening (1 for an orifice) and flow (kg/s) of the metering device."""
    end = line.end
    if machine.metering == "TXV":
        superheat = evaporated.outlet_temperature - evaporator.dew
        if coil_h < evaporator.vapour:
            superheat = (coil_h - evaporator.vapour) / 1000.0
        opening = metering.valve_position(
            machine, faults, superheat, evaporated.outlet_temperature, around.air.dry_bulb, evaporator.dew
        )
        drop = end.pressure - evaporator.pressure
        return opening, metering.valve_flow(machine, faults, opening, end.moving, drop)
    upstream = end.sat or saturated(machine.refrigerant, end.pressure)
    diameter = machine.orifice_diameter * faults.metering_size**0.5
    return 1.0, metering.fixed_flow(machine, diameter, end, upstream, evaporator.pressure)


def standing_pressure(machine: Plant, faults: Faults, charge: float, temperature: float) -> float:
    """Pressure (Pa) of the whole machine, off, at one temperature (K): saturation plus the trapped air's share."""
    ref = machine.refrigerant
    volume = total_volume(machine)
    bubble = sure(saturation_pressure(ref, "bubble", temperature))
    dew = sure(saturation_pressure(ref, "dew", temperature))
    sat = saturated(ref, dew)
    mean = charge / volume
    liquid = (mean - sat.vapour_density) / (sat.liquid_density - sat.vapour_density)
    liquid = min(max(liquid, 0.0), 0.95)
    x = (1.0 - liquid) * sat.vapour_density / mean
    p = bubble + min(max(x, 0.0), 1.0) * (dew - bubble)
    return p + condenser.partial_pressure(
        max(faults.non_condensable, 0.0) * machine.right_charge, volume * (1.0 - liquid), temperature
    )


def total_volume(machine: Plant) -> float:
    """All the space refrigerant can fill, m3."""
    line = 0.25 * 3.141592653589793 * machine.liquid_bore**2 * machine.liquid_length
    own = machine.coefficients
    more = own.header * machine.condenser_volume + own.catch * machine.nominal_capacity / TON
    return (
        machine.condenser_volume
        + machine.evaporator_volume
        + machine.suction_volume
        + machine.shell_volume
        + line
        + more
    )
