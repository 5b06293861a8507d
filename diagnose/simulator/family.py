"""Families of machines: which structures are drawn, their numbers, and whether a member is like anything published.

Points of rules may be set on machines of the seen families only; the unseen ones are there to measure on. Every unseen
machine has at least two alternatives that no seen machine has and that matter on its metering device. Numbers are drawn
alike in both. Ranges are our judgement; a member whose response to charge or airflow lies outside wide bounds about the
published one is drawn anew.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal, get_args, get_type_hints

from diagnose.simulator.design import AHRI_A, TON, Scatter, built, charged_right, fahrenheit, plated
from diagnose.simulator.model import (
    PLAIN,
    USUAL,
    Coefficients,
    Device,
    Faults,
    NoSolution,
    Plant,
    State,
    Structure,
    Weather,
)
from diagnose.simulator.solver import solve
from diagnose.visit.fields import INSTRUMENTS, Instrument

Families = Literal["plain", "seen", "unseen", "all"]

ALTERNATIVES: Mapping[str, tuple[str, ...]] = {name: get_args(kind) for name, kind in get_type_hints(Structure).items()}
"""The last of each is unseen: no point may be set on a machine that has it."""
LEAST_UNSEEN = 2

USED = {"R-410A": 0.50, "R-22": 0.20, "R-32": 0.10, "R-454B": 0.12, "R-407C": 0.08}
"""Refrigerants and their shares."""
TONS = (1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0)
CHARGING_DAY = Weather(fahrenheit(82.0), fahrenheit(76.0), fahrenheit(63.0))
CHARGING_SUPERHEAT = 12.0 / 1.8
"""Machines were charged on an ordinary day: orifice machines to the chart's superheat (12 °F at these
conditions, target table RA3.2-2, from memory), valve machines to the plate's subcooling."""

_RANGES: Mapping[str, Mapping[str, tuple[float, float]]] = {
    "scroll": {"pumping": (0.025, 0.045), "peak": (2.5, 3.1), "fall": (0.5, 0.9), "shell_loss": (0.06, 0.12)},
    "reciprocating": {"pumping": (0.035, 0.06), "peak": (3.0, 3.8), "fall": (0.3, 0.6), "shell_loss": (0.05, 0.12)},
    "rotary": {"pumping": (0.015, 0.03), "peak": (2.6, 3.4), "fall": (0.2, 0.4), "shell_loss": (0.10, 0.20)},
    "spring": {"opening": (0.42, 0.58), "valve_range": (4.5, 7.5)},
    "bleeding": {"opening": (0.45, 0.60), "valve_range": (7.0, 10.0), "bleed": (0.06, 0.15), "tilt": (0.1, 0.3)},
    "small": {"opening": (0.70, 0.82), "valve_range": (3.0, 5.0)},
}
"""Coefficients of a compressor and of a valve of each kind, from and to."""

FINE, WORN = 0.5, 1.5
"""Limits of error of the best and the worst grade of instruments over the usual ones."""
_GRADES = {"fine": 0.30, "usual": 0.45, "worn": 0.25}


def unseen_of(structure: Structure, device: Device) -> tuple[str, ...]:
    """Names of the alternatives in which it is unlike every seen machine, and which matter on its device."""
    idle = "orifice" if device == "TXV" else "valve"
    return tuple(name for name, all_ in ALTERNATIVES.items() if name != idle and getattr(structure, name) == all_[-1])


def structure_of(chance: random.Random, families: Families, device: Device) -> Structure:
    """A structure: every alternative of a family as likely as the next."""
    if families == "plain":
        return PLAIN
    seen = families == "seen"
    while True:
        chosen = {name: chance.choice(all_[:-1] if seen else all_) for name, all_ in ALTERNATIVES.items()}
        found = Structure(**chosen)  # type: ignore[arg-type]
        if families != "unseen" or len(unseen_of(found, device)) >= LEAST_UNSEEN:
            return found


def coefficients_of(chance: random.Random, structure: Structure) -> Coefficients:
    """The numbers of its alternatives."""
    one = chance.uniform
    found = replace(
        USUAL,
        oil=one(0.25, 0.50),
        header=one(0.08, 0.25) if structure.surplus == "header" else 0.0,
        choking=one(0.62, 0.78),
        warming=one(0.12, 0.35),
        water=chance.choice((one(0.70, 0.90), one(1.08, 1.20))) if structure.coil == "transfer" else 1.0,
        suction_kelvin=one(2.2, 4.2) if structure.losses == "suction" else one(0.8, 1.8),
        discharge_kelvin=one(0.8, 2.2) if structure.losses == "discharge" else 0.0,
        held_head=one(302.0, 310.0),
        catch=one(0.4e-3, 1.0e-3) if structure.accumulator == "accumulator" else 0.0,
    )
    drawn = {**_RANGES[structure.compressor], **_RANGES[structure.valve]}
    return replace(found, **{name: one(low, high) for name, (low, high) in drawn.items()})


def kind_of(chance: random.Random) -> tuple[str, float, Device]:
    """Refrigerant, SEER and metering device, by what is found in the field."""
    ref = chance.choices(list(USED), list(USED.values()))[0]
    seer = round(chance.uniform(10.0, 13.5) if ref in ("R-22", "R-407C") else chance.uniform(12.0, 18.0), 1)
    device: Device = "TXV" if chance.random() < (0.4 if seer < 14.0 else 0.65) else "fixed orifice"
    return ref, seer, device


def member(chance: random.Random, families: Families, indoor_volume: float = 1.0) -> Plant:
    """A machine of a family, charged on an ordinary day. Raises ValueError where it cannot be built or is like none.

    Against the plain population coils scatter by 20 % and apart from one another, the blower gives 310 to 440 cfm/ton
    from the first day, and an orifice machine's superheat on the charging day is off the chart's by 1.5 °F (one
    standard deviation), which with its own slopes makes about 5 °F over the weather. indoor_volume: of its indoor coil over
    that of a machine that only cools.
    """
    ref, seer, device = kind_of(chance)
    structure = structure_of(chance, families, device)
    scatter = Scatter(
        condenser=chance.uniform(0.82, 1.22),
        evaporator=chance.uniform(0.82, 1.22),
        displacement=chance.gauss(1.0, 0.025),
        efficiency=chance.gauss(1.0, 0.04),
        volumes=chance.uniform(0.75, 1.3),
        metering=chance.gauss(1.0, 0.02),
        line_length=chance.uniform(0.6, 2.4),
        airflow_per_ton=chance.uniform(310.0, 440.0),
        fan=chance.uniform(0.7, 1.3),
        valve_superheat=chance.gauss(0.0, 1.3),
    )
    subcooling = chance.choice((8.0, 10.0, 10.0, 12.0)) / 1.8
    coefficients = coefficients_of(chance, structure)
    made = built(
        ref, device, chance.choice(TONS) * TON, seer, subcooling,
        scatter=scatter, structure=structure, coefficients=coefficients,
    )  # fmt: skip
    made = replace(made, evaporator_volume=made.evaporator_volume * indoor_volume)
    if device == "fixed orifice":
        made = charged_right(made, CHARGING_DAY, max(CHARGING_SUPERHEAT + chance.gauss(0.0, 1.5 / 1.8), 1.0))
    else:
        made = charged_right(made, CHARGING_DAY)
    healthy = solve(made, AHRI_A)
    if isinstance(healthy, NoSolution):
        raise ValueError(f"it does not run at AHRI A: {healthy.reason}")
    refused = unlike_published(made, healthy)
    if refused:
        raise ValueError(refused)
    return plated(made, healthy)


@dataclass(frozen=True, slots=True)
class Response:
    """What a fault does to a machine at AHRI A (80 °F, 50 % relative humidity indoors), beside what is published."""

    name: str
    faults: Faults
    capacity: float  # published, over the healthy machine's
    power: float
    capacity_bound: float  # how far one machine may be from it
    power_bound: float


PUBLISHED = (
    Response("charge 80 %", Faults(charge=0.8), 0.888, 0.977, 0.16, 0.10),
    Response("charge 120 %", Faults(charge=1.2), 1.021, 1.035, 0.10, 0.10),
    Response("airflow 70 %", Faults(indoor_airflow=0.7), 0.944, 0.986, 0.06, 0.08),
)
"""Sources: charge_effect_coefficients.csv (several machines pooled), airflow_effect_coefficients.csv (`capacity` x EIR for
power), both in tests/reference; a test works them out anew. Bounds: judgement, twice and more what pooled machines scatter."""


def response(machine: Plant, healthy: State, to: Response) -> tuple[float, float] | None:
    """Capacity and the outdoor unit's power with a published fault, over the healthy machine's at AHRI A.

    None where it does not run.
    """
    ill = solve(machine, AHRI_A, to.faults)
    if isinstance(ill, NoSolution):
        return None
    power = (one.compressor_power + one.outdoor_fan for one in (ill, healthy))
    return ill.capacity / healthy.capacity, next(power) / next(power)


def unlike_published(machine: Plant, healthy: State) -> str:
    """In words, what of the machine's response to charge lies outside the bounds; empty where nothing does.

    Airflow is left to the tests: no alternative changes what it does by much.
    """
    for to in PUBLISHED[:2]:
        found = response(machine, healthy, to)
        if found is None:
            return f"{to.name}: it does not run at AHRI A"
        capacity, power = found
        if abs(capacity - to.capacity) > to.capacity_bound or abs(power - to.power) > to.power_bound:
            return f"{to.name}: capacity {capacity:.3f}, power {power:.3f}"
    return ""


def graded(chance: random.Random) -> tuple[Mapping[str, Instrument] | None, bool]:
    """A set of instruments (None: the usual ones), and whether the visit says how good they are: of worn ones nobody knows."""
    grade = chance.choices(list(_GRADES), list(_GRADES.values()))[0]
    if grade == "usual":
        return None, True
    by = FINE if grade == "fine" else WORN
    return {n: i._replace(share=i.share * by, fixed=i.fixed * by) for n, i in INSTRUMENTS.items()}, grade == "fine"
