"""One machine with and without a fault, in the same weather, worked out by the simulator: the example of a lesson.

A 3 ton R-410A machine of SEER 14 on an ordinary charging day (82 °F outdoors, 76 °F and 63 °F wet bulb indoors), read with
perfect instruments, and the fault at a middle size. The sizes are our judgement.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.record import Diagnosis
from diagnose.rulebook import Rulebook
from diagnose.simulator import HEALTHY, TON, Faults, NoSolution, Plant, State, charged_right, design, readings, solve
from diagnose.simulator.family import CHARGING_DAY, CHARGING_SUPERHEAT
from diagnose.simulator.model import Device
from diagnose.visit import System

DEVICES: tuple[Device, ...] = ("fixed orifice", "TXV")
# What the simulator is told, and the same in words; for both devices, or for each.
_SIZES: Mapping[str, Mapping[str, tuple[Mapping[str, Any], str]]] = {
    "low-charge": {
        "fixed orifice": ({"charge": 0.88}, "12 % of the charge is missing"),
        "TXV": ({"charge": 0.78}, "22 % of the charge is missing"),
    },
    "overcharge": {
        "fixed orifice": ({"charge": 1.09}, "9 % too much refrigerant"),
        "TXV": ({"charge": 1.25}, "25 % too much refrigerant"),
    },
    "low-indoor-airflow": {
        "fixed orifice": ({"indoor_airflow": 0.75}, "75 % of the indoor airflow"),
        "TXV": ({"indoor_airflow": 0.60}, "60 % of the indoor airflow"),
    },
    "low-outdoor-airflow": {
        "fixed orifice": ({"outdoor_airflow": 0.50}, "half of the outdoor airflow"),
        "TXV": ({"outdoor_airflow": 0.50}, "half of the outdoor airflow"),
    },
    "liquid-line-restriction": {
        "fixed orifice": ({"restriction": 0.60}, "a clogged drier that takes 60 % of the design pressure drop"),
        "TXV": ({"restriction": 0.80}, "a clogged drier that takes 80 % of the design pressure drop"),
    },
    "metering-underfeeding": {
        "fixed orifice": ({"metering_size": 0.85}, "an orifice of 85 % of the right area"),
        "TXV": ({"metering_size": 0.50}, "a strainer that leaves half of the valve’s area"),
    },
    "metering-overfeeding": {
        "fixed orifice": ({"metering_size": 1.20}, "an orifice of 120 % of the right area"),
        "TXV": ({"valve_opening": 0.65}, "a valve stuck 65 % open"),
    },
    "non-condensables": {
        "fixed orifice": ({"non_condensable": 0.004}, "4 g of air for each kg of charge"),
        "TXV": ({"non_condensable": 0.004}, "4 g of air for each kg of charge"),
    },
    "weak-compressor": {
        "fixed orifice": ({"valve_leakage": 0.30}, "30 % of the gas leaks back"),
        "TXV": ({"valve_leakage": 0.30}, "30 % of the gas leaks back"),
    },
}  # fmt: skip

TAUGHT = tuple(_SIZES)
"""The faults that have an example."""


def size_of(fault: str, metering: Device) -> Mapping[str, Any] | None:
    """What the simulator is told for the example of a fault; None where there is none."""
    found = _SIZES.get(fault, {}).get(metering)
    return found and found[0]


@dataclass(frozen=True, slots=True)
class Example:
    """The same machine right and faulty. what: the fault's size in words."""

    metering: str
    what: str
    right: Diagnosis
    faulty: Diagnosis


def example(fault: str, metering: Device, rules: Rulebook, system: System = "us") -> Example | None:
    """The example of a fault; None for a fault that the simulator does not know (a company's own, nothing wrong)."""
    sizes = _SIZES.get(fault, {}).get(metering)
    if sizes is None:
        return None
    change, what = sizes
    right, faulty = _visit(metering, ()), _visit(metering, tuple(sorted(change.items())))
    return Example(metering, what, examine(right, rules).told_in(system), examine(faulty, rules).told_in(system))


@lru_cache(maxsize=2)
def machine_of(metering: Device) -> Plant:
    """The machine of every example, charged as it should be."""
    return charged_right(design("R-410A", metering, 3.0 * TON, 14.0), CHARGING_DAY, CHARGING_SUPERHEAT)


@lru_cache(maxsize=32)
def solved(metering: Device, change: tuple[tuple[str, Any], ...]) -> State | NoSolution:
    """The steady state of the example's machine with a fault."""
    return solve(machine_of(metering), CHARGING_DAY, replace(HEALTHY, **dict(change)))


def _visit(metering: Device, change: tuple[tuple[str, Any], ...]) -> dict[str, object]:
    state = solved(metering, change)
    assert not isinstance(state, NoSolution)  # each size was chosen so that the machine runs
    faults: Faults = replace(HEALTHY, **dict(change))
    return readings(machine_of(metering), CHARGING_DAY, faults, state)
