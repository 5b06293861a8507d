"""The rules checked across files, a company's changes applied, and the whole made into a Rulebook."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import Any, Generic, TypeVar

from pydantic import BaseModel

from diagnose import units
from diagnose.properties import REFRIGERANTS
from diagnose.rulebook import compiling
from diagnose.rulebook.book import Rule, Rulebook
from diagnose.rulebook.entries import MACHINE_FACTS, Conditions, JudgedFigure
from diagnose.rulebook.judgement import specs
from diagnose.rulebook.judging import compiled_figure, figures_of, out_of_order
from diagnose.rulebook.limits import KINDS, limits_of, spread_of
from diagnose.rulebook.matcher import MatcherError, Pattern
from diagnose.rulebook.matcher.plan import make_plan
from diagnose.rulebook.models import (
    CautionRule,
    Cited,
    EvidenceRule,
    OwnRule,
    ReadinessRule,
    StateRule,
    Words,
    WrittenBrings,
    WrittenChange,
    WrittenChargePolicy,
    WrittenCheckEntry,
    WrittenFaultEntry,
    WrittenFindingEntry,
    WrittenLesson,
    WrittenPressureLimits,
    WrittenRuleEntry,
    WrittenScale,
    WrittenSourceEntry,
    WrittenStateEntry,
    near,
)
from diagnose.visit import READINGS
from diagnose.yamlfile import Document, Problem, did_you_mean

At = Sequence[str | int]
E = TypeVar("E")
PLACEHOLDER = re.compile(r"\{([^{}]*)\}")


@dataclass(frozen=True, slots=True)
class Placed(Generic[E]):
    """An entry and where it stands. own: the company's folder it is from; empty for the base."""

    entry: E
    document: Document
    at: tuple[str | int, ...]
    own: str

    def where(self) -> str:
        """`file:line` for messages."""
        problem = self.document.problem(self.at, "")
        return f"{problem.file}:{problem.line}" if problem.line else problem.file


@dataclass
class Gathered:
    """Everything that was read, in the order of the folders, each entry with its place."""

    findings: list[Placed[WrittenFindingEntry]] = field(default_factory=list)
    states: list[Placed[WrittenStateEntry]] = field(default_factory=list)
    rules: list[Placed[WrittenRuleEntry]] = field(default_factory=list)
    checks: list[Placed[WrittenCheckEntry]] = field(default_factory=list)
    sources: list[tuple[str, Placed[WrittenSourceEntry]]] = field(default_factory=list)
    faults: list[Placed[WrittenFaultEntry]] = field(default_factory=list)
    charge: list[Placed[WrittenChargePolicy]] = field(default_factory=list)
    judgement: list[Placed[BaseModel]] = field(default_factory=list)
    pressure_limits: list[Placed[WrittenPressureLimits]] = field(default_factory=list)
    changes: list[Placed[WrittenChange]] = field(default_factory=list)
    base: str = "rules"  # the folder of the whole book
    kept: dict[str, list[int]] = field(default_factory=dict)  # by fault file: which of its rules are sound, if not all


def check_book(
    gathered: Gathered, name: str, unsure: frozenset[str] = frozenset(), unread: frozenset[str] = frozenset()
) -> tuple[Rulebook | None, list[Problem]]:
    """The book made of everything that was read, or None and every mistake across the files.

    unsure: names of entries that are there but broken, and already told. unread: files that could not be read at all, as
    `findings.yaml`, and `faults` for any in that folder: nobody is told that what they hold does not exist.
    """
    checker = _Checker(gathered, unsure, unread)
    return checker.book(name), checker.problems


class _Checker:
    """Walks what was read and collects problems; lives for one book only."""

    def __init__(self, gathered: Gathered, unsure: frozenset[str], unread: frozenset[str]) -> None:
        self.read = gathered
        self.unsure = unsure
        self.unread = unread
        self.problems: list[Problem] = []
        self.where: dict[str, tuple[Document, tuple[str | int, ...]]] = {}

    def bad(self, document: Document, at: At, what: str, fix: str = "", key: bool = False) -> None:
        self.problems.append(document.problem(tuple(at), what, fix, key))

    def missing(
        self, document: Document, at: At, name: str, what: str, known: Iterable[str], key: bool = False, fix: str = ""
    ) -> None:
        """`name` is not a finding, check …, unless it is one that is there and broken, and told already."""
        if name not in self.unsure and not self.unread & _HOLD[what]:
            self.bad(document, at, f"`{name}` is not {what}", fix or near(name, list(known)), key)

    def not_a_word(self, document: Document, at: At, word: object, name: str, known: Sequence[str]) -> None:
        """What stands where a word of the finding, state or machine fact `name` is expected."""
        if word is None:
            self.bad(document, at, f"`{name}` has no word here", f"Write one of: {', '.join(known)}.")
        elif isinstance(word, Mapping | list):
            fix = f"Write one of: {', '.join(known)}; or several as `[one, two]`."
            self.bad(document, at, f"a {'list' if isinstance(word, list) else 'group'} is not a word of `{name}`", fix)
        else:
            text = str(word).lower() if isinstance(word, bool) else str(word)
            self.bad(document, at, f"`{text}` is not a word of `{name}`", near(text, list(known)))

    def book(self, name: str) -> Rulebook | None:
        """The book, or None where `problems` has something to say."""
        read = self.read
        findings = self.named("finding", read.findings, lambda e: e.finding)
        states = self.named("state", read.states, lambda e: e.state)
        checks = self.named("check", read.checks, lambda e: e.check)
        faults = self.named("fault", read.faults, lambda e: e.fault)
        sources: dict[str, Placed[WrittenSourceEntry]] = {}
        for key, placed in read.sources:
            self.once(key, "source", placed, sources, key=True)
        self.words = {name: tuple(p.entry.words) for name, p in findings.items()}
        self.states = {name: tuple(p.entry.words) for name, p in states.items()}
        self.checks, self.sources, self.faults = list(checks), list(sources), list(faults)
        for name_ in sorted(self.words.keys() & self.states.keys()):
            what = f"`{name_}` is already a finding in {findings[name_].where()}"
            at = (*states[name_].at, "state")
            self.bad(states[name_].document, at, what, "Give the state another name.")
        for placed_check in checks.values():
            self.check(placed_check)
        rules = [rule for placed_rule in read.rules for rule in self.placed_rule(placed_rule)]
        for placed_fault in faults.values():
            rules += self.fault(placed_fault)
        self.figures = self.judged()
        changed = self.changes(findings, faults, rules, self.pressure_limits())
        for placed_finding in changed.findings.values():
            self.finding(placed_finding)
        charge = self.policy()
        self.own_ids(findings, checks, sources, faults)
        self.across(changed.rules)
        if self.problems or charge is None or not self.figures:
            return None
        by_usual = sorted(changed.faults.values(), key=lambda p: -p.entry.usual)
        return Rulebook(
            name=name,
            findings={n: compiling.finding(p.entry) for n, p in changed.findings.items()},
            states={n: compiling.state(p.entry) for n, p in states.items()},
            rules=tuple(changed.rules),
            faults={p.entry.fault: compiling.fault(p.entry) for p in by_usual},
            checks={n: compiling.check(p.entry) for n, p in checks.items()},
            sources={n: compiling.source(p.entry) for n, p in sources.items()},
            charge=compiling.policy(charge),
            figures=changed.figures,
            pressure_limits=compiling.pressure_limits(changed.pressures) if changed.pressures else None,
            changes=tuple((p.own, compiling.change(p.entry, p.entry in changed.loosened)) for p in read.changes),
            added={n: p.own for kind in (findings, states, checks, sources, faults) for n, p in kind.items() if p.own},
        )

    # -- names -----------------------------------------------------------------------------------------------------
    def named(self, kind: str, entries: Sequence[Placed[E]], name: Callable[[E], str]) -> dict[str, Placed[E]]:
        found: dict[str, Placed[E]] = {}
        for placed in entries:
            self.once(name(placed.entry), kind, placed, found)
        return found

    def once(self, name: str, kind: str, placed: Placed[E], found: dict[str, Placed[E]], key: bool = False) -> None:
        """Takes an entry, unless one of that name is there: nothing is ever replaced in silence."""
        if name in found:
            what = f"`{name}` is already a {kind} in {found[name].where()}"
            fix = "Keep one of them, or give this one another name."
            if placed.own and not found[name].own:
                fix = "Give this one another name. What is shipped is changed in changes.yaml only."
            self.bad(placed.document, placed.at if key else (*placed.at, kind), what, fix, key)
        else:
            found[name] = placed

    def own_ids(
        self,
        findings: Mapping[str, Placed[WrittenFindingEntry]],
        checks: Mapping[str, Placed[WrittenCheckEntry]],
        sources: Mapping[str, Placed[WrittenSourceEntry]],
        faults: Mapping[str, Placed[WrittenFaultEntry]],
    ) -> None:
        """Ids of a company's own entries carry the folder's name, so that no later shipped book can take them."""
        kinds: tuple[tuple[str, Mapping[str, Placed[Any]]], ...] = (
            ("check", checks),
            ("", sources),
            ("fault", faults),
        )
        named = [(kind, name, entry) for kind, entries in kinds for name, entry in entries.items()]
        for kind, name, entry in named:
            if entry.own and not name.startswith(f"{entry.own}-"):
                what = f"`{name}` must begin with the folder's name, `{entry.own}-`"
                at = (*entry.at, kind) if kind else entry.at
                self.bad(entry.document, at, what, f"For example `{entry.own}-{name}`.", key=not kind)
        everything: list[Placed[Any]] = [*findings.values(), *(entry for *_, entry in named), *self.read.rules]
        for entry in everything:
            if entry.own and not re.fullmatch(r"[a-z][a-z0-9]*(-[a-z0-9]+)*", entry.own):
                what = f"the folder's name `{entry.own}` cannot begin an id"
                self.bad(entry.document, (), what, "Small letters, digits and hyphens, for example `harbour-cooling`.")
                return

    def check(self, placed: Placed[WrittenCheckEntry]) -> None:
        for j, name in enumerate(placed.entry.gives):
            if name not in self.words:
                at = (*placed.at, "gives", j)
                self.missing(placed.document, at, name, "a finding", self.words)
        for j, one in enumerate(placed.entry.instead):
            self.applies_of(one.applies, placed.document, (*placed.at, "instead", j, "applies"))

    def policy(self) -> WrittenChargePolicy | None:
        if not self.read.charge:
            fix = "Say there when the charge may be judged, with `sure`, `leads_by` and `finest_percent`."
            if "charge" not in self.unsure and "readiness.yaml" not in self.unread:
                self.problems.append(Problem(f"{self.read.base}/readiness.yaml", 0, 0, "`charge` is missing", fix))
            return None
        for placed in self.read.charge[1:]:
            what = f"`charge` is already set in {self.read.charge[0].where()}"
            fix = "Take it out: these figures are the book's own, and no folder changes them."
            self.bad(placed.document, placed.at, what, fix, key=True)
        first = self.read.charge[0]
        for i, group in enumerate(first.entry.one_doubt):
            for j, name in enumerate(group):
                if name not in self.faults:
                    self.missing(first.document, (*first.at, "one_doubt", i, j), name, "a fault", self.faults)
        return first.entry

    def judged(self) -> dict[str, JudgedFigure]:
        """The figures of judgement.yaml; none where the file cannot be read, and that is told already."""
        for placed in self.read.judgement[:1]:
            figures = figures_of(placed.entry, partial(self.bad, placed.document))
            for name, figure in figures.items():
                at = tuple(name.split("/"))
                while at and (*at, "source") not in placed.document.marks:
                    at = at[:-1]
                self.cited(list(figure.source), placed.document, (*at, "source"))
            return figures
        return {}

    def pressure_limits(self) -> WrittenPressureLimits | None:
        """The base's own, checked; a company's folder changes single limits in changes.yaml only."""
        found = None
        for placed in self.read.pressure_limits:
            if found is not None or placed.own:
                what = "`pressure_limits` is the shipped book's own"
                fix = "Change a single limit in changes.yaml, as `pressure_limit: R-410A`."
                self.bad(placed.document, placed.at, what, fix, key=True)
                continue
            found = placed.entry
            self.cited(found.source, placed.document, (*placed.at, "source"))
            for name, limit in found.limits.items():
                at = (*placed.at, "limits", name)
                if name not in REFRIGERANTS:
                    what = f"`{name}` is not a refrigerant of this program"
                    self.bad(placed.document, at, what, near(name, list(REFRIGERANTS)), key=True)
                self.gauge_pressure(limit, placed.document, at)
        return found

    def gauge_pressure(self, written: str, document: Document, at: At) -> float | None:
        """Pa above the air; None where it is no such pressure, which is told."""
        try:
            found = units.parse(written, "pressure", "610 psig")
        except units.UnitError as error:
            self.bad(document, at, error.what, error.fix)
            return None
        if not found.gauge or found.value <= 0:
            self.bad(document, at, f"`{written}` is no pressure above the air", "For example `610 psig`.")
            return None
        return found.value

    # -- changes ---------------------------------------------------------------------------------------------------
    def changes(
        self,
        findings: Mapping[str, Placed[WrittenFindingEntry]],
        faults: Mapping[str, Placed[WrittenFaultEntry]],
        rules: Sequence[Rule],
        pressures: WrittenPressureLimits | None,
    ) -> _Changed:
        """Applies a company's changes; the order of the folders makes no difference, for no two may touch one thing."""
        now = _Changed(dict(findings), dict(faults), {rule.id: rule for rule in rules}, pressures, dict(self.figures))
        self.guarding = _guarding(rules)
        taken: dict[tuple[str, str, str], Placed[WrittenChange]] = {}
        for placed in self.read.changes:
            change = placed.entry
            which = str(change.was) if change.kind == "limits" else ""
            thing = "rule" if change.kind in ("points", "off") else change.kind
            key = (thing, change.target, which)
            if key in taken:
                what = f"`{change.target}` is already changed in {taken[key].where()}"
                self.bad(placed.document, (*placed.at, change.kind), what, "Agree on one of the two, and take one out.")
                continue
            taken[key] = placed
            how = {
                "limits": self.change_limits,
                "usual": self.change_usual,
                "pressure_limit": self.change_pressure,
                "judgement": self.change_judgement,
            }
            how.get(change.kind, self.change_rule)(placed, now)
        for name, what, fix in out_of_order(now.figures):
            if ("judgement", name, "") in taken or any(key[0] == "judgement" and key[1] in fix for key in taken):
                placed = next(
                    p for key, p in taken.items() if key[0] == "judgement" and (key[1] == name or key[1] in fix)
                )
                self.bad(placed.document, (*placed.at, "now"), what, fix)
        return now

    def loosen(self, placed: Placed[WrittenChange], now: _Changed, what: str) -> None:
        """A danger or a hold that is told later or not at all: only where somebody answers for it."""
        now.loosened.append(placed.entry)
        if placed.entry.approved_by is None:
            fix = "Dangers and holds may only be made stricter, unless `approved_by:` says who answers for it."
            self.bad(placed.document, (*placed.at, placed.entry.kind), what, fix)

    def change_pressure(self, placed: Placed[WrittenChange], now: _Changed) -> None:
        change = placed.entry
        limits = now.pressures.limits if now.pressures else {}
        if change.target not in limits:
            what = f"`{change.target}` has no pressure limit in the shipped book"
            self.bad(placed.document, (*placed.at, "pressure_limit"), what, near(change.target, list(limits)))
            return
        shipped = limits[change.target]
        if change.was != shipped:
            what = f"`{change.target}`: the shipped book has moved on, its limit is now {shipped}, not {change.was}"
            fix = f"Look whether the change is still wanted, then write `was: {shipped}`."
            self.bad(placed.document, (*placed.at, "was"), what, fix)
            return
        limit = self.gauge_pressure(str(change.now), placed.document, (*placed.at, "now"))
        before = units.parse(shipped, "pressure").value
        if limit is None or now.pressures is None:
            return
        if limit > before:
            self.loosen(placed, now, f"a limit of {change.now} instead of {shipped} tells a danger later")
        changed = {**limits, change.target: str(change.now)}
        now.pressures = now.pressures.model_copy(update={"limits": changed})

    def change_rule(self, placed: Placed[WrittenChange], now: _Changed) -> None:
        change = placed.entry
        rule = now.by_id.get(change.target)
        at = (*placed.at, change.kind)
        if rule is None:
            self.missing(placed.document, at, change.target, "a rule", now.by_id)
        elif change.kind == "off":
            del now.by_id[rule.id]
            if rule.kind in ("caution", "readiness") or (rule.concludes is not None and rule.id in self.guarding.rules):
                self.loosen(placed, now, f"`{rule.id}` guards against harm, and would be switched off")
        elif rule.kind != "evidence":
            self.bad(placed.document, at, f"`{rule.id}` has no points", "Only rules for or against a fault have.")
        elif self.still(placed, rule.points):
            points = change.now
            if not isinstance(points, float | int) or not -4 <= points <= 4 or points == 0:
                what = (
                    f"{points:g} points are out of range" if isinstance(points, float | int) else "these are no points"
                )
                self.bad(
                    placed.document, (*placed.at, "now"), what, "From -4 to 4 and not 0; to silence a rule write `off`."
                )
            else:
                now.by_id[rule.id] = replace(rule, points=float(points))

    def change_usual(self, placed: Placed[WrittenChange], now: _Changed) -> None:
        change = placed.entry
        fault = now.faults.get(change.target)
        if fault is None:
            at = (*placed.at, "usual")
            self.missing(placed.document, at, change.target, "a fault", now.faults)
        elif self.still(placed, fault.entry.usual):
            usual = change.now
            if not isinstance(usual, float | int) or not -4 <= usual <= 4:
                what = f"`usual` cannot be {usual:g}" if isinstance(usual, float | int) else "this is no number"
                self.bad(placed.document, (*placed.at, "now"), what, "From -4 to 4.")
            else:
                now.faults[change.target] = replace(fault, entry=fault.entry.model_copy(update={"usual": float(usual)}))

    def change_limits(self, placed: Placed[WrittenChange], now: _Changed) -> None:
        change = placed.entry
        finding = now.findings.get(change.target)
        if finding is None:
            self.missing(placed.document, (*placed.at, "limits"), change.target, "a finding", now.findings)
            return
        entry = finding.entry
        fitting = [i for i, scale in enumerate(entry.scales) if scale.limits == change.was]
        if len(fitting) != 1:
            has = "; ".join(_listed(scale.limits) for scale in entry.scales if scale.limits) or "none"
            moved = "two scales have these limits" if fitting else "the shipped book has moved on"
            fix = f"Its limits are {has}. Check whether the change is still needed, and write them into `was`."
            self.bad(placed.document, (*placed.at, "was"), f"`{change.target}`: {moved}", fix)
            return
        scale = entry.scales[fitting[0]].model_copy(update={"limits": change.now})
        if not self.limits(entry, scale, placed.document, (*placed.at, "now")):
            return
        self.guards_limits(placed, entry, entry.scales[fitting[0]], scale, now)
        scales = [scale if i in fitting else each for i, each in enumerate(entry.scales)]
        now.findings[change.target] = replace(finding, entry=entry.model_copy(update={"scales": scales}))

    def change_judgement(self, placed: Placed[WrittenChange], now: _Changed) -> None:
        change = placed.entry
        figure = now.figures.get(change.target)
        if figure is None:
            self.missing(placed.document, (*placed.at, "judgement"), change.target, "a figure", now.figures)
            return
        was, new = (tuple(f) if isinstance(f, list) else (f,) for f in (change.was, change.now))
        if was != figure.written:
            one = figure.written[0] if len(figure.written) == 1 else _listed(figure.written)
            what = f"`{change.target}`: the shipped book has moved on, it is now {one}"
            fix = f"Look whether the change is still wanted, then write `was: {one}`."
            self.bad(placed.document, (*placed.at, "was"), what, fix)
            return
        at = (*placed.at, "now")
        spec = specs(now.figures)[change.target]
        changed = compiled_figure(figure, new, spec, lambda what, fix: self.bad(placed.document, at, what, fix))  # type: ignore[arg-type]
        if changed is not None:
            now.figures[change.target] = changed
            if change.target.startswith("plausibility/"):
                what = f"`{change.target}` decides which readings hold a verdict, and whether the compressor runs"
                self.loosen(placed, now, what)

    def guards_limits(
        self,
        placed: Placed[WrittenChange],
        entry: WrittenFindingEntry,
        old: WrittenScale,
        new: WrittenScale,
        now: _Changed,
    ) -> None:
        """Whether a danger or a hold would now be silent at some figure at which it spoke."""
        before, after = (limits_of(entry.quantity or "", scale) for scale in (old, new))
        edges = sorted({*before, *after})
        tried = [edges[0] - 1.0, *((a + b) / 2 for a, b in pairwise(edges)), edges[-1] + 1.0]
        for rule, words in self.guarding.words.get(entry.finding, ()):
            for x in tried:
                was, is_now = (entry.words[sum(limit <= x for limit in limits)] for limits in (before, after))
                if was in words and is_now not in words:
                    self.loosen(placed, now, f"with these limits `{rule}` speaks later, or less often")
                    return

    def still(self, placed: Placed[WrittenChange], shipped: float) -> bool:
        """Whether the shipped figure is the one that the change was made for."""
        change = placed.entry
        if change.was == shipped:
            return True
        what = (
            f"`{change.target}`: the shipped book has moved on, `{change.kind}` is now {shipped:g}, not {change.was:g}"
        )
        self.bad(
            placed.document,
            (*placed.at, "was"),
            what,
            f"Check whether the change is still needed, then write `was: {shipped:g}`.",
        )
        return False

    # -- findings --------------------------------------------------------------------------------------------------
    def finding(self, placed: Placed[WrittenFindingEntry]) -> None:
        entry, document, at = placed.entry, placed.document, placed.at
        if entry.seen:
            if entry.quantity or entry.scales:
                what = f"`{entry.finding}` is seen, so it has no quantity and no scales"
                self.bad(document, (*at, "seen"), what, "Take out `quantity` and `scales`, or `seen`.")
            return
        if entry.quantity is None:
            what = f"`{entry.finding}` is neither seen nor worked out"
            self.bad(document, (*at, "finding"), what, "Write `seen: true`, or `quantity:` and its `scales:`.")
            return
        if entry.quantity not in KINDS:
            name = entry.quantity
            self.bad(
                document,
                (*at, "quantity"),
                f"`{name}` is not a quantity",
                did_you_mean(name, KINDS)
                or "What is looked at is `seen: true`; DEVELOPERS.md says how to add a quantity.",
            )
            return
        if not entry.scales:
            self.bad(document, (*at, "finding"), f"`{entry.finding}` has no scale", "Give its limits under `scales:`.")
        for i, scale in enumerate(entry.scales):
            here = (*at, "scales", i)
            self.applies_of(scale.applies, document, (*here, "applies"))
            self.cited(scale.source, document, (*here, "source"))
            self.spread(entry, scale, document, (*here, "spread"))
            if scale.target == "baseline":
                self.by_baseline(entry, scale, document, here)
            if scale.by != "target":
                self.limits(entry, scale, document, (*here, "limits"))

    def limits(self, entry: WrittenFindingEntry, scale: WrittenScale, document: Document, at: At) -> bool:
        """Whether the limits of a scale can be used."""
        wanted = len(entry.words) - 1
        if len(scale.limits) != wanted:
            what = f"{len(entry.words)} words have {wanted} limits between them, not {len(scale.limits)}"
            self.bad(document, at, what, f"The words are {_listed(entry.words)}: one limit between each two of them.")
            return False
        try:
            limits = limits_of(entry.quantity or "", scale)
        except ValueError as error:
            self.bad(document, at, str(getattr(error, "what", error)), str(getattr(error, "fix", "")))
            return False
        if any(a >= b for a, b in pairwise(limits)):
            self.bad(document, at, "the limits do not rise", "Write them from low to high.")
            return False
        return True

    def spread(self, entry: WrittenFindingEntry, scale: WrittenScale, document: Document, at: At) -> None:
        try:
            spread = spread_of(entry.quantity or "", scale)
        except ValueError as error:
            self.bad(document, at, str(getattr(error, "what", error)), str(getattr(error, "fix", "")))
            return
        if spread is not None and spread < 0:
            self.bad(document, at, f"a spread of `{scale.spread}` is negative", "Leave out the minus sign.")

    def by_baseline(self, entry: WrittenFindingEntry, scale: WrittenScale, document: Document, at: At) -> None:
        """A scale for machines whose good day is known: only where it is known how the good day moves with the weather."""
        if self.figures and f"good day/laws/{entry.quantity}/by" not in self.figures:
            what = f"nothing says how `{entry.quantity}` of a good day moves with the weather"
            self.bad(document, (*at, "target"), what, "Without it the limits hold with a baseline as well.")
        if scale.by not in ("difference", "share"):
            what = f"`by: {scale.by}` does not compare with the good day"
            self.bad(document, (*at, "by"), what, "Write `by: difference` or `by: share`.")
        if scale.spread is not None:
            what = "the spread about a good day is worked out from its readings and the weather"
            self.bad(document, (*at, "spread"), what, "Take `spread` out; the limits may be set wider.")

    # -- rules -----------------------------------------------------------------------------------------------------
    def fault(self, placed: Placed[WrittenFaultEntry]) -> list[Rule]:
        entry, document = placed.entry, placed.document
        if Path(document.name).stem != entry.fault:
            what = f"the file is not named after the fault `{entry.fault}`"
            fix = f"Call the file `{entry.fault}.yaml`, or write `fault: {Path(document.name).stem}`."
            self.bad(document, ("fault",), what, fix)
        self.cited(entry.usual_source, document, ("usual_source",))
        for other in entry.looks_like:
            if other == entry.fault:
                self.bad(document, ("looks_like", other), "this is the fault itself", "Name another fault.", key=True)
            elif other not in self.faults:
                self.missing(document, ("looks_like", other), other, "a fault", self.faults, key=True)
        if entry.repair is not None:
            for part, steps in (("do", entry.repair.do), ("cautions", entry.repair.cautions)):
                for i, step in enumerate(steps):
                    if not isinstance(step, str):
                        self.applies_of(step.applies, document, ("repair", part, i, "applies"))
        if entry.lesson is not None:
            self.lesson(entry.lesson, document)
        for i, brings in enumerate(entry.brings):
            self.brings(brings, document, ("brings", i))
        found = []
        for i, rule in zip(self.read.kept.get(document.name) or range(len(entry.rules)), entry.rules, strict=True):
            if not rule.id.startswith(f"{entry.fault}/"):
                name = rule.id.rpartition("/")[2]
                fix = f"For example `{entry.fault}/{name if name != entry.fault else 'what-is-seen'}`."
                self.bad(document, ("rules", i, "id"), f"`{rule.id}` must begin with `{entry.fault}/`", fix)
            found.append(self.rule(Placed(rule, document, ("rules", i), placed.own), entry.fault))
        return found

    def lesson(self, lesson: WrittenLesson, document: Document) -> None:
        self.cited(lesson.source, document, ("lesson", "source"))
        known = [*KINDS, *READINGS]
        for i, moving in enumerate(lesson.readings):
            at = ("lesson", "readings", i)
            if moving.quantity not in known:
                what = f"`{moving.quantity}` is neither a quantity nor a reading"
                self.bad(document, (*at, "quantity"), what, near(moving.quantity, known))
            self.applies_of(moving.applies, document, (*at, "applies"))

    def brings(self, entry: WrittenBrings, document: Document, at: tuple[str | int, ...]) -> None:
        """What a fault makes by itself: findings and their words, spelled out."""
        self.applies_of(entry.applies, document, (*at, "applies"))
        self.cited(entry.source, document, (*at, "source"))
        for name, words in entry.findings.items():
            here = (*at, "findings", name)
            if name not in self.words:
                self.missing(document, here, name, "a finding", self.words, key=True)
                continue
            if not words:
                self.not_a_word(document, here, None, name, self.words[name])
            for j, word in enumerate([words] if isinstance(words, str) else words):
                if word not in self.words[name]:
                    self.not_a_word(
                        document, here if isinstance(words, str) else (*here, j), word, name, self.words[name]
                    )

    def placed_rule(self, placed: Placed[WrittenRuleEntry]) -> list[Rule]:
        """A rule that stands outside a fault's file."""
        entry, fault = placed.entry, ""
        if placed.own and not entry.id.startswith(f"{placed.own}/"):
            fix = f"For example `{placed.own}/{entry.id.rpartition('/')[2]}`."
            what = f"`{entry.id}` must begin with the folder's name, `{placed.own}/`"
            self.bad(placed.document, (*placed.at, "id"), what, fix)
        if isinstance(entry, OwnRule):
            fault = entry.fault
            if fault not in self.faults:
                at = (*placed.at, "fault")
                self.missing(placed.document, at, fault, "a fault", self.faults)
                return []
        return [self.rule(placed, fault)]

    def rule(self, placed: Placed[Any], fault: str) -> Rule:
        """One rule of any kind, checked."""
        entry: WrittenRuleEntry = placed.entry
        document, at = placed.document, placed.at
        self.where[entry.id] = (document, at) if entry.id not in self.where else self.twice(entry.id, document, at)
        when, either = self.condition(entry.when, document, (*at, "when"))
        applies = self.applies_of(entry.applies, document, (*at, "applies"))
        if not entry.when and isinstance(entry, EvidenceRule | StateRule):
            fix = "A rule speaks only when something was found, for example `when: {superheat: high}`."
            self.bad(document, (*at, "id"), f"`{entry.id}` has no `when`", fix)
        self.cited(entry.source, document, (*at, "source"))
        if entry.check is not None and entry.check not in self.checks:
            self.missing(document, (*at, "check"), entry.check, "a check", self.checks)
        self.placeholders(entry, when, either, document, at)
        self.trials(entry, bool(when or either), document, at)
        made = Rule("evidence", compiling.rule(entry), when, either, applies, fault, file=document.name, own=placed.own)
        if isinstance(entry, EvidenceRule):
            return replace(made, points=entry.points)
        if isinstance(entry, StateRule):
            return replace(made, kind="state", concludes=self.concludes(entry.concludes, document, (*at, "concludes")))
        if isinstance(entry, ReadinessRule):
            return replace(made, kind="readiness", holds=entry.holds)
        assert isinstance(entry, CautionRule)
        return replace(made, kind="caution", rank=entry.rank, level=entry.level)

    def twice(self, rule: str, document: Document, at: tuple[str | int, ...]) -> tuple[Document, tuple[str | int, ...]]:
        first = self.where[rule]
        problem = first[0].problem((*first[1], "id"), "")
        self.bad(
            document,
            (*at, "id"),
            f"`{rule}` is already the id of a rule in {problem.file}:{problem.line}",
            "Rename one.",
        )
        return first

    def condition(
        self, when: Mapping[str, Any], document: Document, at: tuple[str | int, ...]
    ) -> tuple[Conditions, tuple[Conditions, ...]]:
        plain = self.all_of({k: v for k, v in when.items() if k != "any"}, document, at)
        branches = when.get("any", [])
        if "any" in when and not (isinstance(branches, list) and branches and all(_is_group(b) for b in branches)):
            fix = "For example `any: [{air filter: dirty}, {indoor coil: dirty}]`."
            self.bad(document, (*at, "any"), "`any` must be a list of `finding: word` groups", fix)
            return plain, ()
        return plain, tuple(self.all_of(b, document, (*at, "any", i)) for i, b in enumerate(branches))

    def all_of(self, when: Mapping[str, Any], document: Document, at: tuple[str | int, ...]) -> Conditions:
        known = {**self.states, **self.words}
        found = []
        for name, value in when.items():
            if name not in known:
                self.missing(document, (*at, name), name, "a finding or a state", known, key=True)
                continue
            words = self.words_of(value, known[name], document, (*at, name), name)
            if words:
                found.append((name, words))
        return tuple(found)

    def words_of(
        self, value: object, known: tuple[str, ...], document: Document, at: tuple[str | int, ...], name: str
    ) -> frozenset[str]:
        items = value if isinstance(value, list) else [value]
        found: set[str] = set()
        if not items:
            self.bad(document, at, f"`{name}` has no word here", f"Write one of: {', '.join(known)}.")
        for i, item in enumerate(items):
            here = (*at, i) if isinstance(value, list) else at
            if not isinstance(item, str):
                self.not_a_word(document, here, item, name, known)
                continue
            text = item
            negated = text.startswith("not ") and text not in known
            word = text.removeprefix("not ") if negated else text
            if word not in known:
                self.not_a_word(document, here, word, name, known)
            else:
                found |= set(known) - {word} if negated else {word}
        return frozenset(found)

    def applies_of(self, value: Mapping[str, Words], document: Document, at: tuple[str | int, ...]) -> Conditions:
        found = []
        for name, words in value.items():
            if name not in MACHINE_FACTS:
                self.bad(
                    document, (*at, name), f"`{name}` is not a machine fact", near(name, list(MACHINE_FACTS)), key=True
                )
                continue
            known = MACHINE_FACTS[name] or REFRIGERANTS
            listed = [words] if isinstance(words, str) else words
            if not listed:
                self.not_a_word(document, (*at, name), None, name, known)
            for i, word in enumerate(listed):
                if word not in known:
                    here = (*at, name) if isinstance(words, str) else (*at, name, i)
                    self.not_a_word(document, here, word, name, known)
            found.append((name, frozenset(listed)))
        return tuple(found)

    def concludes(self, value: Mapping[str, str], document: Document, at: tuple[str | int, ...]) -> tuple[str, str]:
        if len(value) != 1:
            self.bad(document, at, "a rule concludes one state", "For example `concludes: {evaporator feed: starved}`.")
            return ("", "")
        state, word = next(iter(value.items()))
        if state not in self.states:
            fix = "It is a finding: only states are concluded." if state in self.words else ""
            self.missing(document, (*at, state), state, "a state", self.states, key=True, fix=fix)
        elif word not in self.states[state]:
            self.not_a_word(document, (*at, state), word, state, self.states[state])
        return (state, word)

    def cited(self, source: Cited, document: Document, at: tuple[str | int, ...]) -> None:
        """A source's key, then places in it, then perhaps another key; the first must be a key."""
        for i, item in enumerate(source):
            if item in self.sources or (i > 0 and " " in item):
                continue
            close = did_you_mean(item, self.sources)
            if i == 0 or close:
                here = (*at, i) if (*at, i) in document.marks else at
                self.missing(document, here, item, "a source", self.sources, fix=close or "Add it to sources.yaml.")

    def placeholders(
        self,
        entry: WrittenRuleEntry,
        when: Conditions,
        either: tuple[Conditions, ...],
        document: Document,
        at: tuple[str | int, ...],
    ) -> None:
        branches = entry.when.get("any", [])
        read = set(entry.when) - {"any"}
        if not read and not branches and isinstance(entry, EvidenceRule | StateRule):  # told already
            return
        if not isinstance(branches, list) or not all(_is_group(branch) for branch in branches):
            return
        read |= {name for branch in branches for name in branch}
        if not read <= self.words.keys() | self.states.keys():  # a slip in `when` is told once, not here again
            return
        here = (*at, "why")
        for name in PLACEHOLDER.findall(entry.why):
            finding = name.removesuffix(" target")
            if finding not in read:
                what = f"`{{{name}}}` is not among the findings of this rule's `when`"
                fix = near(finding, sorted(read)) if read else "This rule reads nothing: write it without braces."
                self.problems.append(document.problem_in(here, f"{{{name}}}", what, fix))
        for brace in re.findall(r"[{}]", PLACEHOLDER.sub("", entry.why))[:1]:
            fix = "A figure is written `{superheat}`; other braces are not used."
            self.problems.append(document.problem_in(here, brace, f"a `{brace}` stands alone here", fix))

    def trials(self, entry: WrittenRuleEntry, conditional: bool, document: Document, at: tuple[str | int, ...]) -> None:
        for i, trial in enumerate(entry.tests):
            here = (*at, "tests", i)
            if trial.fires is None and trial.quiet is None:
                fix = "Write one of them, for example `fires: {superheat: high}`."
                self.bad(document, here, "this test says neither `fires` nor `quiet`", fix)
            elif trial.fires is not None and trial.quiet is not None:
                self.bad(document, here, "this test says both `fires` and `quiet`", "Make two tests of it.")
            which = "fires" if trial.fires is not None else "quiet"
            for name, word in (trial.fires or trial.quiet or {}).items():
                if name not in self.words:
                    fix = "It is a state: give the findings it is concluded from." if name in self.states else ""
                    self.missing(document, (*here, which, name), name, "a finding", self.words, key=True, fix=fix)
                elif word not in self.words[name]:
                    self.not_a_word(document, (*here, which, name), word, name, self.words[name])
            self.applies_of(dict(trial.machine), document, (*here, "machine"))
        for which in ("fires", "quiet"):
            if conditional and not any(getattr(t, which) is not None for t in entry.tests):
                fix = f"Add one under `tests:`, for example `- {which}: {{superheat: high}}`."
                self.bad(document, (*at, "id"), f"`{entry.id}` has no test that {_SAYS[which]}", fix)

    def across(self, rules: Sequence[Rule]) -> None:
        same: dict[Any, Rule] = {}
        for rule in sorted(rules, key=lambda rule: bool(rule.own)):  # the shipped rule is never the one to blame
            if not rule.when and not rule.either:
                continue
            key = (rule.kind, rule.fault, rule.concludes, frozenset(rule.when), frozenset(rule.either), rule.applies)
            if key in same:
                document, at = self.where[rule.id]
                other = same[key]
                first = self.where[other.id][0].problem((*self.where[other.id][1], "id"), "")
                what = f"`{rule.id}` asks for the same as `{other.id}` in {first.file}:{first.line}"
                fix = "Keep one of them."
                if rule.own and not other.own:
                    fix = "Take it out, or change the points of the shipped one in changes.yaml."
                self.bad(document, (*at, "when"), what, fix)
            same.setdefault(key, rule)
        whole = [r for r in rules if (r.when or r.either) and (r.concludes is None or r.concludes[0] in self.states)]
        self.matching([Pattern(r.id, r.when, r.either, r.concludes) for r in {r.id: r for r in whole}.values()])

    def matching(self, patterns: Sequence[Pattern]) -> None:
        """What the rule engine would refuse, told here and not at the first visit."""
        try:
            make_plan(patterns)
        except MatcherError as whole:
            found = [whole]
            for pattern in patterns:
                try:
                    make_plan([pattern])
                except MatcherError as error:
                    found += [error] if error.what != whole.what else []
            for each in found:
                document, at = self.where[each.rules[0]]
                self.bad(document, (*at, "when"), each.what.replace("'", "`"), each.fix.replace("'", "`"))


def _is_group(value: object) -> bool:
    return isinstance(value, Mapping) and bool(value)


def _listed(items: Sequence[object]) -> str:
    """As it stands in the file."""
    return f"[{', '.join(map(str, items))}]"


@dataclass
class _Changed:
    """What the book is made of, as the changes go over it."""

    findings: dict[str, Placed[WrittenFindingEntry]]
    faults: dict[str, Placed[WrittenFaultEntry]]
    by_id: dict[str, Rule]
    pressures: WrittenPressureLimits | None
    figures: dict[str, JudgedFigure]
    loosened: list[WrittenChange] = field(default_factory=list)

    @property
    def rules(self) -> list[Rule]:
        return list(self.by_id.values())


@dataclass(frozen=True)
class _Guarding:
    """What dangers and holds rest on: finding -> the words, each with the rule that asks for them; and all such rules."""

    words: Mapping[str, list[tuple[str, frozenset[str]]]]
    rules: frozenset[str]


def _guarding(rules: Sequence[Rule]) -> _Guarding:
    """Cautions and holds, and the rules of the states that they ask for."""
    words: dict[str, list[tuple[str, frozenset[str]]]] = {}
    found: set[str] = set()
    queue = [rule for rule in rules if rule.kind in ("caution", "readiness")]
    while queue:
        rule = queue.pop()
        if rule.id in found:
            continue
        found.add(rule.id)
        for name, allowed in (*rule.when, *(test for branch in rule.either for test in branch)):
            words.setdefault(name, []).append((rule.id, allowed))
            for each in rules:
                if each.concludes is not None and each.concludes[0] == name and each.concludes[1] in allowed:
                    queue.append(each)
    return _Guarding(words, frozenset(found))


# What may be missing, and the files that hold it.
_HOLD = {
    "a finding": {"findings.yaml"},
    "a state": {"states.yaml"},
    "a finding or a state": {"findings.yaml", "states.yaml"},
    "a check": {"checks.yaml"},
    "a source": {"sources.yaml"},
    "a fault": {"faults"},
    "a figure": {"judgement.yaml"},
    "a rule": {"faults", "states.yaml", "readiness.yaml", "cautions.yaml", "rules.yaml"},
}
_SAYS = {"fires": "makes it fire", "quiet": "leaves it quiet"}
