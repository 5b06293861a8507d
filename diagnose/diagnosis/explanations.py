"""What is lacking: findings that were not measured and would matter to a fault, and rules that nearly fired."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from diagnose.diagnosis.record import Diagnosis
from diagnose.quantities import of_other_mode
from diagnose.rulebook import Rule, applies, machine_facts
from diagnose.visit import COOLING


@dataclass(frozen=True, slots=True)
class Missing:
    """A finding that was not measured and about which a fault has rules. at_stake: the most points it could move."""

    finding: str
    at_stake: float


@dataclass(frozen=True, slots=True)
class NearMiss:
    """A rule that did not fire because of one finding only. lacking: that finding; has: its word now (None: not measured)."""

    rule: Rule
    lacking: str
    wants: tuple[str, ...]
    has: str | None


def missing(d: Diagnosis, fault: str) -> tuple[Missing, ...]:
    """What was not measured, has words on such a machine and would matter most to this fault, weightiest first."""
    leaves = _state_leaves(d.applying.rules)
    stakes: dict[str, float] = {}
    for rule in d.applying.rules:
        if rule.fault == fault:
            for name in rule.findings:
                for leaf in leaves.get(name, (name,)):
                    if leaf not in d.findings and has_words(leaf, d):
                        stakes[leaf] = max(stakes.get(leaf, 0.0), abs(rule.points))
    return tuple(Missing(name, stakes[name]) for name in sorted(stakes, key=lambda name: -stakes[name]))


def has_words(name: str, d: Diagnosis) -> bool:
    """Whether such a machine can give this finding a word: it is seen, or some limits are for it."""
    entry, facts = d.rules.findings.get(name), machine_facts(d.visit.machine)
    if entry is None or entry.seen or entry.quantity in of_other_mode(d.visit.machine.mode or COOLING):
        return entry is not None and entry.seen
    return any(applies(scale.applies, facts) for scale in entry.scales)


def _state_leaves(applying: Sequence[Rule]) -> Mapping[str, tuple[str, ...]]:
    """State -> findings from which it can be concluded."""
    found: dict[str, dict[str, None]] = {}
    for rule in applying:
        if rule.concludes is not None:
            found.setdefault(rule.concludes[0], {}).update(dict.fromkeys(rule.findings))
    return {state: tuple(names) for state, names in found.items()}


def near_misses(d: Diagnosis, fault: str) -> tuple[NearMiss, ...]:
    """The rules of a fault that lack exactly one finding to fire, those with most points first."""
    fired = {firing.rule for firing in d.matched.firings}
    found = []
    for rule in d.applying.rules:
        if rule.fault != fault or rule.id in fired or rule.either:
            continue
        lacking = [(name, words) for name, words in rule.when if not _words(name, d) & words]
        if len(lacking) == 1 and (len(rule.when) > 1 or _words(lacking[0][0], d)):
            name, words = lacking[0]
            found.append(NearMiss(rule, name, tuple(sorted(words)), _likeliest(name, d)))
    return tuple(sorted(found, key=lambda miss: -abs(miss.rule.points)))


def _words(name: str, d: Diagnosis) -> frozenset[str]:
    if name in d.findings:
        return frozenset(w for w, p in d.findings[name].words.items() if p > 0)
    return frozenset(d.states.get(name, {}))


def _likeliest(name: str, d: Diagnosis) -> str | None:
    if name in d.findings:
        return d.findings[name].word
    state = d.states.get(name)
    return max(state, key=lambda w: state[w]) if state else None
