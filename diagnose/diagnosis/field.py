"""Is this machine, and what it is doing, what the rules were written for? Where it is not, nothing is ranked.

Which machines and states lie outside stands in rules/readiness.yaml (`holds: outside`). They are judged from everything that
was read, as what could hurt is: what looks like a slip of the pen on an air conditioner may be right on another machine.
"""

from __future__ import annotations

from dataclasses import replace

from diagnose.diagnosis.findings import find
from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.verdict import NoVerdict
from diagnose.quantities.plausibility import Doubt, doubts_of_any_machine
from diagnose.quantities.uncertainty import Estimate, estimate
from diagnose.rulebook import Rule
from diagnose.rulebook.matcher import Matched
from diagnose.visit.reason import Reason


def outside(d: Diagnosis) -> tuple[Rule, ...]:
    """The rules that say that this is not for the others to judge, in the order of the book; none where it is."""
    return tuple(rule for rule in _holding(d) if rule.holds == "outside")


def _holding(d: Diagnosis) -> list[Rule]:
    """Readiness rules that hold, of all that was read."""
    return d.holding("readiness", _of_all_that_was_read(d))


def _of_all_that_was_read(d: Diagnosis) -> Matched:
    if not any(doubt.set_aside for doubt in d.doubts):
        return d.matched
    words = {name: f.words for name, f in find(d.visit, d.as_read, d.rules).items()}
    return d.applying.plain.run(words)


def nearly_held(d: Diagnosis) -> tuple[Doubt, ...]:
    """The rules that would hold everything if they were surer, each as a doubt that is not firm.

    Just before such a border nothing is said firmly, so that nothing vanishes of a sudden that was sure.
    """
    holding = {rule.id: rule.holds for rule in d.applying.of_kind["readiness"]}
    read = _of_all_that_was_read(d)
    firings = [*(f for f in read.firings if holding.get(f.rule) == "outside"),
               *(f for f in d.matched.firings if holding.get(f.rule) == "visit")]  # fmt: skip
    return tuple(
        Doubt(
            Reason(f.rule), holds_charge=True, holds_visit=True, check=d.rules.by_id[f.rule].entry.check, weight=f.sure
        )
        for f in firings
        if f.sure <= 0.5
    )


def leave(d: Diagnosis, rules: tuple[Rule, ...]) -> Diagnosis:
    """The record of a visit that lies outside: nothing ranked, no verdict, no target; what could hurt stays as it was found."""
    read = d.as_read
    doubted = doubts_of_any_machine(d.visit, read, d.rules.judgement.plausibility)
    aside = {name for doubt in doubted if doubt.firm for name in doubt.set_aside}
    estimates = estimate(d.visit, aside, d.rules.judgement.steadiness) if aside else read
    reasons = tuple(Reason(rule.id) for rule in rules)
    d = d.grown(outside=reasons, not_ready=(), doubts=doubted, good_day=None, ranked=())
    told = {name: f for name, f in find(d.visit, read, d.rules).items() if any(name in rule.findings for rule in rules)}
    findings = told | find(d.visit, estimates, d.rules)
    return without_targets(d.grown(estimates=estimates, findings=findings, charge=NoVerdict(None, reasons[:1])))


def without_targets(d: Diagnosis) -> Diagnosis:
    """The same with no word of what should be: targets for cooling would mislead, in tables and in lessons.

    Findings that only say what could hurt or why nothing is judged are kept, for their sentences.
    """
    asked = {name for rule in d.applying.rules if rule.kind in ("readiness", "caution") for name in rule.findings}
    findings = {
        name: f
        for name, f in d.findings.items()
        if f.scale is None or (name in asked and f.scale.by == "value" and f.scale.target is None)
    }
    return replace(
        d,
        parts=(),
        estimates={name: plain(e) for name, e in d.estimates.items()},
        findings=findings,
        matched=Matched((), {}),
    )


def plain(e: Estimate) -> Estimate:
    """The quantity with no word of what it should be."""
    return e._replace(expected=None, difference=None, difference_sigma=e.sigma, effects=e.moves, good_day=None)
