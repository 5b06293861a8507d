"""The steady state of a heat pump in heating, and the sizing of its outdoor device."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from diagnose.simulator.compressor import current
from diagnose.simulator.cycle import standing_pressure
from diagnose.simulator.fluid import (
    COLDEST,
    LARGEST_SUPERHEAT,
    OutsideTableError,
    hottest_condensing,
    pressure_range,
    quality_of,
    saturated,
    vapour_at,
)
from diagnose.simulator.heat_pump import AHRI_H1, HeatPump, Winter, assembled, sized_device, turned
from diagnose.simulator.heating import HeatingAir, HeatingCycle, felt_superheat, heating_air, look
from diagnose.simulator.model import HEALTHY, ChargeInventory, Faults, NoSolution, Plant, State, Weather
from diagnose.simulator.newton import WORST, Guess, Jacobian, Residuals, TooManyLooksError, newton_from_several

MOST_LOOKS_HEATING = 300
"""What is not found by then seldom is: nine of ten states are found within 40."""
CLOSED = 2e-5
"""Largest disagreement left, as shares of coil, flow and charge: a hundredth of what instruments tell."""
SUBCOOLING = (3.0, 20.0)
"""K of a sound machine at H1. Makers' charts print 14 to 35 °F; what lies far off is like no machine and is refused."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatingState(State):
    """A steady state in heating. Of `State`: condenser is indoors, evaporator outdoors, `suction` is the common suction
    port, `capacity` and `condenser_heat` are the indoor coil's, `capacity_air`, `sensible`, `surface` the outdoor
    coil's, `coil_outlet_temperature` is that of the tube to the reversing valve."""

    vapour_line_temperature: float  # K, at the vapour service valve
    vapour_line_pressure: float  # Pa absolute, there; equals the discharge pressure
    tube_temperature: float  # K, tube from the outdoor coil to the reversing valve
    indoor_fan: float  # W
    supplementary: float  # W
    found: tuple[Guess, Jacobian | None] = field(repr=False, compare=False)  # where the search ended

    @property
    def net_capacity(self) -> float:
        """Heat to the house with that of the blower, without supplementary heat, W."""
        return self.capacity + self.indoor_fan

    @property
    def cop(self) -> float:
        """Net heat over the power of compressor and fans."""
        return self.net_capacity / self.total_power


@dataclass
class HeatingPoint:
    """One case, with its bounds and a count of the work done. superheat: K, to be felt by the device while it is sized."""

    pump: HeatPump
    around: HeatingAir
    faults: Faults
    wanted: float
    superheat: float | None = None
    near: tuple[Guess, ...] = ()
    jacobian: Jacobian | None = None
    low: Guess = (0.0, 0.0, 0.0)
    high: Guess = (0.0, 0.0, 0.0)
    closed: float = CLOSED
    looks: int = 0
    last: HeatingCycle | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        self.low = (COLDEST + 1.0, self.around.return_air + 0.3, -110.0)
        self.high = (self.around.outdoors.dry_bulb + 3.0, hottest_condensing(self.pump.refrigerant), 45.0)

    def at(self, guess: Guess) -> Residuals:
        """Disagreements of a guess: coil, metering flow (or the superheat while sizing), charge."""
        if self.looks >= MOST_LOOKS_HEATING:
            raise TooManyLooksError
        self.looks += 1
        sizing = self.superheat is not None
        try:
            seen = look(self.pump, self.around, self.faults, guess, sizing)
        except (OutsideTableError, ValueError, ZeroDivisionError, OverflowError):
            self.last = None
            return WORST
        self.last = seen
        charge = seen.charge / self.wanted - 1.0
        if self.superheat is None:
            return seen.evaporated.excess, (seen.metered - seen.high.flow) / self.pump.design_flow, charge
        return seen.evaporated.excess, (felt(self.pump, seen) - self.superheat) / 20.0, charge

    def starts(self) -> list[Guess]:
        """Guesses: what is said to be near, a sound machine in this weather, flooded ones, starved ones."""
        outdoors, back = self.around.outdoors.dry_bulb, self.around.return_air
        e, c, x = self.pump.at_design
        warm = outdoors - AHRI_H1.outdoor
        # by how much each moves with outdoor air: a valve holds its superheat; an orifice floods in the cold
        if self.pump.turned.metering == "TXV":
            by, excess = (0.86, 0.30), x + 0.05 * warm
        elif warm > 0.0:
            by, excess = (0.48, 0.30), x + 0.90 * warm
        else:
            by, excess = (0.84, 0.50), max(x + 0.80 * warm, -0.6 + 0.05 * warm)
        evaporating, condensing = e + by[0] * warm, c + back - AHRI_H1.return_dry_bulb + by[1] * warm
        return [
            *self.near,
            (evaporating, condensing, excess),
            (evaporating + 2.0, condensing + 2.0, -6.0),
            (evaporating - 8.0, condensing - 4.0, 18.0),
            (evaporating + 3.0, condensing + 10.0, -14.0),
            (evaporating - 14.0, condensing - 8.0, 25.0),
            (evaporating + 2.0, condensing - 6.0, -30.0),
        ]


def felt(pump: HeatPump, seen: HeatingCycle) -> float:
    """Superheat (K) that the outdoor device works by; of an orifice that of the common suction line."""
    return felt_superheat(
        pump, seen.suction, seen.suction_h, seen.evaporator, seen.tube_h, seen.evaporated.outlet_temperature
    )


def heat_pump(plant: Plant, own: Winter) -> HeatPump:
    """A charged machine that cools, made a heat pump: its outdoor device sized at H1 with the charge as it is.

    Raises ValueError where it cannot be built.
    """
    in_heating = turned(plant, own)
    start = (AHRI_H1.outdoor - 9.0, AHRI_H1.return_dry_bulb + 20.0, own.superheat * 0.9)
    draft = assembled(plant, in_heating, own, 1.0, start)
    if own.device == "fixed orifice":  # it feels nothing; the superheat meant is that of the common suction line
        draft = assembled(plant, in_heating, replace(own, bulb="common suction"), 1.0, start)
    around = heating_air(draft, AHRI_H1, HEALTHY)
    if isinstance(around, str):
        raise ValueError(around)
    problem = HeatingPoint(draft, around, HEALTHY, plant.right_charge, own.superheat)
    try:
        guess = newton_from_several(problem)
        residuals = problem.at(guess) if guess is not None else WORST
    except (TooManyLooksError, OutsideTableError):
        guess = None
    seen = problem.last
    if guess is None or seen is None or max(map(abs, residuals)) > 2e-4:
        raise ValueError("no outdoor device makes this machine right in heating")
    shown = saturated(plant.refrigerant, seen.liquid.port.pressure).bubble - seen.liquid.port.temperature
    if not SUBCOOLING[0] <= shown <= SUBCOOLING[1]:
        raise ValueError(f"its subcooling in heating, {shown:.1f} K, is like no maker's chart")
    sized, rating = sized_device(
        in_heating, seen.liquid.end, seen.evaporator.pressure, seen.high.flow, felt(draft, seen), seen.evaporator.dew
    )
    return assembled(plant, sized, own, rating, guess)


def solve_heating(
    pump: HeatPump, conditions: Weather, faults: Faults = HEALTHY, near: HeatingState | None = None
) -> HeatingState | NoSolution:
    """The steady state of a heat pump in heating with its charge (`faults.charge` x right charge) in some weather.

    near: a state of the same machine that may lie near. Never raises on numbers; a `NoSolution` says why there is none.
    """
    try:
        around = heating_air(pump, conditions, faults)
    except OutsideTableError:
        around = "the air is outside the tables"
    if isinstance(around, str):
        return NoSolution(around)
    problem = HeatingPoint(pump, around, faults, pump.right_charge * faults.charge)
    if near is not None:
        start, problem.jacobian = near.found
        problem.near = (start,)
    try:
        guess = newton_from_several(problem)
        if guess is None:
            return NoSolution("no steady state found", problem.looks)
        residuals = problem.at(guess)
    except TooManyLooksError:
        return NoSolution("no steady state found within the bound on work", problem.looks)
    seen = problem.last
    if seen is None:
        return NoSolution("the refrigerant's state lies outside its tables", problem.looks)
    refused = _refused(problem, guess, seen, residuals)
    return NoSolution(refused, problem.looks) if refused else _state(problem, seen, guess, conditions)


def _refused(problem: HeatingPoint, guess: Guess, seen: HeatingCycle, residuals: Residuals) -> str | None:
    """Why the answer is none, if so."""
    if (
        guess[1] > problem.high[1] - 0.05
        or seen.high.discharge.pressure > 0.9999 * pressure_range(problem.pump.refrigerant)[1]
    ):
        return "the condensing pressure would pass the top of the table: the high-pressure switch opens first"
    if guess[0] < problem.low[0] + 0.05:
        return "the suction pressure would fall below the table: the low-pressure switch opens first"
    if max(map(abs, residuals)) > 2e-4:
        return "flow, coil and charge do not come to agree"
    if seen.high.discharge_temperature > min(seen.high.discharge.dew + LARGEST_SUPERHEAT + 30.0, 430.0):
        return "the discharge gas would be so hot that the compressor's overload opens first"
    return None


def _state(problem: HeatingPoint, seen: HeatingCycle, guess: Guess, conditions: Weather) -> HeatingState:
    pump, around, faults = problem.pump, problem.around, problem.faults
    ref = pump.refrigerant
    dry = seen.suction_h >= seen.suction.vapour
    port, end = seen.liquid.port, seen.liquid.end
    shown = saturated(ref, port.pressure)
    fan = pump.indoor_fan * faults.indoor_airflow
    outdoor_fan = pump.outdoor_fan
    added = faults.supplementary * pump.nominal_capacity
    heat = seen.high.flow * (_entering(seen) - seen.high.condensed.outlet_h)
    taken = seen.evaporated
    supply = around.return_air + (heat + fan + added) / around.indoor_rate
    tube = saturated(ref, 0.25 * seen.evaporator.pressure + 0.75 * seen.suction.pressure)
    tube_temperature = vapour_at(ref, seen.tube_h, tube)
    return HeatingState(
        suction_pressure=seen.suction.pressure,
        evaporator_pressure=seen.evaporator.pressure,
        liquid_pressure=port.pressure,
        condensing=seen.condensing.dew,
        condensing_apparent=shown.bubble,
        evaporating=seen.suction.dew,
        suction_temperature=seen.high.pumped.suction_temperature,
        liquid_temperature=port.temperature,
        discharge_temperature=seen.high.discharge_temperature,
        coil_outlet_temperature=tube_temperature,
        drier_outlet_temperature=end.temperature,
        metering_inlet_temperature=end.temperature,
        metering_inlet_pressure=end.pressure,
        superheat=max(seen.high.pumped.suction_temperature - seen.suction.dew, 0.0) if dry else 0.0,
        subcooling=max(shown.bubble - port.temperature, 0.0),
        suction_quality=quality_of(seen.suction_h, seen.suction),
        condenser_outlet_quality=seen.high.condensed.outlet_quality,
        metering_inlet_quality=end.quality,
        valve_position=seen.opening,
        mass_flow=seen.high.flow,
        mass_flow_metering=seen.metered,
        capacity=heat,
        capacity_air=taken.heat,
        sensible=taken.sensible,
        condenser_heat=heat,
        compressor_power=seen.high.pumped.power,
        shell_heat=seen.high.pumped.shell_heat,
        suction_line_gain=-seen.high.line_loss,
        liquid_line_loss=seen.liquid.heat_loss,
        total_power=seen.high.pumped.power + fan + outdoor_fan,
        current=current(seen.high.pumped.power),
        supply_dry_bulb=supply,
        supply_humidity_ratio=conditions.humidity_ratio or 0.0,
        condenser_leaving_air=conditions.outdoor - taken.sensible / around.outdoors.capacity_rate,
        airflow=around.indoor_flow,
        outdoor_airflow=around.outdoor_flow,
        surface=taken.surface,
        standing_pressure=standing_pressure(pump.turned, faults, seen.charge, conditions.outdoor),
        charge=ChargeInventory(
            seen.high.condensed.mass,
            seen.liquid.mass,
            taken.mass,
            seen.suction_mass,
            seen.shell_mass + seen.vapour_mass,
        ),
        charge_wanted=problem.wanted,
        outdoor_fan=outdoor_fan,
        evaluations=problem.looks,
        vapour_line_temperature=seen.high.vapour_temperature,
        vapour_line_pressure=seen.high.discharge.pressure,
        tube_temperature=tube_temperature,
        indoor_fan=fan,
        supplementary=added,
        found=(guess, problem.jacobian),
    )


def _entering(seen: HeatingCycle) -> float:
    """Enthalpy (J/kg) of what enters the indoor coil: energy balance of compressor, reversing valve and vapour line.

    compressor: flow_c (h_d - h_s) = power - shell; the valve gives the suction side what it takes from the hot gas.
    """
    pumped = seen.high.pumped
    net = pumped.power - pumped.shell_heat - seen.high.line_loss
    return seen.tube_h + net / seen.high.flow
