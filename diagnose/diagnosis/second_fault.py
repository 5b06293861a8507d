"""Two faults at once, and none that is known: what the leading fault makes of the readings, and what is left over.

Every fault says in its file which findings it makes by itself (`brings`). A finding that is firmly off normal and that
the leader does not make asks for a second fault, or, where there is none, for another look at the readings.

The second is found by explaining away: what the leader makes is no evidence for another fault, and no evidence against
one either, for it would be there all the same; nor is what the two pull apart, for together they may leave it where it
was. Of what is left, the fault with the most points is the second.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from diagnose.diagnosis.findings import Finding
from diagnose.diagnosis.ranking import HAIR, Evidence, Ranked
from diagnose.rulebook import Rulebook
from diagnose.rulebook.makes import Made


class Second(NamedTuple):
    """A second fault, what its evidence is worth without the leader's findings, and which findings are its own."""

    fault: str
    points: float
    findings: tuple[str, ...]


class ExplainedAway(NamedTuple):
    """The findings that are firmly off normal, and whose they are.

    first: those that the leading fault makes. second: the fault that explains others, if any. left: what neither makes.
    known: whether the leader, with the second, is a pattern at all. sure: what was measured and surely is off normal, whoever
    makes it; of_charge: the part of it that a charge which is off is known by.
    """

    first: tuple[str, ...] = ()
    second: Second | None = None
    left: tuple[str, ...] = ()
    known: bool = True
    sure: tuple[str, ...] = ()
    of_charge: tuple[str, ...] = ()


def explain_away(
    ranked: Sequence[Ranked], findings: Mapping[str, Finding], rules: Rulebook, facts: Mapping[str, str]
) -> ExplainedAway:
    """Which findings the leading fault explains, which fault explains the others, and what nothing explains."""
    if not ranked:
        return ExplainedAway()
    makes = rules.makes(facts)
    made, off = makes.of, makes.off
    firm = [
        name for name, f in findings.items() if name in off and f.chance(off[name]) >= rules.judgement.second_fault.firm
    ]
    surely, of_charge = (
        tuple(
            name
            for name in firm
            if name in words
            and findings[name].estimate is not None
            and findings[name].chance(words[name]) >= rules.judgement.second_fault.sure
        )
        for words in (off, makes.of_charge)
    )
    leader = ranked[0]
    first = tuple(name for name in firm if _made(findings[name], off[name], made[leader.fault]))
    second = None
    if rules.faults[leader.fault].charge != "right":
        second = _second(leader, ranked[1:], findings, rules, made, off)
    others = [name for name in firm if name not in first]
    if second is not None:
        its = tuple(name for name in others if _made(findings[name], off[name], made[second.fault]))
        own = its or tuple(name for name in second.findings if name not in first)
        second = second._replace(findings=own) if own else None
        others = [name for name in others if name not in own]
    if not _known(leader, first, second, others, rules) and not _makes_all(firm, findings, made, off):
        return ExplainedAway(
            first,
            None,
            tuple(name for name in firm if name not in first),
            known=False,
            sure=surely,
            of_charge=of_charge,
        )
    return ExplainedAway(first, second, tuple(others), sure=surely, of_charge=of_charge)


def _makes_all(firm: Sequence[str], findings: Mapping[str, Finding], made: Mapping[str, Made], off: Made) -> bool:
    """Whether any one fault makes every finding that is firmly off normal: then there is a pattern, whoever leads."""
    return any(all(_made(findings[name], off[name], its) for name in firm) for its in made.values())


def _known(leader: Ranked, first: Sequence[str], second: Second | None, left: Sequence[str], rules: Rulebook) -> bool:
    """Whether the leader explains more than it leaves open, and more speaks for it than against it."""
    figures = rules.judgement.second_fault
    if rules.faults[leader.fault].charge == "right":
        return len(left) < figures.unplaced
    if second is not None:
        return leader.share >= figures.fair and len(left) <= len(first) + len(second.findings)
    balance = sum(e.weight for e in leader.evidence)
    return not left or (balance > HAIR and (len(left) == 1 or len(left) < len(first)))


def _made(finding: Finding, off: frozenset[str], made: Made) -> bool:
    """Whether what is off normal about a finding is for the most part what this fault makes."""
    return 2 * finding.chance(made.get(finding.name, frozenset())) >= finding.chance(off)


def _second(
    leader: Ranked,
    others: Sequence[Ranked],
    findings: Mapping[str, Finding],
    rules: Rulebook,
    made: Mapping[str, Made],
    off: Made,
) -> Second | None:
    figures = rules.judgement.second_fault
    alike = next((group for group in rules.charge.one_doubt if leader.fault in group), [leader.fault])
    charge = rules.faults[leader.fault].charge
    found = []
    for place in others:
        its = rules.faults[place.fault].charge
        if its == "right" or place.fault in alike or (charge is not None and its is not None):
            continue  # nothing wrong is no second fault, nor is what gauges cannot part; no charge is both low and high
        points = 0.0
        new: dict[str, None] = {}
        for e in place.evidence:
            if e.weight > 0:
                fresh = _fresh(e, findings, rules, made[leader.fault], off)
                points += e.weight * max(fresh.values(), default=0)
                new |= dict.fromkeys(name for name, share in fresh.items() if share >= 0.5)
            else:
                points += e.weight * (1 - _excused(e, findings, rules, made[leader.fault], made[place.fault], off))
        if points >= figures.net - HAIR:
            found.append(Second(place.fault, points, tuple(new)))
    return max(found, key=lambda s: round(s.points / HAIR), default=None)


def _fresh(e: Evidence, findings: Mapping[str, Finding], rules: Rulebook, made: Made, off: Made) -> dict[str, float]:
    """The findings off normal that a piece of evidence rests on, each with the share of it that the leader does not make."""
    found = {}
    for name, words in rules.spelled_out(e.rule):
        if name in findings and words & off.get(name, frozenset()):
            new = words & off[name] - made.get(name, frozenset())
            if total := findings[name].chance(words):
                found[name] = findings[name].chance(new) / total
    return found


def without_what_it_does_not_make(
    place: Ranked, fault: str, findings: Mapping[str, Finding], rules: Rulebook, facts: Mapping[str, str]
) -> float:
    """The share that would be another one's if nothing spoke against it but what `fault` makes.

    What neither makes says nothing of which of the two it is: it asks for a third.
    """
    made = rules.makes(facts).of[fault]
    spared = 0.0
    for e in place.evidence:
        if e.weight < 0:
            asked = [(findings[name], words) for name, words in rules.spelled_out(e.rule) if name in findings]
            its = max((_explained(finding, words, made) for finding, words in asked), default=1.0)
            spared -= e.weight * (1.0 - its)
    return place.share * math.exp2(spared)


def _excused(e: Evidence, findings: Mapping[str, Finding], rules: Rulebook, made: Made, its: Made, off: Made) -> float:
    """How much of an objection falls away because the leader makes the finding, or pulls it away from what the other makes."""
    most: float = 0
    for name, words in rules.spelled_out(e.rule):
        if name not in findings:
            continue
        if words & off.get(name, frozenset()):
            most = max(most, _explained(findings[name], words, made))
        elif pull_apart(name, made, its):
            most = 1
    return most


def pull_apart(name: str, one: Made, other: Made) -> bool:
    """Whether both move a finding, and to words of which they have none in common."""
    return name in one and name in other and not one[name] & other[name]


def _explained(finding: Finding, words: frozenset[str], made: Made) -> float:
    """The share of these words' chance that the leader makes."""
    total = finding.chance(words)
    return finding.chance(words & made.get(finding.name, frozenset())) / total if total else 0
