"""Sizes a machine so that it is right at AHRI 210/240 A conditions: 95 °F outdoors, 80/67 °F indoors.

By class (SEER) come the condensing and evaporating temperatures, the airflows, and the compressor's efficiency; the
coils' conductances, the orifice, the valve and the charge then follow from the parts' own equations.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import exp, log, pi

from diagnose.properties import EVAPORATOR_BELOW_DEW, liquid_density, liquid_enthalpy
from diagnose.simulator import condenser, evaporator, metering
from diagnose.simulator.compressor import compress, volumetric_efficiency
from diagnose.simulator.cycle import before_condenser, surroundings
from diagnose.simulator.fluid import Saturation, at_temperature, saturated, sure, vapour_at, vapour_h, vapour_rho
from diagnose.simulator.liquid_line import through, with_heat
from diagnose.simulator.model import (
    HEALTHY,
    PLAIN,
    REFRIGERANTS,
    USUAL,
    Coefficients,
    Device,
    NoSolution,
    Plant,
    State,
    Structure,
    Weather,
)
from diagnose.simulator.newton import root
from diagnose.simulator.solver import solve, solve_for

TON = 3516.8528
CFM = 0.3048**3 / 60.0
FOOT, INCH = 0.3048, 0.0254
F = 5.0 / 9.0


def fahrenheit(value: float) -> float:
    """°F to K."""
    return (value + 459.67) / 1.8


AHRI_A = Weather(fahrenheit(95.0), fahrenheit(80.0), fahrenheit(67.0))

# SEER: condensing over outdoor air (°F), outdoor airflow (cfm/ton), best compressor efficiency, blower (W/ton; AHRI's
# default is 365 W for 1000 cfm), evaporating temperature (°F). 30, 25, 20, 15 °F for 10, 12, 13, 14 and up are the
# trade's usual figures; laboratory machines lie between. Airflows such that the air can carry the heat.
_SEER = (10.0, 12.0, 13.0, 14.0, 18.0)
_CONDENSING = (29.0, 25.0, 21.0, 18.0, 15.0)
_OUTDOOR_AIR = (750.0, 830.0, 920.0, 1000.0, 1200.0)
_EFFICIENCY = (0.62, 0.66, 0.68, 0.70, 0.75)
_INDOOR_FAN = (146.0, 135.0, 130.0, 110.0, 80.0)
_EVAPORATING = (44.5, 45.5, 46.5, 47.5, 49.5)
# Both are means over the coil. With glide a condenser's lies midway between bubble and dew temperature.


@dataclass(frozen=True, slots=True)
class Scatter:
    """What one machine has more or less of than its kind (factors), and its blower's setting."""

    condenser: float = 1.0
    evaporator: float = 1.0
    displacement: float = 1.0
    efficiency: float = 1.0
    volumes: float = 1.0
    metering: float = 1.0
    line_length: float = 1.0
    airflow_per_ton: float = 400.0  # cfm/ton
    fan: float = 1.0
    valve_superheat: float = 0.0  # K the spring is set above its kind


def between(x: float, xs: tuple[float, ...], ys: tuple[float, ...]) -> float:
    """Linear interpolation, held at the ends."""
    if x <= xs[0]:
        return ys[0]
    for a, b, p, q in zip(xs, xs[1:], ys, ys[1:], strict=False):
        if x <= b:
            return p + (q - p) * (x - a) / (b - a)
    return ys[-1]


def design(
    refrigerant: str = "R-410A",
    metering_device: Device = "TXV",
    capacity: float = 3.0 * TON,
    seer: float = 14.0,
    subcooling: float = 10.0 * F,
    superheat: float | None = None,
    scatter: Scatter | None = None,
    line_length: float = 25.0 * FOOT,
) -> Plant:
    """A machine of a kind, W and SEER; then, with `scatter`, one individual of it, charged right for what it is.

    Right charge is what gives the design subcooling (TXV) or the design superheat (orifice: 12 °F at these conditions)
    at AHRI A. `superheat` (K) is at the suction valve: a valve machine's default is 16 °F.
    Raises ValueError for an unknown refrigerant or device, or a machine that cannot be built.
    """
    machine = charged_right(
        built(refrigerant, metering_device, capacity, seer, subcooling, superheat, scatter, line_length)
    )
    found = solve(machine, AHRI_A)
    if isinstance(found, NoSolution):
        raise ValueError(f"the machine does not run at its design point: {found.reason}")
    return plated(machine, found)


def built(
    refrigerant: str,
    metering_device: Device,
    capacity: float,
    seer: float,
    subcooling: float,
    superheat: float | None = None,
    scatter: Scatter | None = None,
    line_length: float = 25.0 * FOOT,
    structure: Structure = PLAIN,
    coefficients: Coefficients = USUAL,
) -> Plant:
    """The same of any structure, not yet charged and without the current on its plate."""
    if refrigerant not in REFRIGERANTS or metering_device not in ("TXV", "fixed orifice"):
        raise ValueError(f"no such machine: {refrigerant}, {metering_device}")
    if not (0.5 * TON <= capacity <= 10 * TON and 8.0 <= seer <= 22.0):
        raise ValueError("capacity or SEER outside what the model was made for")
    if superheat is None:
        superheat = (16.0 if metering_device == "TXV" else 12.0) * F
    machine = _kind(
        refrigerant, metering_device, capacity, seer, subcooling, superheat, line_length, structure, coefficients
    )
    return machine if scatter is None else _individual(machine, scatter)


def plated(machine: Plant, at_design: State) -> Plant:
    """With the current of its plate: 15 % above that at AHRI A."""
    return replace(machine, rated_current=at_design.current * 1.15)


def charged_right(machine: Plant, day: Weather = AHRI_A, superheat: float | None = None) -> Plant:
    """The machine with the charge that makes its design subcooling (TXV) or superheat (orifice) on a day.

    `superheat` (K) is what the chart asks of an orifice machine that day; without it the design's own.
    """
    if machine.metering == "TXV":
        found = solve_for(machine, day, HEALTHY, "subcooling", machine.design_subcooling)
    else:
        found = solve_for(machine, day, HEALTHY, "superheat", superheat or machine.design_superheat)
    if isinstance(found, NoSolution):
        raise ValueError(f"no charge makes this machine right: {found.reason}")
    return replace(machine, right_charge=found.charge.total)


def _individual(kind: Plant, s: Scatter) -> Plant:
    """Scatter about the kind; orifice, valve and plate values stay the kind's."""
    tons = kind.nominal_capacity / TON
    airflow = s.airflow_per_ton * CFM * tons
    return replace(
        kind,
        condenser_conductance=kind.condenser_conductance * s.condenser,
        condenser_volume=kind.condenser_volume * s.volumes,
        evaporator_air=kind.evaporator_air * s.evaporator * (airflow / kind.airflow) ** condenser.AIR_EXPONENT,
        evaporator_refrigerant=kind.evaporator_refrigerant * s.evaporator,
        evaporator_volume=kind.evaporator_volume * s.volumes,
        airflow=airflow,
        indoor_fan=kind.indoor_fan * s.fan * airflow / kind.airflow,
        displacement=kind.displacement * s.displacement,
        efficiency=min(kind.efficiency * s.efficiency, 0.80),
        orifice_diameter=kind.orifice_diameter * s.metering**0.5,
        valve_rating=kind.valve_rating * s.metering,
        valve_static=max(kind.valve_static + s.valve_superheat, 0.5),
        liquid_length=kind.liquid_length * s.line_length,
        suction_volume=kind.suction_volume * s.line_length,
        suction_conductance=kind.suction_conductance * s.line_length,
    )


def _kind(
    ref: str, device: Device, capacity: float, seer: float, subcooling: float, superheat: float, length: float,
    structure: Structure, own: Coefficients,
) -> Plant:  # fmt: skip
    tons = capacity / TON
    # Longer lines lower the pressure at the suction valve; the coil stays as warm as it is.
    T_e = fahrenheit(between(seer, _SEER, _EVAPORATING)) - (own.suction_kelvin - USUAL.suction_kelvin)
    T_e += EVAPORATOR_BELOW_DEW * _glide(ref, "dew", T_e)
    over = between(seer, _SEER, _CONDENSING) * F
    over -= 0.5 * _glide(ref, "bubble", AHRI_A.outdoor + over)
    suction, hot = at_temperature(ref, "dew", T_e), at_temperature(ref, "bubble", AHRI_A.outdoor + over)
    airflow, fan = 400.0 * CFM * tons, between(seer, _SEER, _INDOOR_FAN) * tons
    # refrigerant states round the circuit
    T_1 = T_e + superheat
    h_1 = vapour_h(ref, T_1, suction)
    h_3 = sure(liquid_enthalpy(ref, hot.bubble - subcooling))
    coil = at_temperature(ref, "dew", T_e + own.suction_kelvin)  # the usual 1.2 K is what these losses are worth
    before = at_temperature(ref, "bubble", hot.bubble + own.discharge_kelvin)
    # 3/4 to 7/8 in tube in 3/8 in foam: 0.35 W/(m K); the bare liquid line in still air about as much
    suction_ua, liquid_ua = 0.4 * length, 0.3 * length
    lines = 0.5 * (AHRI_A.outdoor + AHRI_A.return_dry_bulb)
    gain = suction_ua * (lines - T_1)
    loss = liquid_ua * (hot.bubble - subcooling - lines)
    gross = capacity + fan
    flow = (gross + gain - loss) / (h_1 - h_3)  # gross = flow (h_coil - h_in), h_coil = h_1 - gain/flow
    rho_1 = vapour_rho(ref, T_1, suction)
    rho_3 = sure(liquid_density(ref, hot.bubble - subcooling))
    ratio = hot.pressure / suction.pressure
    bore = 0.311 * INCH if tons <= 3.6 else 0.436 * INCH
    efficiency = between(seer, _SEER, _EFFICIENCY)
    draft = Plant(
        refrigerant=ref,
        metering=device,
        nominal_capacity=capacity,
        seer=seer,
        displacement=flow / rho_1 / volumetric_efficiency(ratio, structure.compressor, own.pumping),
        efficiency=efficiency,
        shell_loss=own.shell_loss,
        shell_volume=1.2e-3 * tons,
        condenser_conductance=1.0,
        condenser_airflow=between(seer, _SEER, _OUTDOOR_AIR) * CFM * tons,
        condenser_volume=(0.95 + 0.08 * (seer - 10.0)) * 1e-3 * tons,
        outdoor_fan=70.0 * tons,
        evaporator_air=1.0,
        evaporator_refrigerant=1.0,
        airflow=airflow,
        evaporator_volume=(0.60 + 0.03 * (seer - 10.0)) * 1e-3 * tons,
        indoor_fan=fan,
        low_side_loss=(coil.pressure - suction.pressure) * rho_1 / flow**2,
        drier_loss=8e3 * rho_3 / flow**2,
        restriction_unit=(hot.pressure - coil.pressure) * rho_3 / flow**2,
        liquid_bore=bore,
        liquid_length=length,
        liquid_conductance=liquid_ua,
        suction_conductance=suction_ua,
        suction_volume=pi / 4.0 * ((0.68 + 0.06 * tons) * INCH) ** 2 * length,
        orifice_diameter=1.5e-3,
        orifice_length=0.5 * INCH,
        valve_rating=1.0,
        valve_static=3.8,
        valve_range=own.valve_range,
        design_flow=flow,
        design_subcooling=subcooling,
        design_superheat=superheat,
        design_condensing=over,
        design_evaporating=T_e,
        rated_current=1.0,
        right_charge=1.0,
        structure=structure,
        coefficients=own,
        discharge_loss=(before.pressure - hot.pressure) * hot.vapour_density / flow**2,
    )
    return _sized(draft, gain, suction_h=h_1)


def _glide(ref: str, line: str, temperature: float) -> float:
    """K between bubble and dew temperature at the pressure where one of them is `temperature`."""
    found = at_temperature(ref, line, temperature)
    return found.dew - found.bubble


def _sized(draft: Plant, gain: float, suction_h: float) -> Plant:
    """Coils, orifice and valve such that the draft's design point is its steady state."""
    ref, flow = draft.refrigerant, draft.design_flow
    around = surroundings(draft, AHRI_A, HEALTHY)
    assert not isinstance(around, str)
    suction = at_temperature(ref, "dew", draft.design_evaporating)
    hot = at_temperature(ref, "bubble", AHRI_A.outdoor + draft.design_condensing)
    discharge_h = compress(
        draft, HEALTHY, suction_h, suction, before_condenser(draft, suction_h, suction, hot)
    ).discharge_h

    def leaving(conductance: float) -> float:
        made = condenser.condense(
            draft, conductance, around.outdoor_rate, around.outdoor, flow, discharge_h, hot, conductance
        )
        return made.outlet_temperature - (0.0 if made.outlet_quality <= 0.0 else -1e3 * made.outlet_quality)

    conductance = _passes(
        lambda ua: hot.bubble - draft.design_subcooling - leaving(ua),
        0.2 * around.outdoor_rate,
        8 * around.outdoor_rate,
    )
    T_3 = hot.bubble - draft.design_subcooling
    line = through(draft, HEALTHY, flow, hot.pressure, sure(liquid_enthalpy(ref, T_3)), T_3, suction.pressure)
    line = with_heat(draft, line, flow, around.lines, T_3)
    rho = vapour_rho(ref, draft.design_evaporating + draft.design_superheat, suction)
    coil = saturated(ref, suction.pressure + draft.low_side_loss * flow**2 / rho)
    coil_h = suction_h - gain / flow
    untouched = between(draft.seer, (10.0, 18.0), (0.22, 0.16))  # bypass factor of the coil
    air_side = -around.air.capacity_rate * log(untouched)
    sized = replace(draft, condenser_conductance=conductance, evaporator_air=air_side)
    sized = replace(sized, evaporator_refrigerant=_boiling_side(sized, line.end.h, coil_h, coil))
    T_coil, opening = vapour_at(ref, coil_h, coil), draft.coefficients.opening
    sized = replace(sized, valve_static=max(T_coil - coil.dew - opening * draft.valve_range, 1.0))
    full = metering.valve_flow(sized, HEALTHY, opening, line.end.moving, line.end.pressure - coil.pressure)
    upstream = saturated(ref, line.end.pressure)

    def passed(diameter: float) -> float:
        return metering.fixed_flow(draft, diameter, line.end, upstream, coil.pressure)

    diameter = _passes(lambda d: passed(d) - flow, 0.4e-3, 5e-3)
    return replace(sized, valve_rating=flow / full, orifice_diameter=diameter)


def _boiling_side(machine: Plant, h_in: float, h_out: float, coil: Saturation) -> float:
    """Conductance (W/K) from surface to refrigerant that makes the coil just large enough."""
    around = surroundings(machine, AHRI_A, HEALTHY)
    assert not isinstance(around, str)

    def lack(log_conductance: float) -> float:
        tried = replace(machine, evaporator_refrigerant=exp(log_conductance))
        return -evaporator.evaporate(tried, around.air, machine.design_flow, h_in, h_out, coil).excess

    rate = around.air.capacity_rate
    return exp(_passes(lack, log(0.05 * rate), log(100.0 * rate)))


def _passes(rising: Callable[[float], float], low: float, high: float) -> float:
    """Where a rising function passes 0; ValueError where it does not."""
    if rising(low) > 0.0 or rising(high) < 0.0:
        raise ValueError("a machine of this kind cannot be built")
    return root(rising, low, high, 1e-13, narrow=0.0)
