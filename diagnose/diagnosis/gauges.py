"""Whether gauges are needed: each time they are put on, some refrigerant is lost and some air may get in.

Asked after the looks, the air and the line temperatures, before any pressure is read.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from diagnose.diagnosis.record import Diagnosis
from diagnose.rulebook import Rule, machine_facts

AnsweredBy = Literal["compressor-stands", "mend-first", "temperatures-sound", "not-answered"]
_SHOWN_BY = ("air temperature split", "liquid line approach")
"""The findings that must be normal, and known, before temperatures alone may say that nothing is wrong."""


@dataclass(frozen=True, slots=True)
class GaugeAdvice:
    """Whether to put the gauges on. code: what answers already, or that nothing does.

    rule: the rule that asks for something else first. share: of the odds, of the leading fault. by_weight: the machine is
    charged by weight only, so pressures say little of its charge.
    """

    needed: bool
    code: AnsweredBy
    share: float = 0.0
    fault: str | None = None
    rule: Rule | None = None
    by_weight: bool = False


def gauge_advice(d: Diagnosis) -> GaugeAdvice:
    """What to do about the gauges, by what is known without them."""
    by_weight = machine_facts(d.visit.machine).get("charging") == "weight only"
    if d.states.get("compressor", {}).get("standing", 0.0) > 0.5:
        return GaugeAdvice(False, "compressor-stands", by_weight=by_weight)
    for rule in d.holding("readiness"):
        if rule.findings and all(name in d.findings and d.findings[name].estimate is None for name in _met(rule, d)):
            return GaugeAdvice(False, "mend-first", rule=rule, by_weight=by_weight)
    if not d.faults:
        return GaugeAdvice(True, "not-answered", by_weight=by_weight)
    first = d.faults[0]
    shown = (d.findings[name].chance(["normal"]) if name in d.findings else 0.0 for name in _SHOWN_BY)
    if d.rules.faults[first.fault].charge == "right" and all(chance > 0.5 for chance in shown):
        return GaugeAdvice(False, "temperatures-sound", first.share, first.fault, by_weight=by_weight)
    return GaugeAdvice(True, "not-answered", first.share, first.fault, by_weight=by_weight)


def _met(rule: Rule, d: Diagnosis) -> list[str]:
    """The findings of a rule that are known; one that nobody looked at does not count, unless none was."""
    return [name for name in rule.findings if name in d.findings] or list(rule.findings)
