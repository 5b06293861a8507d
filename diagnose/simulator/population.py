"""Cases, drawn by the hundred: machines that differ from one another, weather, and one known fault each.

`families` names the machines: the plain structure with scattered numbers, or structures of `family`.
Every case is drawn from its own random numbers (`seed` and its place in the row), so case 17 of a seed is the same
whether it is drawn alone or among a thousand. Ranges and shares below are our judgement unless a source is named.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from diagnose.properties import standard_pressure
from diagnose.simulator.design import TON, Scatter, charged_right, design, fahrenheit
from diagnose.simulator.family import CHARGING_DAY, CHARGING_SUPERHEAT, TONS, Families, graded, kind_of, member
from diagnose.simulator.fault_sizes import NOTHING_WRONG, faults_of, for_the_day, sized, stuck_on, together
from diagnose.simulator.fluid import sure
from diagnose.simulator.heat_pump import indoor_volume, winter
from diagnose.simulator.heating_solver import heat_pump, solve_heating
from diagnose.simulator.model import HEALTHY, Faults, Mode, NoSolution, Plant, State, Weather
from diagnose.simulator.readings import ReadingSet, VisitMapping, readings
from diagnose.simulator.solver import solve
from diagnose.visit.fields import Instrument

ICE = 271.0
"""K; with a colder coil surface ice grows and there is no steady state: such cases are drawn anew."""
MOST_DRAWS = 60
FROST_BELOW = fahrenheit(42.0)
"""K outdoors; below it a sound machine carries some frost between two defrosts."""
HOTTEST_SUPPLY = fahrenheit(132.0)
"""K; from about there the limit switch of the supplementary heat opens, so that nothing is steady (judgement)."""
SEEN_FROM = 0.1
"""Of the heaviest frost a sound machine lets grow, from which it is written down as light."""


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
    mode: Mode = "cooling"  # in heating `machine` is a `HeatPump`, the states are `HeatingState`


def draw(
    seed: int,
    place: int,
    *,
    which: ReadingSet = "all",
    faults: Sequence[str] | None = None,
    pairs: bool = False,
    instruments: Mapping[str, Instrument] | None = None,
    families: Families = "plain",
    mode: Mode = "cooling",
) -> Practice:
    """One case. A machine or weather without a steady state is drawn anew, the fault kept."""
    chance = random.Random(f"population {seed} {place}")
    faults = faults_of(mode) if faults is None else faults
    truth = chance.choice(list(faults))
    others = [fault for fault in faults if fault not in (truth, NOTHING_WRONG) and together(fault, truth)]
    also = chance.choice(others) if pairs and truth != NOTHING_WRONG and others else None
    attempt = _attempt if mode == "cooling" else _attempt_heating
    for _ in range(MOST_DRAWS):
        found = attempt(chance, truth, also, f"{seed} {place}", which, instruments, families)
        if found is not None:
            return found
    raise RuntimeError(f"no machine, weather and size of {truth} with a steady state in {MOST_DRAWS} draws")


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
    ill = stuck_on(machine, ill)
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


def _attempt_heating(
    chance: random.Random,
    truth: str,
    also: str | None,
    name: str,
    which: ReadingSet,
    instruments: Mapping[str, Instrument] | None,
    families: Families,
) -> Practice | None:
    try:
        more = indoor_volume(chance, families)
        plant = individual(chance, more) if families == "plain" else member(chance, families, more)
        machine = heat_pump(plant, winter(chance, plant.metering, families))
    except ValueError:
        return None
    defrost = "defrost-fault" in (truth, also)
    conditions = winter_weather(chance, *((8.0, 40.0) if defrost else (0.0, 65.0)))
    good_day = _another_day(chance, conditions)
    charge = min(max(chance.gauss(1.0, 0.025), 0.95), 1.05)
    before_fault = replace(HEALTHY, charge=charge)
    frost = chance.uniform(0.0, 0.5) if conditions.outdoor < FROST_BELOW and chance.random() < 0.6 else 0.0
    background = replace(before_fault, outdoor_airflow=1.0 - 0.3 * frost, outdoor_coil=1.0 - 0.2 * frost)
    healthy = solve_heating(machine, conditions, background)
    if isinstance(healthy, NoSolution):
        return None
    ill, size = sized(chance, truth, machine.outdoor_device, background)
    if also is not None:
        ill, _ = sized(chance, also, machine.outdoor_device, ill)
    ill = for_the_day(machine, healthy, ill)
    state = healthy if ill == background else solve_heating(machine, conditions, ill, near=healthy)
    before = solve_heating(machine, good_day, before_fault)
    if isinstance(state, NoSolution) or isinstance(before, NoSolution):
        return None
    if state.supply_dry_bulb > HOTTEST_SUPPLY:
        return None
    told = True
    if families != "plain" and instruments is None:
        instruments, told = graded(chance)
    visit = readings(machine, conditions, ill, state, name, instruments, which, told=told)
    baseline = readings(machine, good_day, background, before, f"{name} baseline", instruments, which, told=told)
    visit["seen"] = {"outdoor coil frost": "heavy" if defrost else "light" if frost > SEEN_FROM else "none"}
    baseline["seen"] = {"outdoor coil frost": "none"}
    return Practice(visit, truth, size, also, baseline, machine, conditions, ill, state, healthy, "heating")


def individual(chance: random.Random, indoor_volume: float = 1.0) -> Plant:
    """A machine: kind by what is found in the field, then its own scatter (coils within 10 %, blower 330-430 cfm/ton).

    indoor_volume: of its indoor coil over that of a machine that only cools.
    """
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
    machine = replace(machine, evaporator_volume=machine.evaporator_volume * indoor_volume)
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


def winter_weather(chance: random.Random, low: float = 0.0, high: float = 65.0) -> Weather:
    """Outdoors `low` to `high` °F at 55-90 % relative humidity; return air 60-75 °F at 25-45 %; mostly sea level."""
    altitude = 0.0 if chance.random() < 0.6 else chance.uniform(0.0, 1600.0)
    return Weather(
        fahrenheit(chance.uniform(low, high)),
        fahrenheit(chance.uniform(60.0, 75.0)),
        return_relative_humidity=chance.uniform(0.25, 0.45),
        station_pressure=sure(standard_pressure(altitude)),
        outdoor_relative_humidity=chance.uniform(0.55, 0.90),
    )


def _another_day(chance: random.Random, conditions: Weather) -> Weather:
    """Any other day of the season at the same place, the house as warm as anybody keeps it."""
    return replace(
        conditions,
        outdoor=fahrenheit(chance.uniform(0.0, 65.0)),
        return_dry_bulb=fahrenheit(chance.uniform(60.0, 75.0)),
        outdoor_relative_humidity=chance.uniform(0.55, 0.90),
    )
