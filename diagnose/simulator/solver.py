"""Finds the steady state: Newton steps first, nested bracketing where they fail; both bounded.

Bracketing rests on three monotone facts: more suction superheat needs more coil; a higher suction pressure pumps more
than the metering device passes; a higher condensing temperature (with the rest in step) holds more refrigerant.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

from diagnose.simulator.air import water_for
from diagnose.simulator.compressor import current
from diagnose.simulator.cycle import (
    CycleState,
    Guess,
    Surroundings,
    before_condenser,
    look,
    standing_pressure,
    surroundings,
)
from diagnose.simulator.fluid import (
    COLDEST,
    LARGEST_SUPERHEAT,
    OutsideTableError,
    hottest_condensing,
    pressure_range,
    quality_of,
    vapour_at,
)
from diagnose.simulator.model import HEALTHY, Charge, Faults, NoSolution, Plant, State, Weather

Aim = Literal["charge", "subcooling", "superheat"]
Residuals = tuple[float, float, float]

CLOSED = 2e-6
"""Largest disagreement left, as shares of coil, flow and charge."""
MOST_LOOKS = 6000
NEWTON_STEPS = 30
LARGEST_STEP = (6.0, 8.0, 8.0)
DIFFERENCE = (0.01, 0.01, 0.01)
WORST: Residuals = (1e3, 1e3, 1e3)


class TooManyLooksError(Exception):
    """The bound on work is reached; never leaves this module."""


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
        guess = _newton_from_several(problem) or _bracketing(problem)
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


# --- Newton ---------------------------------------------------------------------------------------


def _size(residuals: Residuals) -> float:
    return residuals[0] ** 2 + residuals[1] ** 2 + residuals[2] ** 2


def _starts(problem: OperatingPoint) -> list[Guess]:
    """Guesses: a healthy machine in this weather, a starved one, a flooded one, one flooded and hot, two all but empty."""
    machine, around = problem.machine, problem.around
    evaporating = machine.design_evaporating + 0.35 * (around.outdoor - 308.15) + 0.5 * (around.air.dew_point - 287.5)
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


def _newton_from_several(problem: OperatingPoint) -> Guess | None:
    for start in _starts(problem):
        found = _newton(problem, start)
        if found is not None:
            return found
    return None


def _held(problem: OperatingPoint, guess: list[float]) -> Guess:
    a, b, c = (min(max(v, lo), hi) for v, lo, hi in zip(guess, problem.low, problem.high, strict=True))
    return a, b, c


def _newton(problem: OperatingPoint, start: Guess) -> Guess | None:
    """Damped Newton with a Jacobian by differences, refreshed only while progress is poor (Broyden's update between)."""
    guess = _held(problem, list(start))
    here = problem.at(guess)
    jacobian: list[list[float]] | None = None
    fresh = False
    for _ in range(NEWTON_STEPS):
        if max(map(abs, here)) < CLOSED:
            return guess
        if jacobian is None:
            jacobian, fresh = _jacobian(problem, guess, here), True
        step = _solve3(jacobian, here)
        if step is None:
            return None
        shrink = max(1.0, *(abs(s) / m for s, m in zip(step, LARGEST_STEP, strict=True)))
        nearer = _nearer(problem, guess, step, here, shrink, 5 if fresh else 1)
        if nearer is None and fresh:
            return None
        if nearer is None:
            jacobian = None  # an old Jacobian led nowhere: make a new one here
            continue
        trial, there = nearer
        moved = [t - g for t, g in zip(trial, guess, strict=True)]
        improved = _size(there) < 0.2 * _size(here)
        jacobian = _broyden(jacobian, moved, here, there) if improved else None
        fresh = False
        guess, here = trial, there
    return guess if max(map(abs, here)) < 1e-5 else None


def _nearer(
    problem: OperatingPoint, guess: Guess, step: Guess, here: Residuals, shrink: float, tries: int
) -> tuple[Guess, Residuals] | None:
    """The first of ever shorter steps that brings the three nearer to agreement, or None."""
    for _ in range(tries):
        trial = _held(problem, [g - s / shrink for g, s in zip(guess, step, strict=True)])
        there = problem.at(trial)
        if _size(there) < (1.0 - 0.1 / shrink) * _size(here):
            return trial, there
        shrink *= 2.0
    return None


def _jacobian(problem: OperatingPoint, guess: Guess, here: Residuals) -> list[list[float]]:
    columns = []
    for i, delta in enumerate(DIFFERENCE):
        moved = list(guess)
        sign = -1.0 if moved[i] + delta > problem.high[i] else 1.0
        moved[i] += sign * delta
        there = problem.at((moved[0], moved[1], moved[2]))
        columns.append([(t - h) / (sign * delta) for t, h in zip(there, here, strict=True)])
    return [[columns[j][i] for j in range(3)] for i in range(3)]


def _broyden(jacobian: list[list[float]], moved: list[float], before: Residuals, after: Residuals) -> list[list[float]]:
    length = sum(m * m for m in moved)
    if length < 1e-18:
        return jacobian
    new = []
    for row, b, a in zip(jacobian, before, after, strict=True):
        error = (a - b - sum(r * m for r, m in zip(row, moved, strict=True))) / length
        new.append([r + error * m for r, m in zip(row, moved, strict=True)])
    return new


def _solve3(matrix: list[list[float]], right: Residuals) -> tuple[float, float, float] | None:
    """Three linear equations by Cramer's rule; None where they have no single answer."""
    (a, b, c), (d, e, f), (g, h, i) = matrix
    det = a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g)
    if abs(det) < 1e-14:
        return None
    p, q, r = right
    x = p * (e * i - f * h) - b * (q * i - f * r) + c * (q * h - e * r)
    y = a * (q * i - f * r) - p * (d * i - f * g) + c * (d * r - q * g)
    z = a * (e * r - q * h) - b * (d * r - q * g) + p * (d * h - e * g)
    return x / det, y / det, z / det


# --- bracketing -----------------------------------------------------------------------------------


def _bracketing(problem: OperatingPoint) -> Guess:
    """Condensing temperature for the charge, around suction pressure for the flow, around superheat for the coil."""
    inner: list[float] = [0.0, 0.0]

    def coil(evaporating: float, condensing: float) -> float:
        excess = _root(lambda e: problem.at((evaporating, condensing, e))[0], problem.low[2], problem.high[2], 1e-7)
        inner[1] = excess
        return -problem.at((evaporating, condensing, excess))[1]

    def charge(condensing: float) -> float:
        inner[0] = _root(lambda t: coil(t, condensing), problem.low[0], problem.high[0], 1e-6)
        coil(inner[0], condensing)
        return problem.at((inner[0], condensing, inner[1]))[2]

    condensing = _root(charge, problem.low[1], problem.high[1], 1e-5)
    charge(condensing)
    return inner[0], condensing, inner[1]


def _root(function: Callable[[float], float], low: float, high: float, close: float) -> float:
    """Where a rising function passes 0, by false position (Illinois) within 40 steps; an end where it does not."""
    at_low, at_high = function(low), function(high)
    if at_low >= 0.0:
        return low
    if at_high <= 0.0:
        return high
    side = 0
    x = low
    for turn in range(40):
        x = 0.5 * (low + high) if turn % 4 == 3 else (low * at_high - high * at_low) / (at_high - at_low)
        value = function(x)
        if abs(value) < close or high - low < 1e-9:
            break
        if value < 0.0:
            low, at_low = x, value
            at_high *= 0.5 if side == -1 else 1.0
            side = -1
        else:
            high, at_high = x, value
            at_low *= 0.5 if side == 1 else 1.0
            side = 1
    return x


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
    return State(
        suction_pressure=seen.suction.pressure,
        evaporator_pressure=seen.evaporator.pressure,
        liquid_pressure=seen.discharge.pressure,
        condensing=seen.condensing.dew,
        condensing_apparent=seen.discharge.bubble,
        evaporating=seen.suction.dew,
        suction_temperature=seen.pumped.suction_temperature,
        liquid_temperature=seen.condensed.outlet_temperature,
        discharge_temperature=_discharge_temperature(machine, seen),
        coil_outlet_temperature=seen.evaporated.outlet_temperature,
        drier_outlet_temperature=seen.line.after_drier,
        metering_inlet_temperature=seen.line.end.temperature,
        metering_inlet_pressure=seen.line.end.pressure,
        superheat=max(seen.pumped.suction_temperature - seen.suction.dew, 0.0) if dry else 0.0,
        coil_superheat=max(seen.evaporated.outlet_temperature - seen.evaporator.dew, 0.0),
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
        latent=heat - sensible,
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
        charge=Charge(seen.condensed.mass, seen.line.mass, seen.evaporated.mass, seen.suction_mass, seen.shell_mass),
        charge_wanted=problem.wanted if problem.aim == "charge" else seen.charge,
        outdoor_fan=outdoor_fan,
        evaluations=problem.looks,
    )
