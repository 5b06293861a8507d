"""What if: one machine of the simulator, a few things to turn, and what the gauges and the program then say.

The machine is that of the lessons' examples (3 ton, R-410A, SEER 14), read with perfect instruments. A class predicts which way
each figure goes, and then sees it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.record import Diagnosis
from diagnose.lessons.example import DEVICES, TAUGHT, machine_of, size_of
from diagnose.rulebook import Rulebook
from diagnose.simulator import HEALTHY, NoSolution, readings, solve
from diagnose.simulator.design import fahrenheit
from diagnose.simulator.family import CHARGING_DAY
from diagnose.simulator.model import Device
from diagnose.visit import System

ICE = 271.0  # K; with a colder coil surface ice grows and nothing is steady
FIGURES = ("evaporating temperature", "condensing temperature", "superheat", "subcooling", "air temperature split")
SAME = 0.5  # K by which a figure must move before it is said to


@dataclass(frozen=True, slots=True)
class Knob:
    """One thing to turn: what it is called, between what, and where a right machine stands.

    sets: the simulator's name of the fault, `per` of its units a step of one; empty for the weather.
    """

    name: str
    low: float
    high: float
    step: float
    right: float
    unit: str
    sets: str = ""
    per: float = 0.01


KNOBS = (
    Knob("charge", 60, 140, 1, 100, "%", "charge"),
    Knob("indoor airflow", 40, 120, 5, 100, "%", "indoor_airflow"),
    Knob("outdoor airflow", 30, 100, 5, 100, "%", "outdoor_airflow"),
    Knob("drier closed", 0, 90, 10, 0, "%", "restriction"),
    Knob("metering device size", 40, 140, 5, 100, "%", "metering_size"),
    Knob("TXV stuck open at (0: it works)", 0, 100, 5, 0, "%", "valve_opening"),
    Knob("air for each kg of charge", 0, 8, 1, 0, "g", "non_condensable", 0.001),
    Knob("gas leaking back in the compressor", 0, 40, 5, 0, "%", "valve_leakage"),
    Knob("outdoor air", 65, 115, 1, 82, "F"),
)


def presets() -> dict[str, dict[Device, dict[str, float]]]:
    """Fault of the shipped book -> device -> where the knobs stand for the machine of its lesson, the others being right."""
    knobs = {knob.sets: knob for knob in KNOBS if knob.sets}
    found: dict[str, dict[Device, dict[str, float]]] = {"nothing-wrong": {device: {} for device in DEVICES}}
    for fault, device in product(TAUGHT, DEVICES):
        size = size_of(fault, device)
        if size is not None and size.keys() <= knobs.keys():
            turned = {knobs[name].name: round(value / knobs[name].per, 6) for name, value in size.items()}
            found.setdefault(fault, {})[device] = turned
    return found


@dataclass(frozen=True, slots=True)
class WhatIf:
    """The machine as it is turned now. moved: figure -> K since it was right, in the same weather; d: what is said of it."""

    d: Diagnosis
    moved: Mapping[str, float]


def what_if(metering: Device, turned: Mapping[str, float], rules: Rulebook, system: System) -> WhatIf | str:
    """What such a machine reads. A sentence, where it cannot run like that."""
    at = {knob.name: min(max(float(turned.get(knob.name, knob.right)), knob.low), knob.high) for knob in KNOBS}
    sets: dict[str, Any] = {knob.sets: at[knob.name] * knob.per for knob in KNOBS if knob.sets}
    sets["valve_opening"] = sets["valve_opening"] or None
    faults = replace(HEALTHY, **sets)
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
