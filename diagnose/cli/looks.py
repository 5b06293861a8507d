"""The order in which a visit is led: what is looked at first, and when the gauges are asked for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from diagnose.diagnosis.gauges import GaugeAdvice, gauge_advice
from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.record import Diagnosis
from diagnose.rulebook import Rulebook
from diagnose.visit import READINGS

FIRST_LOOKS = (
    "thermostat", "power", "breaker", "air filter", "blower", "outdoor fan", "compressor sound", "indoor coil", "outdoor coil",
    "indoor coil ice", "condensate drain",
)  # fmt: skip
"""Looked at before anything is measured, in the order of the way through the house."""
HEATING_LOOKS = ("outdoor coil frost", "supplementary heat")
"""Looked at as soon as it is said that the machine heats."""
STANDING_LOOKS = ("contactor", "low pressure switch", "high pressure switch", "overload", "windings")
"""Looked at where the compressor stands, from the call to the windings."""
STANDING_FACTS = ("rated voltage", "capacitor rating")
STANDING_READINGS = ("contactor coil voltage", "voltage 1 to 2", "voltage 2 to 3", "voltage 3 to 1", "capacitor")
LOCKED_OUT = (
    "  The compressor stands: follow the call from the thermostat to its windings. Lock out the power, verify zero "
    "voltage, and discharge capacitors through a resistor before you reach in; measure live parts only if you are "
    "licensed to."
)
NOT_RUNNING = "not running"
RUNNING = "running"
GAUGES = "gauges"


def takes_gauges(reading: str) -> bool:
    """Whether a reading is taken with gauges."""
    return READINGS[reading].instrument == "gauges" if reading in READINGS else False


def so_far(visit: Mapping[str, Any], rules: Rulebook) -> Diagnosis:
    """What the answers say until now; every one of them was checked when it was given."""
    return examine({part: said for part, said in visit.items() if said}, rules)


def advised(visit: Mapping[str, Any], rules: Rulebook) -> tuple[Diagnosis, GaugeAdvice]:
    """Whether to put the gauges on, and the diagnosis that says so."""
    d = so_far(visit, rules)
    return d, gauge_advice(d)


def leads_to(visit: Mapping[str, Any], rules: Rulebook) -> str:
    """What is asked after the looks: of a machine that runs, of one that stands, or neither, where something must be mended
    before any reading says anything (ice)."""
    advice = advised(visit, rules)[1] if visit["seen"] else None
    if advice is not None and advice.code == "compressor-stands":
        return NOT_RUNNING
    return "" if advice is not None and advice.rule is not None and advice.rule.holds == "visit" else RUNNING
