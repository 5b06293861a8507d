"""From fired rules to faults in order.

Score of a fault = how usual it is + the sum of points × certainty of its rules; one point doubles the odds. Share of a
fault = 2^score over the sum for all faults. A rule that asks for all that another one asks for, and more, takes the
general one's share, so the same evidence is not counted twice and nothing jumps.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Literal, NamedTuple, get_args

from diagnose.rulebook import Rule, Rulebook
from diagnose.rulebook.book import WeighedRule
from diagnose.rulebook.judgement import Strengths
from diagnose.rulebook.matcher import Firing

Strength = Literal["strong", "fair", "weak", "unlikely"]
STRENGTHS: tuple[Strength, ...] = get_args(Strength)
"""The words for a share of the odds; the shares from which they hold stand in rules/judgement.yaml."""


# Evidence that moves the score by less than this is counted but not told: a twentieth of a doubling of the odds.
TOLD = 0.05
HAIR = 1e-9
"""Sums of points that are nearer to each other, or to a limit, are equal: in which order they were added is no reason."""


class Evidence(NamedTuple):
    """One fired rule for or against a fault. sure: as it fired; counted: what is left after rules that ask for more."""

    rule: Rule
    firing: Firing
    counted: float

    @property
    def weight(self) -> float:
        """What it adds to the score, points."""
        return self.rule.points * self.counted


class Ranked(NamedTuple):
    """One fault with its score (points), its share of all (0 to 1), and the evidence, weightiest first."""

    fault: str
    score: float
    share: float
    evidence: tuple[Evidence, ...]
    by_share: Strength  # the word for its share
    at_most: Strength = "strong"  # what the readings allow to be said, whatever the share

    def __repr__(self) -> str:
        return f"<Ranked {self.fault}: {self.score:.1f} points, {self.share:.2f}, {self.strength}>"

    @property
    def strength(self) -> Strength:
        """strong, fair, weak or unlikely."""
        return max(self.by_share, self.at_most, key=STRENGTHS.index)

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
    evidence = _evidence(rules, firings)
    scores = {fault: entry.usual + sum([e.weight for e in evidence[fault]]) for fault, entry in rules.faults.items()}
    share = shares(scores)
    ranked = [
        Ranked(
            fault,
            scores[fault],
            share[fault],
            tuple(sorted(evidence[fault], key=lambda e: -abs(e.weight))),
            word_for(fault, share, rules),
        )
        for fault in rules.faults
    ]
    return tuple(sorted(ranked, key=lambda r: -round(r.score, 9)))  # HAIR: of equal ones in the order of the book


def points(evidence: Sequence[WeighedRule], certainties: Sequence[float]) -> float:
    """The points of a fault's evidence, from how sure each pattern is (by number): the same sum as in `rank`."""
    total = 0.0
    for pattern, each, special in evidence:
        sure = certainties[pattern]
        if sure > 0.0:
            for other in special:
                if certainties[other] > 0.0:
                    sure = min(sure, certainties[pattern] - certainties[other])
            if sure > 0.0:
                total += each * sure
    return total


def shares(scores: Mapping[str, float]) -> dict[str, float]:
    """Each fault's share of the odds, 0 to 1, from all scores, points."""
    return dict(zip(scores, shares_of(scores.values()), strict=True))


def shares_of(scores: Collection[float]) -> list[float]:
    """The same of the bare scores."""
    highest = max(scores, default=0.0)
    odds = [2.0 ** (points - highest) for points in scores]
    total = sum(odds)
    return [odd / total for odd in odds]


def strength(share: float, figures: Strengths) -> Strength:
    """strong, fair, weak or unlikely: the word for a share of the odds, 0 to 1."""
    for word, least in zip(STRENGTHS, (figures.strong, figures.fair, figures.weak), strict=False):
        if share >= least:
            return word
    return "unlikely"


def word_for(fault: str, share: Mapping[str, float], rules: Rulebook) -> Strength:
    """The word for a fault's share; the likeliest of several that are one doubt has that of all of them, at most fair.

    Which of them it is, the readings may leave open; that it is one of them, they say as surely as the sum of the shares.
    """
    figures = rules.judgement.strengths
    own = strength(share[fault], figures)
    for group in rules.charge.one_doubt:
        if fault in group and fault == max(group, key=lambda other: share.get(other, 0.0)):
            together = strength(sum([share.get(other, 0.0) for other in group]), figures)
            return min(own, max(together, "fair", key=STRENGTHS.index), key=STRENGTHS.index)
    return own


def _evidence(rules: Rulebook, firings: Sequence[Firing]) -> dict[str, list[Evidence]]:
    """Fault -> what speaks for or against it, each rule with what those that ask for more leave of it."""
    found: dict[str, list[Evidence]] = {fault: [] for fault in rules.faults}
    sure = {firing.rule: firing.sure for firing in firings}
    for firing in firings:
        rule = rules.by_id[firing.rule]
        if rule.fault:
            special = rules.more_special(rule)  # most rules have none
            taken = max((sure[other] for other in special if other in sure), default=0.0) if special else 0.0
            found[rule.fault].append(Evidence(rule, firing, max(0.0, firing.sure - taken)))
    return found
