"""What to do next, and why: the check that can move the answer most for its minutes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from diagnose.findings import Finding
from diagnose.ranking import Ranked
from diagnose.rulebook import Rule, Rulebook

LISTED = 4
# Faults below this share are not worth a check of their own.
IN_PLAY = 0.03
# Five minutes on top of each check for fetching and reading: without them the shortest check would always win.
HANDLING = 5.0


@dataclass(frozen=True, slots=True)
class NextCheck:
    """One thing to do. worth: points it could move between the faults in play, for each minute."""

    check: str
    ask: str
    why: str
    minutes: float
    needs: str | None
    worth: float
    gives: tuple[str, ...]


def next_checks(
    ranked: Sequence[Ranked],
    findings: Mapping[str, Finding],
    rules: Rulebook,
    applying: Sequence[Rule],
    first: Sequence[str] = (),
    always: Sequence[str] = (),
) -> tuple[NextCheck, ...]:
    """The checks worth doing, best first; those named in `first` go before all others, `always` are never left out."""
    gains = _gains(ranked, findings, applying)
    found: dict[str, NextCheck] = {}
    for name, entry in rules.checks.items():
        new = tuple(g for g in entry.gives if g not in findings)
        worth = max((gains.get(g, 0.0) for g in new), default=0.0)
        # More than one new finding helps, but the second never as much as the first.
        worth += 0.25 * (sum(gains.get(g, 0.0) for g in new) - worth)
        if worth > 0.05 or name in first:
            found[name] = NextCheck(
                name, entry.ask, entry.why, entry.minutes, entry.needs, worth / (entry.minutes + HANDLING), new
            )
    for check, bonus in _recommended(ranked, rules).items():
        entry = rules.checks[check]
        if entry.gives and all(g in findings for g in entry.gives):
            continue
        have = found.get(check)
        worth = bonus / (entry.minutes + HANDLING) + (have.worth if have else 0.0)
        found[check] = NextCheck(check, entry.ask, entry.why, entry.minutes, entry.needs, worth, tuple(entry.gives))
    for name in (*first, *always):
        if name in rules.checks and name not in found:
            entry = rules.checks[name]
            found[name] = NextCheck(name, entry.ask, entry.why, entry.minutes, entry.needs, 0.0, tuple(entry.gives))
    order = {name: i for i, name in enumerate(dict.fromkeys(first))}
    ordered = sorted(found.values(), key=lambda c: (order.get(c.check, len(order)), -c.worth))
    kept = ordered[:LISTED]
    return (*kept, *(c for c in ordered[LISTED:] if c.check in always))


def _gains(ranked: Sequence[Ranked], findings: Mapping[str, Finding], applying: Sequence[Rule]) -> dict[str, float]:
    """Finding not yet known -> points it could move, weighed by how much each fault is in play."""
    shares = {r.fault: r.share for r in ranked if r.share >= IN_PLAY}
    states: dict[str, set[str]] = {}
    for rule in applying:
        if rule.concludes is not None:
            states.setdefault(rule.concludes[0], set()).update(rule.findings)
    gains: dict[str, float] = {}
    for rule in applying:
        share = shares.get(rule.fault)
        if share is None:
            continue
        # A fault that is certain, or out of the question, has nothing to gain from one more finding.
        doubt = 4 * share * (1 - share)
        lacking = {leaf for name in rule.findings for leaf in states.get(name, {name}) if leaf not in findings}
        if len(lacking) == 1:
            name = next(iter(lacking))
            gains[name] = max(gains.get(name, 0.0), abs(rule.points) * doubt)
    return gains


def _recommended(ranked: Sequence[Ranked], rules: Rulebook) -> dict[str, float]:
    """The checks that the firing rules of the leading fault name themselves."""
    found: dict[str, float] = {}
    for place in ranked[:1]:
        for evidence in place.supporting:
            check = evidence.rule.entry.check
            if check is not None and evidence.weight > 0.5:
                found[check] = max(found.get(check, 0.0), evidence.weight * place.share)
    return {name: bonus for name, bonus in found.items() if name in rules.checks}
