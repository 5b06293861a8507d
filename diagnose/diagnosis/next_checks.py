"""What to do next, and why: the check that is expected to save the most time.

A check saves the hours of the wrong calls that it prevents (value_of_information.py) and costs its own minutes. What is
left is its worth; one that costs more than it saves is not asked for. Checks that may put another fault first go before
those that cannot, and then the one worth most: hours saved for each minute would choose the shortest, which often leaves the
doubt behind. How the repair of the leader begins (a look, the leak) is named after what pays, whatever it is worth; where
the leader is strong, before what cannot put another fault first.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from typing import NamedTuple

from diagnose.diagnosis.dangers import RUNNING, STOP, WAIT, WATCH
from diagnose.diagnosis.findings import Finding
from diagnose.diagnosis.ranking import Ranked
from diagnose.diagnosis.record import Diagnosis, once
from diagnose.diagnosis.suppositions import Posteriors
from diagnose.diagnosis.value_of_information import Forecast, Likelihoods, Outcome, forecast
from diagnose.quantities import STEPS
from diagnose.rulebook import Rulebook, machine_facts
from diagnose.visit import COOLING


class NextCheck(NamedTuple):
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


@once
def next_checks(d: Diagnosis) -> tuple[NextCheck, ...]:
    """The checks worth doing, best first; where nothing may be judged yet, only those that must be done or are named."""
    rules, findings, first, always, ranked = d.rules, d.findings, d.first, d.always, d.faults
    figures = rules.judgement.next_checks
    posteriors = Posteriors(rules, d.applying, findings)
    confirming = _beginning(ranked, findings, rules)
    likely = d.applying.kept.get("likelihoods") or Likelihoods(rules, machine_facts(d.visit.machine))
    d.applying.kept["likelihoods"] = likely
    standing = d.states.get("compressor", {}).get("standing", 0) > 0.5  # then no running machine's figure can be read
    emptied = _emptied(d)  # then it is not run at all
    quantities, unknown = {name: entry.quantity for name, entry in rules.findings.items()}, _unknown_below(d)
    off = {name for name, e in d.estimates.items() if e.inside < figures.known}  # read, and of no use at such readings
    found: dict[str, NextCheck] = {}
    for name, entry in rules.checks.items():
        if name == WAIT and (d.stop or not {STOP, WATCH}.isdisjoint(d.first)):
            continue
        new = tuple(
            g
            for g in entry.gives
            if g not in rules.silent
            and (g not in findings or findings[g].counts < figures.known)
            and quantities[g] not in off
            and unknown.get(quantities[g] or "", set()) <= {quantities[name] for name in entry.gives}
        )
        ready = findings.keys() >= set(entry.after) and not emptied
        told_of = [g for g in new if ready and (rules.findings[g].seen or not standing)]
        expected = forecast(told_of, posteriors, likely, rules) if ranked and told_of else Forecast((), 0.0)
        worth = max(0.0, expected.saved - (entry.minutes + figures.handling / 60.0) / 60.0)
        if (worth > 0 and _tells(expected, ranked, rules)) or name in first or name in always or name in confirming:
            found[name] = NextCheck(
                name, entry.ask, entry.why, entry.minutes, entry.needs, new, expected.saved, worth, expected.outcomes
            )
    order = {name: i for i, name in enumerate(dict.fromkeys(first))}
    strong = bool(ranked) and ranked[0].share >= rules.judgement.strengths.strong

    def place(c: NextCheck) -> tuple[float, ...]:
        turns = c.worth > 0 and any(o.fault != ranked[0].fault and o.chance >= figures.turns for o in c.outcomes)
        turns = turns and not any(
            o.worth > c.worth and o.minutes < c.minutes for o in found.values()
        )  # quicker, and worth more
        begins = strong and c.check in confirming
        return (order.get(c.check, len(order)), not turns, not begins, -c.worth, -confirming.get(c.check, 0))

    asked = {name for rule in d.applying.rules if rule.kind in ("evidence", "state") for name in rule.findings}
    measured = {name for name in asked if name in rules.findings and not rules.findings[name].seen}
    named = {c for c in found if measured & set(found[c].gives)} | {*first, *always, *confirming}
    ordered = list(_adding(sorted(found.values(), key=place), named, asked))
    kept = ordered[: figures.listed]
    return (*kept, *(c for c in ordered[figures.listed :] if c.check in always))


def _emptied(d: Diagnosis) -> bool:
    """Whether no liquid is left at rest, and nothing was read of it while it ran."""
    rest = d.findings.get("standing pressure")
    ran = not d.visit.last.readings.keys().isdisjoint(RUNNING)
    return rest is not None and rest.words.get("below saturation", 0.0) > 0.5 and not ran


def _unknown_below(d: Diagnosis) -> dict[str, set[str]]:
    """Of each quantity the figures with a finding that it is worked out of, also by others between, and that are not known."""
    named = {entry.quantity for entry in d.rules.findings.values()} - d.estimates.keys()
    found: dict[str, set[str]] = {}
    for step in STEPS:  # what a step uses stands before it
        if step.mode in ("", d.visit.machine.mode or COOLING):
            below = [found.get(need, set()) | ({need} & named & found.keys()) for need in step.needs]
            found[step.name] = set().union(*below)
    return found


def _adding(ordered: Sequence[NextCheck], named: AbstractSet[str], asked: AbstractSet[str]) -> Iterator[NextCheck]:
    """Without the looks that bring nothing beyond what is named before them, of what tells faults apart on such a machine.

    named: what is advised all the same; a measurement too, for another way to the same figure may be the quicker one.
    """
    given: set[str] = set()
    for check in ordered:
        brings = asked & set(check.gives)
        if check.check in named or not brings <= given:
            yield check
        given |= brings


def _tells(expected: Forecast, ranked: Sequence[Ranked], rules: Rulebook) -> bool:
    """Whether it is worth the walk: on a machine on which nothing seems wrong, only what may say otherwise.

    Before a repair, what only confirms its reason is worth more than the repair that was in vain.
    """
    first = ranked[0]
    alters = any((o.fault, o.strength) != (first.fault, first.strength) for o in expected.outcomes)
    return alters or rules.faults[first.fault].charge != "right"


def _beginning(ranked: Sequence[Ranked], findings: Mapping[str, Finding], rules: Rulebook) -> dict[str, float]:
    """How the repair of the leading fault begins: what its firing rules name that needs no instrument, and how they weigh.

    What must be measured is named for its worth alone, and nothing that was looked at already.
    """
    begins = rules.judgement.next_checks.begins
    found: dict[str, float] = {}
    for place in ranked[:1]:
        for evidence in place.supporting:
            check = rules.checks.get(evidence.rule.entry.check or "")
            if check is None or evidence.weight <= begins or any(not rules.findings[g].seen for g in check.gives):
                continue
            if not check.gives or any(g not in findings for g in check.gives):
                found[check.check] = max(found.get(check.check, 0), evidence.weight * place.share)
    return found
