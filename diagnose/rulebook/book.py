"""The rule book as the pipeline uses it: frozen, checked, conditions spelled out."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Literal, NamedTuple, TypeVar, get_args

from diagnose.rulebook.entries import (
    BookChange,
    ChargePolicy,
    CheckEntry,
    Conditions,
    FaultEntry,
    FindingEntry,
    JudgedFigure,
    Level,
    OnSome,
    PressureLimits,
    RuleEntry,
    Signed,
    SourceEntry,
    StateEntry,
    Unfit,
    fields_of,
)
from diagnose.rulebook.facts import applies, check_for, in_its_mode, of_mode
from diagnose.rulebook.judgement import Judgement, judgement_of
from diagnose.rulebook.makes import Makes, asked_findings, makes
from diagnose.rulebook.matcher import EngineName, Matcher, Pattern, PlainMatcher, matcher_for
from diagnose.visit.fields import COOLING, HEATING
from diagnose.visit.own import NOTHING_OWN, Own
from diagnose.yamlfile import InputProblems


class RuleError(InputProblems):
    """The rule files cannot be used. `problems` lists every mistake."""


K = TypeVar("K")
V = TypeVar("V")
RuleKind = Literal["evidence", "state", "readiness", "caution"]


@dataclass(frozen=True, slots=True, repr=False)
class Rule:
    """One rule. `when` all hold, and one of `either` where that is not empty.

    points: for evidence. fault: whose evidence. concludes: for states. holds: for readiness, silent: the findings that say
    nothing where it applies. rank: for cautions;
    level: for those that are dangers. own: the company's folder that it is from; empty for a shipped rule.
    """

    kind: RuleKind
    entry: RuleEntry
    when: Conditions
    either: tuple[Conditions, ...]
    applies: Conditions
    fault: str = ""
    points: float = 0.0
    concludes: tuple[str, str] | None = None
    holds: str = ""
    silent: tuple[str, ...] = ()
    rank: int = 0
    level: Level | None = None
    file: str = ""
    own: str = ""
    findings: tuple[str, ...] = field(init=False, compare=False)
    """Every finding and state it reads."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "findings", tuple(dict.fromkeys(name for name, _ in self.conditions)))

    def __repr__(self) -> str:
        points = f", {self.points:+g} for {self.fault}" if self.kind == "evidence" else ""
        return f"<Rule {self.id}: {self.kind}{points}>"

    @property
    def id(self) -> str:
        """The rule's id, unique in the book."""
        return self.entry.id

    @property
    def conditions(self) -> Conditions:
        """Every condition, also each of every branch of `either`."""
        return (*self.when, *(condition for branch in self.either for condition in branch))

    def speaks_of(self, facts: Mapping[str, str], conditions: Conditions | None = None) -> bool:
        """Whether it holds of a machine with these facts; evidence that does not name the mode is for cooling.

        conditions: those of `applies` that are asked for, all unless they are given.
        """
        asked = self.applies if conditions is None else conditions
        return (in_its_mode if self.kind == "evidence" else applies)(asked, facts)

    def meets(self, other: Rule) -> bool:
        """Whether there is a machine of which both speak; evidence that does not name the mode is for cooling."""
        one, two = ({"mode": frozenset((COOLING,))} | dict(rule.applies) for rule in (self, other))
        return all(words & two[name] for name, words in one.items() if name in two)

    def contains(self, general: Rule) -> bool:
        """Whether this rule asks for everything the general one asks for, and for more.

        One way of the general rule's `any` is enough, if this rule asks for all of it.
        """
        return self._asks_for(general) and not general._asks_for(self)

    def _asks_for(self, other: Rule) -> bool:
        """Whether wherever this rule holds, the other one does."""
        ways = [dict(self.when) | dict(branch) for branch in self.either or ((),)]
        return all(any(_within(way, (*other.when, *branch)) for branch in other.either or ((),)) for way in ways)


def _within(conditions: Mapping[str, frozenset[str]], wider: Conditions) -> bool:
    """Whether each of the wider conditions is asked for, with the same words or fewer."""
    return all(name in conditions and conditions[name] <= words for name, words in wider)


MOST_KEPT = 64
"""Kinds of machines of which is kept what was worked out for them, some 0.1 MiB each: a server meets thousands."""


def keep(kept: dict[K, V], key: K, value: V) -> V:
    """The value, kept; where there are many, they are forgotten first."""
    if len(kept) >= MOST_KEPT:
        kept.clear()
    kept[key] = value
    return value


class WeighedRule(NamedTuple):
    """A rule that speaks for or against a fault: its pattern, its points, the patterns that ask for all it does and more.

    Patterns by their number in `Applying.patterns`.
    """

    pattern: int
    points: float
    special: tuple[int, ...]


@dataclass(frozen=True)
class Applying:
    """The rules that speak about one kind of machine, in the order of the book, and the same as the matcher wants them.

    Rules without conditions have no pattern: they hold wherever they apply.
    """

    rules: tuple[Rule, ...]
    patterns: tuple[Pattern, ...]
    _book: Rulebook = field(repr=False, compare=False)
    _facts: Mapping[str, str] = field(repr=False, compare=False)

    @cached_property
    def plain(self) -> PlainMatcher:
        """The plain matcher of these patterns: for every pass but the judging one."""
        return PlainMatcher(self.patterns)

    @cached_property
    def alarming(self) -> PlainMatcher:
        """The same of the cautions alone, with what concludes the states that they ask for and whether the machine runs."""
        cautions = {rule.id for rule in self.rules if rule.kind == "caution"}
        asked, kept = {"compressor"}, set[str]()
        while True:
            taken = [p for p in self.patterns if p.id in cautions or (p.concludes and p.concludes[0] in asked)]
            if len(taken) == len(kept):
                return PlainMatcher(tuple(taken))
            kept = {p.id for p in taken}
            asked |= {name for p in taken for name, _ in (*p.when, *(one for branch in p.either for one in branch))}

    def matcher(self, engine: EngineName = "auto") -> Matcher:
        """The matcher of these patterns, held here: `matcher_for` hashes and compares every one of them."""
        if engine == "plain":
            return self.plain
        if engine not in self._matchers:
            self._matchers[engine] = matcher_for(self.patterns, engine)
        return self._matchers[engine]

    @cached_property
    def _matchers(self) -> dict[EngineName, Matcher]:
        return {}

    @cached_property
    def makes(self) -> Makes:
        """What each fault makes on such a machine."""
        return makes(self._book, self._facts)

    @cached_property
    def of_kind(self) -> Mapping[RuleKind, tuple[Rule, ...]]:
        """The rules by their kind: few are of those that are looked through again and again."""
        return {kind: tuple(rule for rule in self.rules if rule.kind == kind) for kind in get_args(RuleKind)}

    @cached_property
    def kept(self) -> dict[str, Any]:
        """What rooms above have worked out of it, by name."""
        return {}

    @cached_property
    def weighed(self) -> Mapping[str, tuple[WeighedRule, ...]]:
        """fault -> the rules that speak for or against it, as numbers; faults without a rule are left out."""
        number = {pattern.id: i for i, pattern in enumerate(self.patterns)}
        found: dict[str, list[WeighedRule]] = {}
        for rule in self.rules:
            if rule.fault and rule.id in number:
                special = tuple(sorted(number[other] for other in self._book.more_special(rule) if other in number))
                found.setdefault(rule.fault, []).append(WeighedRule(number[rule.id], rule.points, special))
        return {fault: tuple(weighed) for fault, weighed in found.items()}


@dataclass(frozen=True, repr=False)
class Rulebook:
    """Shipped rules and what was laid over them, checked as a whole."""

    name: str
    findings: Mapping[str, FindingEntry]
    states: Mapping[str, StateEntry]
    rules: tuple[Rule, ...]
    faults: Mapping[str, FaultEntry]
    checks: Mapping[str, CheckEntry]
    sources: Mapping[str, SourceEntry]
    charge: ChargePolicy
    figures: Mapping[str, JudgedFigure]  # of judgement.yaml, by name
    pressure_limits: PressureLimits | None = None
    changes: tuple[tuple[str, BookChange], ...] = ()  # (company's folder, change) that were applied
    silent: frozenset[str] = frozenset()  # findings that say nothing on the machine that the book is `about`
    added: Mapping[str, str] = field(default_factory=dict)  # finding, state, check, source, fault -> company's folder
    signed: Mapping[str, Signed] = field(
        default_factory=dict
    )  # entries that say who wrote them, since when, or their status
    renamed: Mapping[str, Mapping[str, str]] = field(
        default_factory=dict
    )  # kind -> name in an earlier book -> name now
    on_some: tuple[OnSome, ...] = ()  # changes that hold on some machines only
    own: Own = NOTHING_OWN  # readings, machine facts and quantities that companies have added
    unfit: Unfit | None = None  # where other rules were asked for, and could not be used

    def __getstate__(self) -> dict[str, Any]:
        """Its fields alone go to another process: what was worked out of them is worked out there, matchers among it."""
        return {name: getattr(self, name) for name in fields_of(Rulebook)}

    def __repr__(self) -> str:
        counts = f"{len(self.faults)} faults, {len(self.rules)} rules, {len(self.findings)} findings"
        return f"<Rulebook {self.name}: {counts}>"

    @cached_property
    def judgement(self) -> Judgement:
        """The figures of judgement.yaml, grouped, SI: what the pipeline hands to the functions that decide by them."""
        return judgement_of(self.figures)

    @cached_property
    def by_id(self) -> Mapping[str, Rule]:
        """The rules by their ids."""
        return {rule.id: rule for rule in self.rules}

    @cached_property
    def base(self) -> str:
        """What the book is laid over: `shipped`, or the name of another whole book."""
        return self.name.partition(" + ")[0].partition(" (")[0]

    @cached_property
    def _changed(self) -> Mapping[str, tuple[tuple[str, BookChange], ...]]:
        found: dict[str, tuple[tuple[str, BookChange], ...]] = {}
        for own, change in self.changes:
            found[change.target] = (*found.get(change.target, ()), (own, change))
        return found

    @cached_property
    def loosened(self) -> tuple[tuple[str, BookChange], ...]:
        """The changes by which a danger or a hold is told later than by the shipped book, or not at all; by folder."""
        return tuple((own, change) for own, change in self.changes if change.loosens)

    def changes_of(self, name: str) -> tuple[tuple[str, BookChange], ...]:
        """Which folders changed this rule, finding, fault or figure, and how."""
        return self._changed.get(name, ())

    @cached_property
    def seen(self) -> Mapping[str, FindingEntry]:
        """Findings that are looked at, not worked out."""
        return {name: entry for name, entry in self.findings.items() if entry.seen}

    def about(self, facts: Mapping[str, str]) -> Rulebook:
        """The book of such a machine: the faults it can have, the checks that can be done there, as they are told there,
        and nothing that says nothing there; worked out once for each.

        facts: see `machine_facts`.
        """
        if self.on_some:
            return self._changed_by(tuple(c for c in self.on_some if applies(c.applies, facts))).about(facts)
        kept = tuple(name for name, entry in self.faults.items() if applies(entry.applies, facts))
        silent = frozenset(name for rule in self.rules if rule.silent and rule.speaks_of(facts) for name in rule.silent)
        heats = facts.get("mode") == HEATING
        checks = {name: check for name, entry in self.checks.items() if (check := check_for(entry, facts)) is not None}
        alike = tuple(one for one in self.charge.unparted if applies(one.applies, facts))
        key = (kept, silent, heats, alike, tuple((name, c.ask, c.why, c.gives) for name, c in checks.items()))
        found = self._about.get(key)
        if found is None:
            charge = self.charge._replace(unparted=alike)
            found = replace(self._with(kept, self.rules)._without(silent), checks=checks, charge=charge)
            if heats:
                found = replace(found, faults={name: entry.told_in_heating() for name, entry in found.faults.items()})
            keep(self._about, key, found)
        return found

    def _changed_by(self, changes: tuple[OnSome, ...]) -> Rulebook:
        """The book of machines on which these changes hold and no others, the first of each thing; made once."""
        found = self._on_some.get(changes)
        if found is None:
            figure = {(each.kind, each.target): each.points for each in reversed(changes)}
            scales = {each.target: each.scales for each in reversed(changes) if each.kind == "limits"}
            here = {(), *(each.applies for each in changes)}
            found = replace(
                self,
                on_some=(),
                changes=tuple((own, change) for own, change in self.changes if change.applies in here),
                rules=tuple(
                    replace(rule, points=figure.get(("points", rule.id)) or rule.points)
                    for rule in self.rules
                    if ("off", rule.id) not in figure
                ),
                faults={
                    name: entry if (usual := figure.get(("usual", name))) is None else entry._replace(usual=usual)
                    for name, entry in self.faults.items()
                },
                findings={n: e._replace(scales=scales[n]) if n in scales else e for n, e in self.findings.items()},
            )
            keep(self._on_some, changes, found)
        return found

    @cached_property
    def _on_some(self) -> dict[tuple[OnSome, ...], Rulebook]:
        return {}

    def _without(self, silent: frozenset[str]) -> Rulebook:
        """The same without the limits of these findings, and without the rules that ask for one of them."""
        if not silent:
            return self
        told = ("readiness", "caution")  # kept: a reader may ask for their sentences
        return replace(
            self,
            silent=silent,
            rules=tuple(r for r in self.rules if r.kind in told or not any(name in silent for name, _ in r.when)),
            findings={n: e._replace(scales=()) if n in silent else e for n, e in self.findings.items()},
        )

    @cached_property
    def silent_quantities(self) -> frozenset[str]:
        """The quantities of which nothing is expected on this machine."""
        return frozenset(q for name in self.silent if (q := self.findings[name].quantity) is not None)

    def in_mode(self, mode: str) -> Rulebook:
        """The book as it is taught for one mode, of any machine: its faults, its rules and its limits; worked out once."""
        if mode in self._about:
            return self._about[mode]
        facts = {"mode": mode}
        kept = tuple(name for name, entry in self.faults.items() if applies(of_mode(entry.applies), facts))
        rules = tuple(rule for rule in self.rules if rule.speaks_of(facts, of_mode(rule.applies)))
        findings = {
            name: entry._replace(
                scales=tuple(scale for scale in entry.scales if applies(of_mode(scale.applies), facts))
            )
            for name, entry in self.findings.items()
        }
        return keep(self._about, mode, replace(self._with(kept, rules), findings=findings))

    def _with(self, kept: tuple[str, ...], rules: tuple[Rule, ...]) -> Rulebook:
        faults = {name: self.faults[name] for name in kept}
        return replace(self, faults=faults, rules=tuple(r for r in rules if not r.fault or r.fault in faults))

    @cached_property
    def _about(self) -> dict[Hashable, Rulebook]:
        return {}

    def fault_called(self, word: str) -> str | None:
        """The fault of this id or this name, however it is written."""
        text = " ".join(word.replace("_", " ").replace("-", " ").split()).lower()
        return next((f for f, e in self.faults.items() if text in (f.replace("-", " "), e.name.lower())), None)

    def evidence(self, fault: str) -> tuple[Rule, ...]:
        """The rules for and against one fault."""
        return self._by_fault.get(fault, ())

    @cached_property
    def _by_fault(self) -> Mapping[str, tuple[Rule, ...]]:
        return {f: tuple(r for r in self.rules if r.fault == f) for f in self.faults}

    def more_special(self, rule: Rule) -> frozenset[str]:
        """Ids of the rules of the same fault that ask for all that this one asks for, and for more; worked out once."""
        found = self._special.get(rule.id)
        if found is None:
            needed = {name for name, _ in rule.when}  # most rules name other findings, and are done with
            others = (
                other for other in self.evidence(rule.fault) if other is not rule and needed.issubset(other.findings)
            )
            found = frozenset(other.id for other in others if other.contains(rule))
            self._special[rule.id] = found
        return found

    @cached_property
    def _special(self) -> dict[str, frozenset[str]]:
        return {}

    def spelled_out(self, rule: Rule) -> tuple[tuple[str, frozenset[str]], ...]:
        """What a rule asks for, in findings and their words, its states spelled out; worked out once."""
        found = self._spelled_out.get(rule.id)
        if found is None:
            found = self._spelled_out[rule.id] = asked_findings(rule, self)
        return found

    @cached_property
    def _spelled_out(self) -> dict[str, tuple[tuple[str, frozenset[str]], ...]]:
        return {}

    def makes(self, facts: Mapping[str, str]) -> Makes:
        """What each fault makes on a machine with these facts; worked out once for each kind."""
        return self.applying(facts).makes

    def applying(self, facts: Mapping[str, str]) -> Applying:
        """What of the book speaks about a machine with these facts (see `machine_facts`); worked out once for each."""
        key = tuple(sorted((name, word) for name, word in facts.items() if name in self._asked))
        found = self._kept.get(key)
        if found is None:
            rules = tuple(rule for rule in self.rules if rule.speaks_of(facts))
            patterns = (Pattern(r.id, r.when, r.either, r.concludes) for r in rules if r.when or r.either)
            found = keep(self._kept, key, Applying(rules, tuple(patterns), self, dict(key)))
        return found

    @cached_property
    def _asked(self) -> frozenset[str]:
        """The machine facts that any rule asks for, or what a fault makes."""
        asked = [rule.applies for rule in self.rules]
        asked += [brings.applies for entry in self.faults.values() for brings in entry.brings]
        return frozenset(name for conditions in asked for name, _ in conditions) | {"mode"}

    @cached_property
    def _kept(self) -> dict[tuple[tuple[str, str], ...], Applying]:
        return {}
