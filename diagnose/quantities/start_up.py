"""What is worked out at a start-up: pressure lost, how a vacuum stands, airflow by heat and by a blower table. Pure functions.

All SI; an error is the limit that holds 95 of 100, as everywhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot
from typing import Literal, NamedTuple

from diagnose.properties import saturation_vapour_pressure, specific_volume
from diagnose.properties.nitrogen import pressure_after
from diagnose.quantities.judged import figure

WATER = 0.006
"""kg/kg in heated indoor air; twice or none of it moves the airflow by 1 %."""
WATER_AT_MOST = saturation_vapour_pressure(310.93) or 6600.0
"""Pa: no line is so warm, 100 °F, that water in it boils up to more; air alone does."""
_DRY, _VAPOR = 1006.0, 1860.0  # J/(kg K), heat capacities: ASHRAE Fundamentals 2017, chapter 1, eq. 28 to 30


@dataclass(frozen=True, slots=True)
class StartUpFigures:
    """What a start-up is judged by: shares, temperatures, times, and a vacuum, SI."""

    same_instrument: float = figure("ratio", 0, 1)
    gas_temperature: float = figure("difference", "0 F", "20 F")
    unknown_temperature: float = figure("difference", "1 F", "40 F")
    shows: float = figure("ratio", 0.001, 0.2)
    least_pressure: float = figure("pressure", "10 psig", "600 psig")
    of_the_plate: float = figure("ratio", 0.5, 1)
    least_held: float = figure("time", "1 min", "2880 min")
    depth: float = figure("vacuum", "50 microns", "2000 microns")
    decay: float = figure("time", "1 min", "1440 min")
    stays: float = figure("vacuum", "100 microns", "5000 microns")
    ahead: float = figure("time", "1 min", "1440 min")
    levels: float = figure("ratio", 0.05, 0.95)
    airflow: float = figure("ratio", 0.02, 0.5)
    uneven: float = figure("ratio", 0, 0.3)
    blower_table: float = figure("ratio", 0, 0.3)


class Measure(NamedTuple):
    """A figure and its limit of error, SI."""

    value: float
    error: float

    @property
    def low(self) -> float:
        """The least that it can be."""
        return self.value - self.error

    @property
    def high(self) -> float:
        """The most that it can be."""
        return self.value + self.error


# -- the pressure test -------------------------------------------------------------------------------------------------


class Loss(NamedTuple):
    """What a pressure test lost beyond what its temperature explains, Pa; what it should have read, Pa absolute; and by how
    much the temperature alone moved it, Pa."""

    lost: Measure
    expected: float
    moved: float


def pressure_lost(
    start: Measure, end: Measure, temperature: Measure | None, then: Measure | None, figures: StartUpFigures
) -> Loss | None:
    """Of nitrogen, pressures in Pa absolute, temperatures in K; where one of these is missing both are taken as equal.

    One gauge read twice errs the same way twice: of its limit of error only `same_instrument` is left in a difference. What is
    left mostly is how far the gas was from the temperature that was read. None outside the range of the gas.
    """
    known = temperature is not None and then is not None
    at = temperature.value if temperature is not None and known else (then or temperature or Measure(293.15, 0.0)).value
    later = then.value if then is not None and known else at
    expected = pressure_after(start.value, at, later)
    warmer = pressure_after(start.value, at, at + 1.0)
    if expected is None or warmer is None:
        return None
    slope, same = warmer - start.value, figures.same_instrument
    if temperature is not None and then is not None:
        unsure = hypot(figures.gas_temperature, same * temperature.error, same * then.error)
    else:
        unsure = figures.unknown_temperature
    error = hypot(same * start.error, same * end.error, slope * unsure)
    return Loss(Measure(expected - end.value, error), expected, expected - start.value)


# -- the vacuum --------------------------------------------------------------------------------------------------------

DecayCode = Literal[
    "vacuum-holds", "vacuum-levels-off", "vacuum-climbs", "vacuum-rises", "vacuum-still-rising", "vacuum-falls",
    "vacuum-one-point", "vacuum-too-short", "vacuum-not-deep",
]  # fmt: skip


class Decay(NamedTuple):
    """How a vacuum stood after the pump was valved off. time: s. start, end: Pa. early, late: Pa/s, of its two halves (0 where
    there are only two points)."""

    code: DecayCode
    time: float
    start: float
    end: float
    early: float
    late: float


def decay(points: Sequence[tuple[float, Measure]], figures: StartUpFigures) -> Decay:
    """Holds, levels off or climbs, from (s, Pa absolute) in rising order, at least one of them.

    A leak lets air in at one rate, since the air outside stands far above any vacuum: it climbs in a straight line. Water
    boils until its vapor fills the lines, and then no more: it levels off.
    """
    (begun, first), (ended, last) = points[0], points[-1]
    time, rise = ended - begun, last.value - first.value
    if len(points) == 1:
        return Decay("vacuum-one-point", 0.0, first.value, first.value, 0.0, 0.0)
    half = max((point for point in points[:-1] if point[0] <= begun + time / 2), default=points[0], key=lambda p: p[0])
    if half[0] == begun and len(points) > 2:  # nobody looked in the first half
        half = points[1]
    noise = figures.same_instrument * hypot(first.error, last.error)
    late = (last.value - half[1].value) / (ended - half[0])
    early = (half[1].value - first.value) / (half[0] - begun) if half[0] > begun else 0.0
    shaped = half[0] > begun
    late_noise = figures.same_instrument * hypot(half[1].error, last.error) / (ended - half[0])
    slower = late + late_noise <= figures.levels * early
    straight = late - late_noise > (1.0 + figures.levels) / 2.0 * early  # between the two nobody can tell yet
    flat = slower and late * figures.ahead <= figures.levels * last.value

    def told(code: DecayCode) -> Decay:
        return Decay(code, time, first.value, last.value, early, late if shaped else rise / time)

    if rise < -noise:
        return told("vacuum-falls")
    if last.value > WATER_AT_MOST:
        return told("vacuum-climbs")
    if first.value > figures.stays:
        return told("vacuum-not-deep")
    if last.value > figures.stays:
        return told(
            "vacuum-levels-off" if shaped and flat else "vacuum-climbs" if shaped and straight else "vacuum-rises"
        )
    if time < figures.decay:
        return told("vacuum-too-short")
    if rise <= noise or last.value + late * figures.ahead <= figures.stays:
        return told("vacuum-holds")
    return told("vacuum-climbs" if shaped and straight else "vacuum-still-rising")


# -- airflow -----------------------------------------------------------------------------------------------------------


def airflow_by_heat(
    power: Measure, return_air: Measure, supply_air: Measure, station: Measure, figures: StartUpFigures
) -> Measure | None:
    """Airflow (m³/s, as the return air is) that takes this power (W) up by its rise in temperature (K), at a station pressure
    (Pa). None where the air does not get warmer beyond the errors of the thermometers.

    W / (ρ c Δt), the equation behind `1.08 × cfm × °F`, with the density of the place.
    """
    rise = Measure(supply_air.value - return_air.value, hypot(return_air.error, supply_air.error))
    volume = specific_volume(return_air.value, WATER, station.value)
    if rise.low <= 0 or volume is None:
        return None
    flow = power.value / ((_DRY + _VAPOR * WATER) * rise.value) * volume
    shares = (power.error / power.value, rise.error / rise.value, station.error / station.value, figures.uneven)
    return Measure(flow, flow * hypot(*shares))


def airflow_by_table(rows: Sequence[tuple[float, float]], static: Measure, figures: StartUpFigures) -> Measure | None:
    """Airflow (m³/s) at a static pressure (Pa) from a maker's rows (Pa, m³/s) in rising order, by straight lines between them.

    None outside the rows: a fan that is not in the table is not guessed.
    """
    if len(rows) == 1 and rows[0][0] == static.value:
        return Measure(rows[0][1], figures.blower_table * rows[0][1])
    for (low, more), (high, less) in pairwise(rows):
        if low <= static.value <= high:
            slope = (less - more) / (high - low)
            flow = more + slope * (static.value - low)
            return Measure(flow, hypot(slope * static.error, figures.blower_table * flow))
    return None
