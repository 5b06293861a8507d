"""What to do next, and why: the check that is expected to save the most time.

A check saves the hours of the wrong calls that it prevents (value_of_information.py) and costs its own minutes. What is
left is its worth; one that costs more than it saves is not asked for. On simulated faults that look alike this settles more
with one check than hours saved for each minute does, for there the shortest check wins, which often leaves the doubt behind.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.diagnosis.dangers import WAIT
from diagnose.diagnosis.ranking import Ranked
from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.suppositions import Posteriors
from diagnose.diagnosis.value_of_information import Forecast, Outcome, forecast
from diagnose.rulebook import Rulebook, check_for, machine_facts


@dataclass(frozen=True, slots=True)
class NextCheck:
    """One thing to do.

    saves: expected hours of wrong calls that knowing it prevents. worth: what is left of them, hours, after its own
    minutes; 0 where it does not pay, and is named because it confirms or must be done before all else.
    gives: the findings it brings that are not known yet. outcomes: likeliest first.
    """

    check: str
    ask: str
    why: str
    minutes: float
    needs: str | None
    gives: tuple[str, ...]
    saves: float
    worth: float
    outcomes: tuple[Outcome, ...]


def next_checks(d: Diagnosis) -> tuple[NextCheck, ...]:
    """The checks worth doing, best first; where nothing may be judged yet, only those that must be done or are named."""
    rules, findings, first, always, ranked = d.rules, d.findings, d.first, d.always, d.faults
    figures = rules.judgement.next_checks
    posteriors = Posteriors(rules, d.applying, findings)
    confirming = _recommended(ranked, rules)
    facts = machine_facts(d.visit.machine)
    found: dict[str, NextCheck] = {}
    for name, entry in rules.checks.items():
        if d.stop and name == WAIT:
            continue
        new = tuple(g for g in entry.gives if g not in findings or findings[g].counts < figures.known)
        expected = forecast(new, posteriors, rules) if ranked and new else Forecast((), 0.0)
        known = bool(entry.gives) and not new
        worth = max(0.0, expected.saved - (entry.minutes + figures.handling / 60.0) / 60.0)
        if worth > 0 or name in first or name in always or (name in confirming and not known):
            told = check_for(entry, facts)
            found[name] = NextCheck(
                name, told.ask, told.why, entry.minutes, entry.needs, new, expected.saved, worth, expected.outcomes
            )
    order = {name: i for i, name in enumerate(dict.fromkeys(first))}

    def place(c: NextCheck) -> tuple[float, ...]:
        return (order.get(c.check, len(order)), -c.worth, -confirming.get(c.check, 0.0))

    ordered = sorted(found.values(), key=place)
    kept = ordered[: figures.listed]
    return (*kept, *(c for c in ordered[figures.listed :] if c.check in always))


def _recommended(ranked: Sequence[Ranked], rules: Rulebook) -> dict[str, float]:
    """The checks that the firing rules of the leading fault name themselves, and how much those rules weigh."""
    found: dict[str, float] = {}
    for place in ranked[:1]:
        for evidence in place.supporting:
            check = evidence.rule.entry.check
            if check is not None and evidence.weight > 0.5:
                found[check] = max(found.get(check, 0.0), evidence.weight * place.share)
    return {name: bonus for name, bonus in found.items() if name in rules.checks}
