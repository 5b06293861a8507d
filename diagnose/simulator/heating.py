"""One look round the circuit of a heat pump in heating: as `cycle` has it for cooling, with the coils exchanged.

The way of the refrigerant: compressor, reversing valve, vapour line, indoor coil, bypass round the indoor device, liquid
line, liquid service valve, drier, outdoor device, outdoor coil, reversing valve, accumulator, compressor. The guesses are the
dew temperature at the common suction port, the bubble temperature in the indoor coil, and how far the suction gas at that port
is above saturated vapour (kJ/kg).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from diagnose.properties import humidity_ratio_from_relative_humidity, liquid_enthalpy
from diagnose.simulator import metering
from diagnose.simulator.compressor import Pumped, compress
from diagnose.simulator.condenser import AIR_EXPONENT, Condensed, condense, partial_pressure
from diagnose.simulator.cycle import caught, impossible, in_shell
from diagnose.simulator.evaporator import AirState, Evaporated, density, evaporate, heat_capacity
from diagnose.simulator.fluid import (
    COLDEST,
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
from diagnose.simulator.heat_pump import HeatPump
from diagnose.simulator.liquid_line import DRIER_VOLUME, FRICTION, Here, here_at
from diagnose.simulator.model import Faults, Plant, Weather
from diagnose.simulator.newton import Guess

PI = 3.141592653589793
COMPARTMENT = 5.0
"""K: the air around a loose bulb, in the compressor's compartment, above outdoor air (judgement)."""


class HeatingAir(NamedTuple):
    """What a heat pump meets in heating, worked out once for a solution."""

    outdoors: AirState
    return_air: float  # K
    indoor_rate: float  # W/K
    indoor_side: float  # W/K, air side of the indoor coil
    indoor_flow: float  # m3/s
    outdoor_flow: float  # m3/s
    lines: float  # K, around the line set: half outdoors, half in the house
    trapped_air: float  # kg of non-condensable gas


def heating_air(pump: HeatPump, conditions: Weather, faults: Faults) -> HeatingAir | str:
    """The same, or in words why these conditions cannot be."""
    if problem := impossible(conditions, faults, (245.0, 297.0), (280.0, 303.0)):
        return problem
    water = conditions.humidity_ratio
    assert water is not None
    machine, p = pump.turned, conditions.station_pressure
    outside = humidity_ratio_from_relative_humidity(conditions.outdoor, conditions.outdoor_relative_humidity, p)
    if outside is None:
        return "the outdoor air's humidity is impossible"
    blown = machine.airflow * faults.outdoor_airflow
    side = machine.evaporator_air * faults.outdoor_airflow**AIR_EXPONENT * faults.outdoor_coil
    outdoors = AirState.of(blown, side, conditions.outdoor, outside, p)
    volume = pump.airflow * faults.indoor_airflow
    return HeatingAir(
        outdoors,
        conditions.return_dry_bulb,
        volume * density(conditions.return_dry_bulb, water, p) * heat_capacity(water),
        machine.condenser_conductance * faults.indoor_airflow**AIR_EXPONENT,
        volume,
        blown,
        0.5 * (conditions.outdoor + conditions.return_dry_bulb),
        max(faults.non_condensable, 0.0) * pump.right_charge,
    )


class LiquidWay(NamedTuple):
    """The liquid from the indoor coil to the outdoor device."""

    port: Here  # at the liquid service valve
    end: Here  # at the device
    mass: float  # kg
    heat_loss: float  # W


def liquid_way(
    machine: Plant,
    faults: Faults,
    flow: float,
    pressure: float,
    h: float,
    near: float,
    surroundings: float,
    floor: float,
) -> LiquidWay:
    """From the indoor coil's outlet (Pa, J/kg; `near`: K, of liquid with that enthalpy) to the outdoor device.

    A restriction "line end" is indoors, ahead of the port; one of the "drier" is outdoors, behind it.
    """
    ref = machine.refrigerant
    extra = max(faults.restriction, 0.0) * machine.restriction_unit
    indoors, outdoors = (0.0, extra) if faults.restriction_at == "drier" else (extra, 0.0)
    start = here_at(ref, pressure, h, near)
    area = PI / 4.0 * machine.liquid_bore**2
    tube = FRICTION * machine.liquid_length / machine.liquid_bore / (2.0 * area**2)
    after = here_at(ref, max(pressure - indoors * flow**2 / start.moving, floor), h, near) if indoors else start
    heat = machine.liquid_conductance * (after.temperature - surroundings)
    h_port = h - heat / flow
    per_kelvin = 0.5 * (sure(liquid_enthalpy(ref, near)) - sure(liquid_enthalpy(ref, near - 2.0)))
    cooler = max(near - heat / flow / per_kelvin, COLDEST)
    port = here_at(ref, max(after.pressure - tube * flow**2 / after.moving, floor), h_port, cooler)
    end = here_at(
        ref, max(port.pressure - (machine.drier_loss + outdoors) * flow**2 / port.moving, floor), h_port, cooler
    )
    mass = DRIER_VOLUME * port.resting + area * machine.liquid_length * 0.5 * (after.resting + port.resting)
    return LiquidWay(port, end, mass, heat)


class HighSide(NamedTuple):
    """From the compressor to the indoor coil."""

    discharge: Saturation  # at the compressor and at the vapour service valve
    coil_pressure: float  # Pa, all of it, in the indoor coil
    pumped: Pumped
    flow: float  # kg/s through the coils
    leaked: float  # kg/s through the reversing valve
    valve_heat: float  # W through its body
    discharge_temperature: float  # K
    vapour_temperature: float  # K, in the vapour line at its service valve
    line_loss: float  # W of the vapour line
    condensed: Condensed


@dataclass(slots=True)
class HeatingCycle:
    """Everything that follows from one guess."""

    suction: Saturation  # at the common suction port
    evaporator: Saturation
    condensing: Saturation  # the refrigerant's own, in the indoor coil
    high: HighSide
    suction_h: float
    tube_h: float  # J/kg, from the outdoor coil, ahead of the reversing valve
    liquid: LiquidWay
    evaporated: Evaporated
    opening: float
    metered: float
    suction_mass: float
    vapour_mass: float
    shell_mass: float

    @property
    def charge(self) -> float:
        """All refrigerant, kg."""
        return (
            self.high.condensed.mass
            + self.liquid.mass
            + self.evaporated.mass
            + self.suction_mass
            + self.vapour_mass
            + self.shell_mass
        )


def look(pump: HeatPump, around: HeatingAir, faults: Faults, guess: Guess, sizing: bool = False) -> HeatingCycle:
    """Round the circuit once. sizing: the outdoor device passes what comes, whatever its size."""
    machine = pump.turned
    ref = machine.refrigerant
    evaporating, condensing, excess = guess
    suction = at_temperature(ref, "dew", evaporating)
    inside = at_temperature(ref, "bubble", condensing)
    suction_h = suction.vapour + 1000.0 * excess
    high = _high_side(pump, around, faults, suction, inside, suction_h)
    pumped, flow = high.pumped, high.flow
    suction_rho = vapour_rho(ref, pumped.suction_temperature, suction)
    evaporator = saturated(ref, suction.pressure + machine.low_side_loss * flow**2 / suction_rho)
    tube_h = (pumped.flow * suction_h - high.leaked * pumped.discharge_h - high.valve_heat) / flow
    near = high.condensed.outlet_temperature
    if high.condensed.outlet_quality > 0.0:
        near = liquid_at(ref, high.condensed.outlet_h, min(inside.bubble + 5.0, hottest_condensing(ref)))
    liquid = liquid_way(
        machine,
        faults,
        flow,
        high.coil_pressure,
        high.condensed.outlet_h,
        near,
        around.lines,
        evaporator.pressure + 500.0,
    )
    evaporated = evaporate(machine, around.outdoors, flow, liquid.end.h, tube_h, evaporator)
    opening, metered = 1.0, flow
    if not sizing:
        felt = felt_superheat(pump, suction, suction_h, evaporator, tube_h, evaporated.outlet_temperature)
        opening, metered = _metering(pump, around, faults, liquid.end, evaporator, felt, evaporated.outlet_temperature)
    suction_x = quality_of(suction_h, suction)
    held = suction_rho if suction_x >= 1.0 else mean_rho(suction_x, suction_x, suction, machine.structure.void)
    short = 0.2 * machine.suction_volume  # between outdoor coil and compressor; the rest is the vapour line
    return HeatingCycle(
        suction,
        evaporator,
        inside,
        high,
        suction_h,
        tube_h,
        liquid,
        evaporated,
        opening,
        metered,
        short * held + caught(machine, suction, excess),
        machine.suction_volume * vapour_rho(ref, high.vapour_temperature, high.discharge),
        in_shell(machine, suction, high.discharge, pumped, excess),
    )


def _high_side(
    pump: HeatPump, around: HeatingAir, faults: Faults, suction: Saturation, inside: Saturation, suction_h: float
) -> HighSide:
    """Compressor, reversing valve, vapour line and indoor coil; trapped air adds its partial pressure there."""
    machine, ref = pump.turned, pump.refrigerant
    leak = min(pump.sound_leakage + max(faults.reversing_leakage, 0.0), 0.9)
    coil_pressure, gas_volume = inside.pressure, 0.6 * machine.condenser_volume
    swept = machine.displacement * 0.9 * suction.vapour_density * (1.0 - leak)  # within some percent of what then flows
    line_drop = machine.discharge_loss * swept**2 / inside.vapour_density
    for _ in range(3 if around.trapped_air > 0.0 else 1):
        if around.trapped_air > 0.0:
            coil_pressure = inside.pressure + partial_pressure(around.trapped_air, gas_volume, inside.dew)
        discharge = saturated(ref, coil_pressure + line_drop)
        pumped = compress(machine, faults, suction_h, suction, discharge)
        leaked = leak * pumped.flow
        flow = pumped.flow - leaked
        hot = vapour_at(ref, pumped.discharge_h, discharge)
        valve_heat = (
            pump.valve_conductance * (flow / pump.design_flow) ** 0.8 * max(hot - pumped.suction_temperature, 0.0)
        )
        after = pumped.discharge_h - valve_heat / flow
        in_line = vapour_at(ref, after, discharge)
        line_loss = machine.suction_conductance * max(in_line - around.lines, 0.0)
        condensed = condense(
            machine,
            around.indoor_side,
            around.indoor_rate,
            around.return_air,
            flow,
            after - line_loss / flow,
            inside,
            machine.condenser_conductance,
        )
        gas_volume = condensed.gas_volume
    return HighSide(discharge, coil_pressure, pumped, flow, leaked, valve_heat, hot, in_line, line_loss, condensed)


def felt_superheat(
    pump: HeatPump, suction: Saturation, suction_h: float, evaporator: Saturation, tube_h: float, coil_outlet: float
) -> float:
    """Superheat (K) where the machine's bulb or sensors sit; below 0, kJ/kg, where it is wet."""
    if pump.bulb == "coil":
        return coil_outlet - evaporator.dew if tube_h >= evaporator.vapour else (tube_h - evaporator.vapour) / 1000.0
    if suction_h < suction.vapour:
        return (suction_h - suction.vapour) / 1000.0
    return vapour_at(pump.refrigerant, suction_h, suction) - suction.dew


def _metering(
    pump: HeatPump,
    around: HeatingAir,
    faults: Faults,
    end: Here,
    evaporator: Saturation,
    felt: float,
    coil_outlet: float,
) -> tuple[float, float]:
    """Opening (1 for an orifice) of the outdoor device, and its flow with that of a leaking bypass (kg/s)."""
    machine = pump.turned
    drop = max(end.pressure - evaporator.pressure, 0.0)
    past = faults.check_leakage * pump.check_rating * (max(end.moving, 1.0) * drop) ** 0.5
    if machine.metering == "TXV":
        warm = around.outdoors.dry_bulb + COMPARTMENT
        opening = metering.valve_position(machine, faults, felt, coil_outlet, warm, evaporator.dew)
        return opening, past + metering.valve_flow(machine, faults, opening, end.moving, drop)
    upstream = end.sat or saturated(machine.refrigerant, end.pressure)
    diameter = machine.orifice_diameter * faults.metering_size**0.5
    return 1.0, past + metering.fixed_flow(machine, diameter, end, upstream, evaporator.pressure)
