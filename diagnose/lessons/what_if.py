"""What if: one machine of the simulator, a few things to turn, and what the gauges and the program then say.

The machine is that of the lessons' examples (3 ton, R-410A, SEER 14), read with perfect instruments. A class predicts which way
each figure goes, and then sees it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.record import Diagnosis
from diagnose.lessons.example import machine_of
from diagnose.rulebook import Rulebook
from diagnose.simulator import HEALTHY, NoSolution, readings, solve
from diagnose.simulator.design import fahrenheit
from diagnose.simulator.model import Device
from diagnose.simulator.population import CHARGING_DAY
from diagnose.visit import System

ICE = 271.0  # K; with a colder coil surface ice grows and nothing is steady
FIGURES = ("evaporating temperature", "condensing temperature", "superheat", "subcooling", "air temperature split")
SAME = 0.5  # K by which a figure must move before it is said to


@dataclass(frozen=True, slots=True)
class Knob:
    """One thing to turn: what it is called, between what, and where a right machine stands."""

    name: str
    low: float
    high: float
    step: float
    right: float
    unit: str


KNOBS = (
    Knob("charge", 60, 140, 2, 100, "%"),
    Knob("indoor airflow", 40, 120, 5, 100, "%"),
    Knob("outdoor airflow", 30, 100, 5, 100, "%"),
    Knob("drier closed", 0, 90, 10, 0, "%"),
    Knob("gas leaking back in the compressor", 0, 40, 5, 0, "%"),
    Knob("outdoor air", 65, 115, 1, 82, "F"),
)

PRESETS: Mapping[str, Mapping[str, float]] = {
    "nothing-wrong": {},
    "low-charge": {"charge": 80},
    "overcharge": {"charge": 130},
    "low-indoor-airflow": {"indoor airflow": 50},
    "low-outdoor-airflow": {"outdoor airflow": 40},
    "liquid-line-restriction": {"drier closed": 60},
    "weak-compressor": {"gas leaking back in the compressor": 30},
}
"""fault of the shipped book -> where the knobs stand for it, the others being right."""


@dataclass(frozen=True, slots=True)
class WhatIf:
    """The machine as it is turned now. moved: figure -> K since it was right, in the same weather; d: what is said of it."""

    d: Diagnosis
    moved: Mapping[str, float]


def what_if(metering: Device, turned: Mapping[str, float], rules: Rulebook, system: System) -> WhatIf | str:
    """What such a machine reads. A sentence, where it cannot run like that."""
    at = {knob.name: min(max(float(turned.get(knob.name, knob.right)), knob.low), knob.high) for knob in KNOBS}
    faults = replace(
        HEALTHY,
        charge=at["charge"] / 100,
        indoor_airflow=at["indoor airflow"] / 100,
        outdoor_airflow=at["outdoor airflow"] / 100,
        restriction=at["drier closed"] / 100,
        valve_leakage=at["gas leaking back in the compressor"] / 100,
    )
    day = replace(CHARGING_DAY, outdoor=fahrenheit(at["outdoor air"]))
    machine = machine_of(metering)
    told = []
    for state_of in (faults, HEALTHY):
        state = solve(machine, day, state_of)
        if isinstance(state, NoSolution):
            return "No machine runs steadily like that."
        if state.surface < ICE:
            return "The indoor coil would ice over, and nothing would stay as it is."
        told.append(examine(readings(machine, day, state_of, state), rules).told_in(system))
    d, right = told
    return WhatIf(
        d,
        {
            name: d.estimates[name].value - right.estimates[name].value
            for name in FIGURES
            if name in d.estimates and name in right.estimates
        },
    )
