"""Cases by the hundred: machines that differ from one another, weather, and one known fault each.

`families` names the machines: the plain structure with scattered numbers, or structures of `family`.
Every case is drawn from its own random numbers (`seed` and its place in the row), so case 17 of a seed is the same
whether it is drawn alone or among a thousand. Ranges and shares below are our judgement unless a source is named.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from diagnose.properties import standard_pressure
from diagnose.simulator.design import TON, Scatter, charged_right, design, fahrenheit
from diagnose.simulator.family import CHARGING_DAY as CHARGING_DAY
from diagnose.simulator.family import CHARGING_SUPERHEAT as CHARGING_SUPERHEAT
from diagnose.simulator.family import TONS, Families, graded, kind_of, member
from diagnose.simulator.fluid import sure
from diagnose.simulator.metering import port
from diagnose.simulator.model import HEALTHY, Faults, NoSolution, Plant, State, Weather
from diagnose.simulator.readings import ReadingSet, VisitMapping, readings
from diagnose.simulator.solver import solve
from diagnose.simulator.structure import PLAIN, USUAL
from diagnose.visit.fields import Instrument

NOTHING_WRONG = "nothing-wrong"
FAULTS = (
    NOTHING_WRONG,
    "low-charge",
    "overcharge",
    "low-indoor-airflow",
    "low-outdoor-airflow",
    "liquid-line-restriction",
    "metering-underfeeding",
    "metering-overfeeding",
    "non-condensables",
    "weak-compressor",
)
ICE = 271.0
"""K; with a colder coil surface ice grows and there is no steady state: such cases are drawn anew."""
MOST_DRAWS = 60


@dataclass(frozen=True, slots=True)
class Practice:
    """One case. `visit` and `baseline` are what a technician wrote; the rest is what nobody sees."""

    visit: VisitMapping
    truth: str
    size: float  # of the fault, in the terms of `sized`; 0 where nothing is wrong
    also: str | None  # the second fault of a pair
    baseline: VisitMapping  # the same machine when it was right, on another day, with the same kind of instruments
    machine: Plant
    conditions: Weather
    faults: Faults
    state: State
    healthy: State  # the same machine in the same weather without the fault


def population(
    seed: int,
    count: int | None = None,
    *,
    which: ReadingSet = "all",
    faults: Sequence[str] = FAULTS,
    pairs: bool = False,
    instruments: Mapping[str, Instrument] | None = None,
    families: Families = "plain",
) -> Iterator[Practice]:
    """Cases without end, or `count` of them; every fault in turn comes up as often as the next, in random order."""
    place = 0
    while count is None or place < count:
        yield draw(seed, place, which=which, faults=faults, pairs=pairs, instruments=instruments, families=families)
        place += 1


def draw(
    seed: int,
    place: int,
    *,
    which: ReadingSet = "all",
    faults: Sequence[str] = FAULTS,
    pairs: bool = False,
    instruments: Mapping[str, Instrument] | None = None,
    families: Families = "plain",
) -> Practice:
    """One case. A machine or weather without a steady state is drawn anew, the fault kept."""
    chance = random.Random(f"population {seed} {place}")
    truth = chance.choice(list(faults))
    others = [fault for fault in faults if fault not in (truth, NOTHING_WRONG) and {fault, truth} not in _OPPOSITE]
    also = chance.choice(others) if pairs and truth != NOTHING_WRONG and others else None
    for _ in range(MOST_DRAWS):
        found = _attempt(chance, truth, also, f"{seed} {place}", which, instruments, families)
        if found is not None:
            return found
    raise RuntimeError(f"no machine, weather and size of {truth} with a steady state in {MOST_DRAWS} draws")


_OPPOSITE = ({"low-charge", "overcharge"}, {"metering-underfeeding", "metering-overfeeding"})


def _attempt(
    chance: random.Random,
    truth: str,
    also: str | None,
    name: str,
    which: ReadingSet,
    instruments: Mapping[str, Instrument] | None,
    families: Families,
) -> Practice | None:
    try:
        machine = individual(chance) if families == "plain" else member(chance, families)
    except ValueError:
        return None
    conditions, good_day = weather(chance), weather(chance, 70.0, 100.0)
    good_day = replace(good_day, station_pressure=conditions.station_pressure)
    background = replace(HEALTHY, charge=min(max(chance.gauss(1.0, 0.025), 0.95), 1.05))
    ill, size = sized(chance, truth, machine.metering, background)
    if also is not None:
        ill, _ = sized(chance, also, machine.metering, ill)
    ill = _stuck_on(machine, ill)
    healthy = solve(machine, conditions, background)
    if isinstance(healthy, NoSolution):
        return None
    state = healthy if ill == background else solve(machine, conditions, ill)
    before = solve(machine, good_day, background)
    if isinstance(state, NoSolution) or isinstance(before, NoSolution):
        return None
    if min(state.surface, healthy.surface, before.surface) < ICE:
        return None
    told = True
    if families != "plain" and instruments is None:
        instruments, told = graded(chance)
    visit = readings(machine, conditions, ill, state, name, instruments, which, told=told)
    baseline = readings(machine, good_day, background, before, f"{name} baseline", instruments, which, told=told)
    return Practice(visit, truth, size, also, baseline, machine, conditions, ill, state, healthy)


def _stuck_on(machine: Plant, ill: Faults) -> Faults:
    """A stuck valve's opening on a machine whose valve works elsewhere: such that it passes the same against design."""
    if ill.valve_opening is None or (machine.structure is PLAIN and machine.coefficients is USUAL):
        return ill
    passed = (2.0 * ill.valve_opening - ill.valve_opening**2) / 0.75  # the plain valve's, which opens half at design
    area = min(passed * port(machine, machine.coefficients.opening), 1.0)
    return replace(ill, valve_opening=area if machine.structure.valve == "small" else 1.0 - (1.0 - area) ** 0.5)


def individual(chance: random.Random) -> Plant:
    """A machine: kind by what is found in the field, then its own scatter (coils within 10 %, blower 330-430 cfm/ton)."""
    ref, seer, device = kind_of(chance)
    scatter = Scatter(
        condenser=chance.uniform(0.9, 1.1),
        evaporator=chance.uniform(0.9, 1.1),
        displacement=chance.gauss(1.0, 0.015),
        efficiency=chance.gauss(1.0, 0.03),
        volumes=chance.uniform(0.9, 1.1),
        metering=chance.gauss(1.0, 0.015),
        line_length=chance.uniform(0.6, 1.8),
        airflow_per_ton=chance.uniform(330.0, 430.0),
        fan=chance.uniform(0.7, 1.2),
        valve_superheat=chance.gauss(0.0, 1.2),
    )
    subcooling = chance.choice((8.0, 10.0, 10.0, 12.0)) / 1.8
    machine = design(ref, device, chance.choice(TONS) * TON, seer, subcooling, scatter=scatter)
    return charged_right(machine, CHARGING_DAY, CHARGING_SUPERHEAT)


def weather(chance: random.Random, low: float = 65.0, high: float = 110.0) -> Weather:
    """Outdoors `low` to `high` °F; return air 70-82 °F at 45-62 % relative humidity; sea level, sometimes higher."""
    altitude = 0.0 if chance.random() < 0.6 else chance.uniform(0.0, 1600.0)
    return Weather(
        fahrenheit(chance.uniform(low, high)),
        fahrenheit(chance.uniform(70.0, 82.0)),
        return_relative_humidity=chance.uniform(0.45, 0.62),
        station_pressure=sure(standard_pressure(altitude)),
    )


def sized(chance: random.Random, fault: str, metering: str, on: Faults) -> tuple[Faults, float]:
    """A fault of random size put on top of others, and the size.

    Sizes: charge and airflow as fractions of right; restriction as a share of the design high-to-low difference; air as
    a share of the charge's mass; leakage as a share of what is pumped; metering as a fraction of the right flow area,
    of a TXV also the opening at which it is stuck, or the contact of its bulb.
    """
    if fault == "low-charge":
        size = chance.uniform(0.60, 0.90)
        return replace(on, charge=on.charge * size), size
    if fault == "overcharge":
        size = chance.uniform(1.10, 1.40)
        return replace(on, charge=on.charge * size), size
    if fault == "low-indoor-airflow":
        size = chance.uniform(0.40, 0.80)
        return replace(on, indoor_airflow=size), size
    if fault == "low-outdoor-airflow":
        size = chance.uniform(0.35, 0.75)
        return replace(on, outdoor_airflow=size, outdoor_coil=chance.uniform(0.85, 1.0)), size
    if fault == "liquid-line-restriction":
        size = chance.uniform(0.15, 0.80) if metering == "fixed orifice" else chance.uniform(0.40, 1.00)
        place = chance.choices(("drier", "line end"), (0.75, 0.25))[0]
        return replace(on, restriction=size, restriction_at="drier" if place == "drier" else "line end"), size
    if fault == "non-condensables":
        size = chance.uniform(0.0008, 0.006)
        return replace(on, non_condensable=size), size
    if fault == "weak-compressor":
        size = chance.uniform(0.10, 0.45)
        return replace(on, valve_leakage=size), size
    if fault == "metering-underfeeding":
        return _underfeeding(chance, metering, on)
    if fault == "metering-overfeeding":
        return _overfeeding(chance, metering, on)
    if fault == NOTHING_WRONG:
        return on, 0.0
    raise ValueError(f"no such fault: {fault}")


def _underfeeding(chance: random.Random, metering: str, on: Faults) -> tuple[Faults, float]:
    """An orifice too small or half plugged; a valve with a plugged screen, stuck, or with a lost bulb charge."""
    if metering == "fixed orifice":
        size = chance.uniform(0.60, 0.90)
        return replace(on, metering_size=size), size
    if chance.random() < 0.5:
        size = chance.uniform(0.40, 0.60)
        return replace(on, metering_size=size), size
    size = chance.uniform(0.15, 0.28)
    return replace(on, valve_opening=size), size


def _overfeeding(chance: random.Random, metering: str, on: Faults) -> tuple[Faults, float]:
    """An orifice too large or not seated; a valve stuck open, or its bulb loose."""
    if metering == "fixed orifice":
        size = chance.uniform(1.12, 1.60)
        return replace(on, metering_size=size), size
    if chance.random() < 0.5:
        size = chance.uniform(0.65, 1.0)
        return replace(on, valve_opening=size), size
    size = chance.uniform(0.0, 0.6)
    return replace(on, bulb_contact=size), size
