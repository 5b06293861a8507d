"""The rule book as the pipeline uses it: frozen, checked, conditions spelled out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Literal, NamedTuple

from diagnose.quantities.weighing import on_the_scale
from diagnose.rulebook.entries import (
    MACHINE_FACTS,
    BookChange,
    ChargePolicy,
    CheckEntry,
    Conditions,
    FaultEntry,
    FindingEntry,
    JudgedFigure,
    Level,
    PressureLimits,
    RepairStep,
    RuleEntry,
    SourceEntry,
    StateEntry,
)
from diagnose.rulebook.judgement import Judgement, judgement_of
from diagnose.rulebook.matcher.patterns import Pattern
from diagnose.rulebook.matcher.plain import PlainMatcher
from diagnose.visit.fields import CAPILLARY, FIXED_ORIFICE, METERING_DEVICE, RUNNING_AT
from diagnose.yamlfile import InputProblems

if TYPE_CHECKING:
    from diagnose.visit import Machine


class RuleError(InputProblems):
    """The rule files cannot be used. `problems` lists every mistake."""


RuleKind = Literal["evidence", "state", "readiness", "caution"]


@dataclass(frozen=True, slots=True, repr=False)
class Rule:
    """One rule. `when` all hold, and one of `either` where that is not empty.

    points: for evidence. fault: whose evidence. concludes: for states. holds: for readiness. rank: for cautions;
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
    rank: int = 0
    level: Level | None = None
    file: str = ""
    own: str = ""
    findings: tuple[str, ...] = field(init=False, compare=False)
    """Every finding and state it reads."""

    def __post_init__(self) -> None:
        names = [name for conditions in (self.when, *self.either) for name, _ in conditions]
        object.__setattr__(self, "findings", tuple(dict.fromkeys(names)))

    def __repr__(self) -> str:
        points = f", {self.points:+g} for {self.fault}" if self.kind == "evidence" else ""
        return f"<Rule {self.id}: {self.kind}{points}>"

    @property
    def id(self) -> str:
        """The rule's id, unique in the book."""
        return self.entry.id

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


class Weighed(NamedTuple):
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
    _more_special: Callable[[Rule], frozenset[str]] = field(repr=False, compare=False)

    @cached_property
    def plain(self) -> PlainMatcher:
        """The plain matcher of these patterns: for every pass but the judging one."""
        return PlainMatcher(self.patterns)

    @cached_property
    def weighed(self) -> Mapping[str, tuple[Weighed, ...]]:
        """fault -> the rules that speak for or against it, as numbers; faults without a rule are left out."""
        number = {pattern.id: i for i, pattern in enumerate(self.patterns)}
        found: dict[str, list[Weighed]] = {}
        for rule in self.rules:
            if rule.fault and rule.id in number:
                special = tuple(sorted(number[other] for other in self._more_special(rule) if other in number))
                found.setdefault(rule.fault, []).append(Weighed(number[rule.id], rule.points, special))
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
    added: Mapping[str, str] = field(default_factory=dict)  # finding, state, check, source, fault -> company's folder

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

    def applying(self, facts: Mapping[str, str]) -> Applying:
        """What of the book speaks about a machine with these facts (see `machine_facts`); worked out once for each."""
        key = tuple(sorted((name, word) for name, word in facts.items() if name in self._asked))
        found = self._kept.get(key)
        if found is None:
            rules = tuple(rule for rule in self.rules if applies(rule.applies, facts))
            patterns = (Pattern(r.id, r.when, r.either, r.concludes) for r in rules if r.when or r.either)
            found = self._kept[key] = Applying(rules, tuple(patterns), self.more_special)
        return found

    @cached_property
    def _asked(self) -> frozenset[str]:
        """The machine facts that any rule asks for."""
        return frozenset(name for rule in self.rules for name, _ in rule.applies)

    @cached_property
    def _kept(self) -> dict[tuple[tuple[str, str], ...], Applying]:
        return {}


SMALL_CHARGE = 1.0
"""kg. Below it a step that a technician would call small is a large share of the charge, and what the hoses hold counts.
Common practice, no source."""
SMALL_MACHINE = 3500.0
"""W, one ton: a machine below it holds less than SMALL_CHARGE, where the plate's charge was not written down; judgement."""


def charging(machine: Machine) -> str:
    """`weight only` where the charge must not be trimmed by temperatures, else `weight and temperatures`."""
    charge, size = machine.fact("factory charge"), machine.fact("nominal capacity")
    small = charge < SMALL_CHARGE if charge is not None else size is not None and size < SMALL_MACHINE
    burns = machine.refrigerant is not None and machine.refrigerant.safety == "A3"
    capillary = machine.words.get(METERING_DEVICE) == CAPILLARY
    factory_sealed = machine.words.get("kind") == "window"
    return "weight only" if small or burns or capillary or factory_sealed else "weight and temperatures"


def steps_for(steps: Iterable[RepairStep], facts: Mapping[str, str]) -> Iterator[str]:
    """The steps of a repair that are for a machine with these facts."""
    return (step.do for step in steps if applies(step.applies, facts))


def check_for(entry: CheckEntry, facts: Mapping[str, str]) -> CheckEntry:
    """The check as it is told for a machine with these facts."""
    for one in entry.instead:
        if applies(one.applies, facts):
            return replace(entry, ask=one.ask, why=one.why)
    return entry


def machine_facts(machine: Machine) -> dict[str, str]:
    """What `applies:` looks at; what the visit does not say is not in it."""
    facts = {name: word for name, word in machine.words.items() if name in MACHINE_FACTS}
    facts["charging"] = charging(machine)
    if on_the_scale(machine) is not None:
        facts["weighed"] = "yes"
    if machine.words.get("compressor") in ("two-stage", "inverter"):
        facts.setdefault(RUNNING_AT, "not stated")
    if machine.mode:
        facts["mode"] = machine.mode
    if machine.metering:
        facts["metering"] = machine.metering
        facts.setdefault(METERING_DEVICE, "orifice" if machine.metering == FIXED_ORIFICE else machine.metering)
    if machine.refrigerant:
        facts["refrigerant"] = machine.refrigerant.name
        facts["safety class"] = machine.refrigerant.safety
        facts["phase-down"] = machine.refrigerant.phase_down or "none"
    return facts


def applies(conditions: Conditions, facts: Mapping[str, str]) -> bool:
    """Whether every machine fact asked for is known and has one of the words."""
    return all(facts.get(name) in words for name, words in conditions)
