"""The steady state of a machine that cools."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf
from typing import Literal

from diagnose.simulator.compressor import current
from diagnose.simulator.cycle import CycleState, Surroundings, before_condenser, look, standing_pressure, surroundings
from diagnose.simulator.evaporator import water_for
from diagnose.simulator.fluid import (
    COLDEST,
    LARGEST_SUPERHEAT,
    OutsideTableError,
    hottest_condensing,
    pressure_range,
    quality_of,
    vapour_at,
)
from diagnose.simulator.model import HEALTHY, ChargeInventory, Faults, NoSolution, Plant, State, Weather
from diagnose.simulator.newton import (
    CLOSED,
    MOST_LOOKS,
    WORST,
    Guess,
    Jacobian,
    Residuals,
    TooManyLooksError,
    bracketing,
    newton_from_several,
)

Aim = Literal["charge", "subcooling", "superheat"]


@dataclass
class OperatingPoint:
    """One case, with its bounds and a count of the work done."""

    machine: Plant
    around: Surroundings
    faults: Faults
    aim: Aim
    wanted: float
    low: Guess = (0.0, 0.0, 0.0)
    high: Guess = (0.0, 0.0, 0.0)
    closed: float = CLOSED
    jacobian: Jacobian | None = None
    looks: int = 0
    last: CycleState | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        self.low = (COLDEST + 1.0, self.around.outdoor + 0.3, -110.0)
        top = hottest_condensing(self.machine.refrigerant)
        self.high = (self.around.air.dry_bulb + 3.0, max(top, self.low[1] + 0.1), 45.0)

    def at(self, guess: Guess) -> Residuals:
        """Disagreements of a guess: coil, metering flow, and the aim."""
        if self.looks >= MOST_LOOKS:
            raise TooManyLooksError
        self.looks += 1
        try:
            seen = look(self.machine, self.around, self.faults, guess)
        except (OutsideTableError, ValueError, ZeroDivisionError, OverflowError):
            self.last = None
            return WORST
        self.last = seen
        coil = seen.evaporated.excess
        flow = (seen.metered - seen.pumped.flow) / self.machine.design_flow
        if self.aim == "charge":
            third = seen.charge / self.wanted - 1.0
        elif self.aim == "subcooling":
            third = (seen.subcooling - self.wanted) / 20.0
        else:
            third = (self.wanted - seen.superheat) / 20.0
        return coil, flow, third

    def starts(self) -> list[Guess]:
        """Guesses: a healthy machine in this weather, a starved one, a flooded one, one flooded and hot, two all but empty."""
        machine, around = self.machine, self.around
        evaporating = (
            machine.design_evaporating + 0.35 * (around.outdoor - 308.15) + 0.5 * (around.air.dew_point - 287.5)
        )
        evaporating = min(evaporating, around.air.dry_bulb - 6.0)
        condensing = around.outdoor + machine.design_condensing
        excess = machine.design_superheat
        return [
            (evaporating, condensing, excess),
            (evaporating - 12.0, condensing - 4.0, 18.0),
            (evaporating + 3.0, condensing + 8.0, -4.0),
            (evaporating + 5.0, condensing + 18.0, -12.0),
            (evaporating - 6.0, condensing, 30.0),
            (evaporating, condensing, 30.0),
        ]


def solve(machine: Plant, conditions: Weather, faults: Faults = HEALTHY) -> State | NoSolution:
    """The steady state of a machine with its charge (`faults.charge` x right charge) in some weather.

    Never raises on numbers; a `NoSolution` says why there is none. At most `MOST_LOOKS` looks round the circuit.
    """
    return solve_for(machine, conditions, faults, "charge", machine.right_charge * faults.charge)


def solve_for(machine: Plant, conditions: Weather, faults: Faults, aim: Aim, wanted: float) -> State | NoSolution:
    """The same, or with whatever charge gives a subcooling or a superheat (K): how a technician charges a machine."""
    try:
        around = surroundings(machine, conditions, faults)
    except OutsideTableError:
        around = "the air is outside the tables"
    if isinstance(around, str):
        return NoSolution(around)
    problem = OperatingPoint(machine, around, faults, aim, wanted)
    try:
        guess = newton_from_several(problem) or bracketing(problem)
        residuals = problem.at(guess)
    except TooManyLooksError:
        return NoSolution("no steady state found within the bound on work", problem.looks)
    seen = problem.last
    if seen is None:
        return NoSolution("the refrigerant's state lies outside its tables", problem.looks)
    refused = _refused(problem, guess, seen, residuals)
    return NoSolution(refused, problem.looks) if refused else _state(problem, seen, conditions)


def _refused(problem: OperatingPoint, guess: Guess, seen: CycleState, residuals: Residuals) -> str | None:
    """Why the answer is none, if so."""
    machine = problem.machine
    if guess[1] > problem.high[1] - 0.05 or seen.discharge.pressure > 0.9999 * pressure_range(machine.refrigerant)[1]:
        return "the condensing pressure would pass the top of the table: the high-pressure switch opens first"
    if guess[0] < problem.low[0] + 0.05:
        return "the suction pressure would fall below the table: the low-pressure switch opens first"
    if max(map(abs, residuals)) > 2e-4:
        return "flow, coil and charge do not come to agree"
    hot = seen.discharge.dew + LARGEST_SUPERHEAT + 30.0
    if _discharge_temperature(machine, seen) > hot:
        return "the discharge gas would be so hot that the compressor's overload opens first"
    return None


# --- the answer -----------------------------------------------------------------------------------


def _discharge_temperature(machine: Plant, seen: CycleState) -> float:
    out = before_condenser(machine, seen.suction_h, seen.suction, seen.discharge)
    return vapour_at(machine.refrigerant, seen.pumped.discharge_h, out)


def _state(problem: OperatingPoint, seen: CycleState, conditions: Weather) -> State:
    machine, around, faults = problem.machine, problem.around, problem.faults
    flow, air = seen.pumped.flow, around.air
    capacity = flow * (seen.coil_outlet_h - seen.line.end.h)
    heat, sensible = seen.evaporated.heat, seen.evaporated.sensible
    coil_air = air.dry_bulb - sensible / air.capacity_rate
    water = water_for(coil_air, air.enthalpy - heat / air.flow)
    indoor_fan = machine.indoor_fan * faults.indoor_airflow
    outdoor_fan = machine.outdoor_fan * seen.outdoors.running
    condenser_heat = flow * (seen.pumped.discharge_h - seen.condensed.outlet_h)
    dry = seen.suction_h >= seen.suction.vapour
    left = seen.condensed.outlet_temperature
    warmest = (
        left if seen.condensed.outlet_quality > 0.0 else inf
    )  # vapor that trapped air carries along does not condense
    return State(
        suction_pressure=seen.suction.pressure,
        evaporator_pressure=seen.evaporator.pressure,
        liquid_pressure=seen.discharge.pressure,
        condensing=seen.condensing.dew,
        condensing_apparent=seen.discharge.bubble,
        evaporating=seen.suction.dew,
        suction_temperature=seen.pumped.suction_temperature,
        liquid_temperature=left,
        discharge_temperature=_discharge_temperature(machine, seen),
        coil_outlet_temperature=seen.evaporated.outlet_temperature,
        drier_outlet_temperature=min(seen.line.after_drier, warmest),
        metering_inlet_temperature=min(seen.line.end.temperature, warmest),
        metering_inlet_pressure=seen.line.end.pressure,
        superheat=max(seen.pumped.suction_temperature - seen.suction.dew, 0.0) if dry else 0.0,
        subcooling=max(seen.discharge.bubble - seen.condensed.outlet_temperature, 0.0),
        suction_quality=quality_of(seen.suction_h, seen.suction),
        condenser_outlet_quality=seen.condensed.outlet_quality,
        metering_inlet_quality=seen.line.end.quality,
        valve_position=seen.opening,
        mass_flow=flow,
        mass_flow_metering=seen.metered,
        capacity=capacity,
        capacity_air=heat,
        sensible=sensible,
        condenser_heat=condenser_heat,
        compressor_power=seen.pumped.power,
        shell_heat=seen.pumped.shell_heat,
        suction_line_gain=seen.suction_gain,
        liquid_line_loss=seen.line.heat_loss,
        total_power=seen.pumped.power + indoor_fan + outdoor_fan,
        current=current(seen.pumped.power),
        supply_dry_bulb=coil_air + indoor_fan / air.capacity_rate,
        supply_humidity_ratio=water,
        condenser_leaving_air=around.outdoor + (condenser_heat + outdoor_fan) / seen.outdoors.rate,
        airflow=around.indoor_flow,
        outdoor_airflow=around.outdoor_flow * seen.outdoors.running,
        surface=seen.evaporated.surface,
        standing_pressure=standing_pressure(machine, faults, seen.charge, conditions.outdoor),
        charge=ChargeInventory(
            seen.condensed.mass, seen.line.mass, seen.evaporated.mass, seen.suction_mass, seen.shell_mass
        ),
        charge_wanted=problem.wanted if problem.aim == "charge" else seen.charge,
        outdoor_fan=outdoor_fan,
        evaluations=problem.looks,
    )
