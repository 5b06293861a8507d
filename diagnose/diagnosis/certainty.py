"""How strongly the answer may be said, whatever its share: what contradicts it, and what it was judged without.

A share says which fault is likeliest of those in the book. It does not say that the readings fit: that is looked at here.
"""

from __future__ import annotations

from collections.abc import Mapping

from diagnose.diagnosis.charge import AT_REST, BESIDE, CHARGE_HIDDEN, CONFIRMS, judge_charge, unparted
from diagnose.diagnosis.dangers import STOP
from diagnose.diagnosis.findings import find
from diagnose.diagnosis.good_day import expected_today
from diagnose.diagnosis.ranking import HAIR, STRENGTHS, Ranked, Strength, rank
from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.second_fault import explain_away
from diagnose.diagnosis.verdict import Charge, ChargeVerdict, NoVerdict
from diagnose.properties.targets import NoTarget
from diagnose.quantities.plausibility.view import ramp
from diagnose.rulebook import Rulebook, machine_facts
from diagnose.visit import FIXED_ORIFICE, HEATING
from diagnose.visit.reason import Reason

WET_BULB = "return air wet bulb"
ASK_FOR_IT = "measure-the-return-air"
PUMPS_LITTLE = "weak-compressor"
PUMPING = "compressor efficiency"  # the finding that tells a worn compressor from a sound one at a low stage


def much_against(place: Ranked, rules: Rulebook) -> bool:
    """Whether much evidence stands against this fault, whatever its share.

    Rules that ask for the same findings count together, for they take over from one another; and a scrap begins to count
    little by little, so that more against a fault is never less.
    """
    figures = rules.judgement.strengths
    by_findings: dict[frozenset[str], float] = {}
    for e in place.evidence:
        if e.weight < 0:
            asked = frozenset(e.rule.findings)
            by_findings[asked] = by_findings.get(asked, 0) - e.weight
    against = sum(points * ramp(points, figures.scrap / 2, 3 * figures.scrap / 2) for points in by_findings.values())
    return against >= figures.against - HAIR


def contradicted(d: Diagnosis) -> bool:
    """Whether much stands against the leading fault, or findings that it does not make.

    "Nothing wrong" makes no findings at all, and every sound machine has one or another that is off; only what was seen, or
    surely is, counts there, besides what speaks against it by its rules.
    """
    right = d.rules.faults[d.ranked[0].fault].charge == "right"
    seen = [name for name in d.explained.left if name in d.findings and d.findings[name].estimate is None]
    unexplained = bool(d.explained.sure or seen if right else d.explained.left)
    return unexplained or much_against(d.ranked[0], d.rules)


def to_set_right(d: Diagnosis) -> bool:
    """Whether something was seen that must be set right before the charge can be judged: dirt, a fan, a drain."""
    holding = [rule for rule in d.holding("readiness") if rule.holds == "charge" and rule.findings]
    return any(d.rules.findings[name].seen for rule in holding for name in rule.findings if name in d.rules.findings)


def charge_as_sure(d: Diagnosis, charge: Charge) -> Charge:
    """No charge is called right where a reading surely is what a wrong one is known by, whichever fault leads.

    What is set aside may hold a verdict, but never make one: it must stand by all readings as they were read as well.
    """
    if not isinstance(charge, ChargeVerdict):
        return charge
    against = _known_by(d, charge)
    doubts = [doubt for doubt in d.doubts if doubt.set_aside or doubt.spoils]
    if not against and doubts:
        true = as_if_true(d)
        read = judge_charge(d.visit, true.estimates, true.findings, true.ranked, (), (), d.rules)
        if read.verdict != charge.verdict or not true.explained.known or _known_by(true, charge):
            against = (max(doubts, key=lambda doubt: doubt.weight).reason,)
    return NoVerdict(charge.method, against, charge.by, charge.verdict, charge.chance) if against else charge


def _known_by(d: Diagnosis, charge: ChargeVerdict) -> tuple[Reason, ...]:
    """What a wrong charge is known by and surely is so, where the charge is called right.

    What no charge makes, a measured airflow say, may surely be off beside a right one.
    """
    if charge.verdict != "right" or not d.explained.of_charge:
        return ()
    return (Reason("surely-off-normal", {"findings": d.explained.of_charge}),)


def lacked_by_target(d: Diagnosis) -> tuple[str, ...]:
    """The readings for want of which the superheat of an orifice has no target: a starved coil then looks like a dry day."""
    superheat = d.estimates.get("superheat")
    if d.visit.machine.metering != FIXED_ORIFICE or superheat is None or superheat.good_day is not None:
        return ()
    return superheat.expected.readings if isinstance(superheat.expected, NoTarget) else ()


def by_typical_liquid(d: Diagnosis) -> bool:
    """Whether the liquid of a valve machine was judged by what is typical: neither its plate nor a good day was read."""
    liquid, machine = d.estimates.get("subcooling"), d.visit.machine
    if machine.metering == FIXED_ORIFICE or machine.mode == HEATING or liquid is None or liquid.good_day is not None:
        return False
    return liquid.target is not None and liquid.target.origin == "typical"


def may_be_a_low_stage(d: Diagnosis) -> bool:
    """Whether nobody said how many stages the compressor has: at a low one a sound machine looks like a worn one."""
    return "compressor" not in d.visit.machine.words and PUMPING not in d.findings


def at_most(d: Diagnosis) -> Mapping[str, Strength]:
    """Fault -> the strongest word that may be said of it, where that is not `strong`."""
    limits: dict[str, Strength] = {}

    def limit(fault: str, word: Strength) -> None:
        limits[fault] = max(limits.get(fault, word), word, key=STRENGTHS.index)

    right = [fault for fault, entry in d.rules.faults.items() if entry.charge == "right"]
    if not d.explained.known:
        for fault in d.rules.faults:
            limit(fault, "weak")
    if d.ranked and contradicted(d):
        limit(d.ranked[0].fault, "fair")
    if any(reason.code in CONFIRMS for reason in (*d.charge.caveats, *d.charge.reasons)):
        limit(d.ranked[0].fault, "fair")
    edge = max((doubt.weight for doubt in (*d.doubts, *d.nearly) if doubt.holds_visit), default=0)
    fair, weak = d.rules.judgement.strengths.edge  # beyond which nothing is ranked at all
    if d.ranked and edge >= fair:
        limit(d.ranked[0].fault, "weak" if edge >= weak else "fair")
    if PUMPS_LITTLE in d.rules.faults and may_be_a_low_stage(d):
        staged = machine_facts(d.visit.machine).get("compressor") == "likely staged"
        limit(PUMPS_LITTLE, "weak" if staged else "fair")
    for fault in unparted(d.findings, d.rules):
        limit(fault, "fair")
    # Air in the circuit reads as liquid, and shows in these alone.
    if d.findings.keys().isdisjoint((*BESIDE["high"], AT_REST)):
        for fault in (name for name, entry in d.rules.faults.items() if entry.charge == "high"):
            limit(fault, "fair")
    blind = any(
        rule.silent and rule.holds == "charge" for rule in d.applying.of_kind["readiness"]
    )  # nothing there shows the charge
    if blind and d.ranked:
        limit(d.ranked[0].fault, "fair")
    for fault in right:
        if any((doubt.set_aside or doubt.spoils) and doubt.firm for doubt in d.doubts):
            limit(fault, "weak" if as_if_true(d).ranked[0].fault not in right else "fair")
        if d.rules.silent:  # much that could be wrong shows nowhere
            limit(fault, "weak" if blind else "fair")
        if any(reason.code == CHARGE_HIDDEN for reason in d.charge.reasons):
            limit(fault, "weak")
        stops = d.stop or any(d.rules.by_id[x.code].entry.check == STOP for x in d.dangers if x.code in d.rules.by_id)
        if by_typical_liquid(d):
            limit(fault, "fair")
        if lacked_by_target(d) or stops or to_set_right(d):  # where the machine must be stopped, something is wrong
            limit(fault, "weak")
    return limits


def as_if_true(d: Diagnosis) -> Diagnosis:
    """The record as it would be ranked if all readings were true."""
    read = d.as_read or d.estimates
    if d.good_day is not None and d.good_day.used:
        read = expected_today(d.visit, read, d.good_day, d.rules.judgement.good_day)
    findings = find(d.visit, read, d.rules)
    matched = d.applying.plain.run({name: f.words for name, f in findings.items()})
    ranked = rank(d.rules, matched.firings)
    explained = explain_away(ranked, findings, d.rules, machine_facts(d.visit.machine))
    return d.grown(doubts=(), estimates=read, findings=findings, matched=matched, ranked=ranked, explained=explained)
