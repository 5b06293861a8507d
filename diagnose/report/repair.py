"""What is done about the leading fault, on this machine."""

from __future__ import annotations

from typing import NamedTuple

from diagnose.diagnosis.next_checks import NextCheck
from diagnose.diagnosis.record import Diagnosis
from diagnose.quantities import STEPS
from diagnose.rulebook import machine_facts, steps_for
from diagnose.visit import READINGS


class RepairOf(NamedTuple):
    """The steps and cautions for one machine, and what the readings are afterwards."""

    do: tuple[str, ...]
    cautions: tuple[str, ...]
    expect: str


def repair_of(d: Diagnosis) -> RepairOf | None:
    """That of the leading fault; nothing where its evidence is not fair, or no known fault explains the readings."""
    if not d.faults or d.faults[0].share < d.rules.judgement.strengths.fair or not d.explained.known:
        return None
    repair = d.rules.faults[d.faults[0].fault].repair
    if repair is None:
        return None
    facts = machine_facts(d.visit.machine)
    return RepairOf(tuple(steps_for(repair.do, facts)), tuple(steps_for(repair.cautions, facts)), repair.expect)


def only_surer(d: Diagnosis, check: NextCheck) -> str:
    """What stands before a check on a machine on which nothing is doubtful: it may be left out. Else nothing."""
    if not d.faults or d.rules.faults[d.faults[0].fault].charge != "right" or d.faults[0].strength != "strong":
        return ""
    asked_for = check.check in (*d.first, *d.always)
    return "" if asked_for or d.charge.verdict != "right" else "Nothing more is needed. To be surer: "


def lacking(d: Diagnosis, check: NextCheck) -> str:
    """What stands after a check that asks for several readings of which some were taken: which are missing. Else nothing."""
    quantities = {d.rules.findings[name].quantity for name in check.gives}
    for step in reversed(STEPS):  # what a step uses stands before it
        if step.name in quantities:
            quantities.update(step.needs)
    asked = [name for name in READINGS if name in quantities and name.removesuffix(" temperature") in check.ask]
    missing = [name for name in asked if name not in d.visit.last.readings]
    are = "is" if len(missing) == 1 else "are"
    return f" Only the {' and the '.join(missing)} {are} missing." if 0 < len(missing) < len(asked) else ""


def begin_of_repair(d: Diagnosis) -> tuple[str, ...]:
    """Its first step, by itself: what comes next where no check is worth its time."""
    repair = repair_of(d)
    return repair.do[:1] if repair else ()
