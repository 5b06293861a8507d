"""From fired rules to faults in order.

Score of a fault = how usual it is + the sum of points × certainty of its rules; one point doubles the odds. Share of a
fault = 2^score over the sum for all faults. A rule that asks for all that another one asks for, and more, takes the
general one's share, so the same evidence is not counted twice and nothing jumps.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from diagnose.rulebook import Rule, Rulebook
from diagnose.rulebook.matcher import Firing

# The words for a share. To be tied to measured frequencies once there are cases enough; judgement until then.
STRENGTHS = ((0.75, "strong"), (0.40, "fair"), (0.10, "weak"), (0.0, "unlikely"))


# Evidence that moves the score by less than this is counted but not told: a twentieth of a doubling of the odds.
TOLD = 0.05


@dataclass(frozen=True, slots=True)
class Evidence:
    """One fired rule for or against a fault. sure: as it fired; counted: what is left after more special rules."""

    rule: Rule
    firing: Firing
    counted: float

    @property
    def weight(self) -> float:
        """What it adds to the score, points."""
        return self.rule.points * self.counted


@dataclass(frozen=True, slots=True)
class Ranked:
    """One fault with its score (points), its share of all (0 to 1), and the evidence, weightiest first."""

    fault: str
    score: float
    share: float
    evidence: tuple[Evidence, ...]
    at_most: str = "strong"  # what the readings allow to be said, whatever the share

    @property
    def strength(self) -> str:
        """strong, fair, weak or unlikely."""
        words = [word for _, word in STRENGTHS]
        return max(strength(self.share), self.at_most, key=words.index)

    @property
    def supporting(self) -> tuple[Evidence, ...]:
        """What speaks for it, as far as it is worth telling."""
        return tuple(e for e in self.evidence if e.weight >= TOLD)

    @property
    def opposing(self) -> tuple[Evidence, ...]:
        """What speaks against it, as far as it is worth telling."""
        return tuple(e for e in self.evidence if e.weight <= -TOLD)


def rank(rules: Rulebook, firings: Sequence[Firing]) -> tuple[Ranked, ...]:
    """All faults of the book, likeliest first; ties in the order of how usual they are."""
    fired = {firing.rule: firing for firing in firings}
    evidence = {fault: _evidence(rules, fault, fired) for fault in rules.faults}
    scores = {fault: entry.usual + sum(e.weight for e in evidence[fault]) for fault, entry in rules.faults.items()}
    share = shares(scores)
    ranked = [
        Ranked(fault, scores[fault], share[fault], tuple(sorted(evidence[fault], key=lambda e: -abs(e.weight))))
        for fault in rules.faults
    ]
    return tuple(sorted(ranked, key=lambda r: -r.score))


def score(rules: Rulebook, fault: str, fired: Mapping[str, Firing]) -> float:
    """Points of one fault from the rules that fired (by id): how usual it is, and its evidence."""
    return rules.faults[fault].usual + sum(e.weight for e in _evidence(rules, fault, fired))


def shares(scores: Mapping[str, float]) -> dict[str, float]:
    """Each fault's share of the odds, 0 to 1, from all scores, points."""
    highest = max(scores.values(), default=0.0)
    odds = {fault: 2.0 ** (points - highest) for fault, points in scores.items()}
    total = sum(odds.values())
    return {fault: odd / total for fault, odd in odds.items()}


def strength(share: float) -> str:
    """strong, fair, weak or unlikely: the word for a share of the odds, 0 to 1."""
    return next(word for least, word in STRENGTHS if share >= least)


def _evidence(rules: Rulebook, fault: str, fired: Mapping[str, Firing]) -> list[Evidence]:
    found = []
    speaking = [rule for rule in rules.evidence(fault) if rule.id in fired]
    for rule in speaking:
        special = rules.more_special(rule)
        taken = max((fired[other.id].sure for other in speaking if other.id in special), default=0.0)
        firing = fired[rule.id]
        found.append(Evidence(rule, firing, max(0.0, firing.sure - taken)))
    return found
