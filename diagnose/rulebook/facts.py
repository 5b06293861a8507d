"""What a machine is, as `applies:` of the rule files asks for it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from diagnose.properties.names import REFRIGERANTS
from diagnose.rulebook.entries import CheckEntry, Conditions, RepairStep
from diagnose.units.columns import choose, usable
from diagnose.visit.fields import (
    BUILT_FOR,
    CAPILLARY,
    CHOICES,
    COOLING,
    FIXED_ORIFICE,
    HEATING,
    METERING_DEVICE,
    RUNNING_AT,
    THIS_DAY,
    VALVES,
    WORDS,
)

if TYPE_CHECKING:
    from diagnose.visit import Machine

# Machine facts that `applies:` may ask for, and the words each may have (None: any).
MACHINE_FACTS: Mapping[str, tuple[str, ...] | None] = {
    "mode": ("cooling", "heating"),
    "metering": ("fixed orifice", "TXV", "EEV"),
    "refrigerant": None,
    "safety class": ("A1", "A2L", "A3"),
    "phase-down": ("ozone", "high GWP", "none"),
    METERING_DEVICE: ("orifice", CAPILLARY, *VALVES),
    # Weight only: a capillary tube, a charge below 1 kg, or a refrigerant of class A3 (`charging`).
    "charging": ("weight only", "weight and temperatures"),
    # A scale showed what the machine held.
    "weighed": ("yes",),
    **{
        name: CHOICES[name]
        for name in (
            "kind",
            "condenser cooled by",
            "metering place",
            "accumulator",
            "condenser coil",
            "head pressure held by",
            "gas path",
            "economizer",
            "circuits",
        )
    },
    # Likely staged: nobody said, and its SEER or kind is one that hardly any single stage has.
    "compressor": (*CHOICES["compressor"], "likely staged"),
    BUILT_FOR: None,
    # Another refrigerant has replaced the one that it was built for.
    "retrofit": ("yes",),
    # Long: beyond what factory charges and ordinary line sizes are made for.
    "lines": ("ordinary", "long"),
    # Whether the maker's heating chart says what subcooling should be (`rated heating subcooling`).
    "heating target": ("stated", "not stated"),
    # Not stated: on a machine that has more than one.
    RUNNING_AT: (*CHOICES[RUNNING_AT], "not stated"),
}
SMALL_CHARGE = 1.0
"""kg. Below it a step that a technician would call small is a large share of the charge, and what the hoses hold counts.
Common practice, no source."""
SMALL_MACHINE = 3500.0
"""W, one ton: a machine below it holds less than SMALL_CHARGE, where the plate's charge was not written down; judgement."""
STAGED_SEER = 18.0
"""From here a compressor has two stages or any speed, nearly always; common practice, no source."""
LONG_LINES = 24.4
"""m, 80 ft: from here makers ask for their long-line instructions; between makers 50 to 100 ft, from memory."""
HIGH_LIFT = 7.6
"""m, 25 ft between the units: the same; from memory."""


def small_charge(charge: float | None, size: float | None) -> bool:
    """Whether a machine of this factory charge (kg), else of this capacity (W), holds little; figures may be columns."""
    by_size = size is not None and size < SMALL_MACHINE
    return by_size if charge is None else choose(usable(charge), charge < SMALL_CHARGE, by_size)


def charging(machine: Machine) -> str:
    """`weight only` where the charge must not be trimmed by temperatures, else `weight and temperatures`."""
    small = small_charge(machine.fact("factory charge"), machine.fact("nominal capacity"))
    burns = machine.refrigerant is not None and machine.refrigerant.safety == "A3"
    capillary = machine.words.get(METERING_DEVICE) == CAPILLARY
    factory_sealed = machine.words.get("kind") == "window"
    return "weight only" if small or burns or capillary or factory_sealed else "weight and temperatures"


def steps_for(steps: Iterable[RepairStep], facts: Mapping[str, str]) -> Iterator[str]:
    """The steps of a repair that are for a machine with these facts."""
    return (step.do for step in steps if applies(step.applies, facts))


def check_for(entry: CheckEntry, facts: Mapping[str, str]) -> CheckEntry | None:
    """The check as it is told for a machine with these facts; None where it cannot be done there."""
    if any(applies(machines, facts) for machines in entry.not_on):
        return None
    for one in entry.instead:
        if applies(one.applies, facts):
            return entry._replace(ask=one.ask, why=one.why, gives=one.gives or entry.gives)
    return entry


_LATEST: list[tuple[Machine, Mapping[str, str]]] = []


def machine_facts(machine: Machine) -> Mapping[str, str]:
    """What `applies:` looks at; what the visit does not say is not in it. Each step of a diagnosis asks it of one machine."""
    for known, facts in _LATEST:
        if known is machine:
            return facts
    _LATEST[:] = [(machine, found := _machine_facts(machine))]
    return found


def _machine_facts(machine: Machine) -> dict[str, str]:
    facts = {name: word for name, word in machine.words.items() if name in MACHINE_FACTS or name not in WORDS}
    facts["charging"] = charging(machine)
    if any(name in machine.facts for name in THIS_DAY):
        facts["weighed"] = "yes"
    if (machine.fact("SEER") or 0.0) >= STAGED_SEER or facts.get("kind") == "ductless":
        facts.setdefault("compressor", "likely staged")
    if machine.words.get("compressor") in ("two-stage", "inverter"):
        facts.setdefault(RUNNING_AT, "not stated")
    if machine.line_set is not None:
        long = machine.line_set.length > LONG_LINES or abs(machine.line_set.lift or 0.0) > HIGH_LIFT
        facts["lines"] = "long" if long else "ordinary"
    if machine.refrigerant and facts.get(BUILT_FOR, machine.refrigerant.name) != machine.refrigerant.name:
        facts["retrofit"] = "yes"
    facts["mode"] = machine.mode or COOLING
    facts["heating target"] = "not stated" if machine.fact("rated heating subcooling") is None else "stated"
    if machine.metering:
        facts["metering"] = machine.metering
        facts.setdefault(METERING_DEVICE, "orifice" if machine.metering == FIXED_ORIFICE else machine.metering)
    if machine.refrigerant:
        facts["refrigerant"] = machine.refrigerant.name
        facts["safety class"] = machine.refrigerant.safety
        facts["phase-down"] = machine.refrigerant.phase_down or "none"
    return facts


def applies(conditions: Conditions, facts: Mapping[str, str]) -> bool:
    """Whether every machine fact asked for is known and has one of the words."""
    return all(facts.get(name) in words for name, words in conditions)


def of_mode(conditions: Conditions) -> Conditions:
    """What is asked of the mode alone."""
    return tuple(condition for condition in conditions if condition[0] == "mode")


def in_its_mode(conditions: Conditions, facts: Mapping[str, str]) -> bool:
    """The same for what speaks of a fault: where it does not name the mode, it speaks of cooling."""
    return applies(conditions, facts) and (
        facts.get("mode") != HEATING or any(name == "mode" for name, _ in conditions)
    )


def in_order(conditions: Conditions) -> dict[str, list[str]]:
    """The machine facts asked for, each with its words in the usual order, for a reader."""
    return {name: ordered(words, MACHINE_FACTS.get(name) or REFRIGERANTS) for name, words in conditions}


def ordered(words: Iterable[str], vocabulary: Sequence[str] | Mapping[str, object]) -> list[str]:
    """The words in the order of the vocabulary; others after them, by the alphabet."""
    left = set(words)
    return [word for word in vocabulary if word in left] + sorted(left - set(vocabulary))
