"""The reasons, as data: for, against, what was not measured, what looks alike, and the whole trace of one fault."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from diagnose.diagnosis.findings import Finding
from diagnose.diagnosis.ranking import Evidence, Ranked
from diagnose.diagnosis.wording import cite, fill, spoken_by
from diagnose.rulebook import Rule, Rulebook
from diagnose.rulebook.matcher import Matched
from diagnose.visit import System

# Evidence that moves the score by less than this is counted but not told: a twentieth of a doubling of the odds.
TOLD = 0.05


@dataclass(frozen=True, slots=True)
class Statement:
    """One rule's word on a fault. points: as the rule has them; sure: what is counted of it, 0 to 1.

    book: `shipped`, or the company's folder the rule is from. note: who spoke or changed it, where that is a company.
    """

    rule: str
    title: str
    points: float
    sure: float
    text: str
    source: str
    findings: tuple[str, ...]
    book: str = "shipped"
    note: str = ""

    @property
    def weight(self) -> float:
        """What it adds to the score, points."""
        return self.points * self.sure


@dataclass(frozen=True, slots=True)
class Missing:
    """A finding that was not measured and about which this fault has rules. at_stake: the most points it could move."""

    finding: str
    ask: str
    at_stake: float


@dataclass(frozen=True, slots=True)
class Explained:
    """One fault with its place, its reasons in words, and what looks like it."""

    fault: str
    name: str
    score: float
    share: float
    strength: str
    supporting: tuple[Statement, ...]
    opposing: tuple[Statement, ...]
    missing: tuple[Missing, ...]
    what: str
    looks_like: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Short:
    """A rule that did not fire because of one finding only. lacking: that finding; has: its word now (None: not measured)."""

    rule: str
    title: str
    points: float
    lacking: str
    wants: tuple[str, ...]
    has: str | None


def explain(
    ranked: Sequence[Ranked], findings: Mapping[str, Finding], rules: Rulebook, applying: Sequence[Rule], system: System
) -> tuple[Explained, ...]:
    """Every ranked fault, with reasons."""
    by_fault: dict[str, list[Rule]] = {}
    for rule in applying:
        if rule.kind == "evidence":
            by_fault.setdefault(rule.fault, []).append(rule)
    leaves = _state_leaves(applying)
    found = []
    for place in ranked:
        entry = rules.faults[place.fault]
        found.append(
            Explained(
                fault=place.fault,
                name=entry.name,
                score=place.score,
                share=place.share,
                strength=place.strength,
                supporting=tuple(statement(e, findings, rules, system) for e in place.supporting if e.weight >= TOLD),
                opposing=tuple(statement(e, findings, rules, system) for e in place.opposing if e.weight <= -TOLD),
                missing=_missing(by_fault.get(place.fault, []), findings, rules, leaves),
                what=entry.what,
                looks_like=entry.looks_like,
            )
        )
    return tuple(found)


def statement(evidence: Evidence, findings: Mapping[str, Finding], rules: Rulebook, system: System) -> Statement:
    """What one rule says of this visit."""
    rule = evidence.rule
    return Statement(
        rule=rule.id,
        title=rule.entry.title,
        points=rule.points,
        sure=evidence.counted,
        text=fill(rule.entry.why, findings, system),
        source=cite(rule.entry.source, rules),
        findings=rule.findings,
        book=rule.own or rules.base,
        note=spoken_by(rule, rules).strip(" ()"),
    )


def _state_leaves(applying: Sequence[Rule]) -> dict[str, tuple[str, ...]]:
    """State -> findings from which it can be concluded."""
    found: dict[str, dict[str, None]] = {}
    for rule in applying:
        if rule.concludes is not None:
            found.setdefault(rule.concludes[0], {}).update(dict.fromkeys(rule.findings))
    return {state: tuple(names) for state, names in found.items()}


def _missing(
    evidence: Sequence[Rule], findings: Mapping[str, Finding], rules: Rulebook, leaves: Mapping[str, tuple[str, ...]]
) -> tuple[Missing, ...]:
    stakes: dict[str, float] = {}
    for rule in evidence:
        for name in rule.findings:
            for leaf in leaves.get(name, (name,)):
                if leaf not in findings and leaf in rules.findings:
                    stakes[leaf] = max(stakes.get(leaf, 0.0), abs(rule.points))
    ordered = sorted(stakes, key=lambda name: -stakes[name])
    return tuple(Missing(name, _ask(name, rules), stakes[name]) for name in ordered)


def _ask(finding: str, rules: Rulebook) -> str:
    """How to get a finding: its own words, else those of a check that gives it."""
    entry = rules.findings[finding]
    if entry.ask:
        return entry.ask
    return next((c.ask for c in rules.checks.values() if finding in c.gives), f"Measure {entry.what}.")


def one_short(
    fault: str, applying: Sequence[Rule], matched: Matched, findings: Mapping[str, Finding]
) -> tuple[Short, ...]:
    """The rules of a fault that lack exactly one finding to fire, those with most points first."""
    fired = {firing.rule for firing in matched.firings}
    found = []
    for rule in applying:
        if rule.fault != fault or rule.id in fired or rule.either:
            continue
        lacking = [(name, words) for name, words in rule.when if not _words(name, findings, matched) & words]
        if len(lacking) == 1 and (len(rule.when) > 1 or _words(lacking[0][0], findings, matched)):
            name, words = lacking[0]
            has = _likeliest(name, findings, matched)
            found.append(Short(rule.id, rule.entry.title, rule.points, name, tuple(sorted(words)), has))
    return tuple(sorted(found, key=lambda s: -abs(s.points)))


def _words(name: str, findings: Mapping[str, Finding], matched: Matched) -> frozenset[str]:
    if name in findings:
        return frozenset(w for w, p in findings[name].words.items() if p > 0)
    return frozenset(matched.states.get(name, {}))


def _likeliest(name: str, findings: Mapping[str, Finding], matched: Matched) -> str | None:
    if name in findings:
        return findings[name].word
    state = matched.states.get(name)
    return max(state, key=lambda w: state[w]) if state else None
