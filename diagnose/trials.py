"""Runs the rules' own tests and the cases. `rules test`, `cases run`, pytest and CI all use what is here."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError

from diagnose import units, yamlfile
from diagnose.matcher import matcher_for
from diagnose.pipeline import Diagnosis, examine
from diagnose.rulebook import Rule, Rulebook, load_rules
from diagnose.shipped import shipped
from diagnose.visit import VisitError, visit_in
from diagnose.yamlfile import InputProblems, Problem

# -- the rules' own tests ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class RuleTrial:
    """One test beside a rule. expected: whether the rule shall fire."""

    rule: str
    number: int
    expected: bool
    words: Mapping[str, str]
    machine: Mapping[str, str]
    file: str

    @property
    def name(self) -> str:
        """How it is listed."""
        return f"{self.rule} test {self.number + 1}"


@dataclass(frozen=True, slots=True)
class TrialResult:
    """How one trial went; `why` says in a sentence what was wrong."""

    name: str
    passed: bool
    why: str = ""


def rule_trials(rules: Rulebook, only: str | None = None) -> Iterator[RuleTrial]:
    """Every test in the book, or those of one rule, fault or file."""
    for rule in rules.rules:
        if only and only not in (rule.id, rule.fault, rule.file, Path(rule.file).name):
            continue
        for number, trial in enumerate(rule.entry.tests):
            machine = {name: sorted(words)[0] for name, words in rule.applies} | dict(trial.machine)
            words = trial.fires if trial.fires is not None else trial.quiet
            yield RuleTrial(rule.id, number, trial.fires is not None, words or {}, machine, rule.file)


def run_rule_trial(trial: RuleTrial, rules: Rulebook) -> TrialResult:
    """Through the real matcher, with the whole book loaded: states are concluded, not given."""
    speaking = rules.applying(trial.machine)
    matched = matcher_for(speaking.patterns).run({name: {word: 1.0} for name, word in trial.words.items()})
    fired = any(firing.rule == trial.rule and firing.sure > 0.5 for firing in matched.firings)
    if fired == trial.expected:
        return TrialResult(trial.name, True)
    given = ", ".join(f"{name}: {word}" for name, word in trial.words.items())
    states = ", ".join(f"{s}: {max(w, key=lambda k: w[k])}" for s, w in matched.states.items()) or "none"
    verb = "fires" if fired else "stays quiet"
    return TrialResult(trial.name, False, f"{trial.rule} {verb} on {{{given}}} (states concluded: {states})")


def without_trials(rules: Rulebook) -> list[Rule]:
    """Rules with conditions but without both kinds of test. The loader refuses them; this is for other books."""
    return [
        rule
        for rule in rules.rules
        if (rule.when or rule.either)
        and not (
            any(t.fires is not None for t in rule.entry.tests) and any(t.quiet is not None for t in rule.entry.tests)
        )
    ]


# -- cases ---------------------------------------------------------------------------------------------------------


class Expected(BaseModel):
    """What a case must come to; only what is written is checked.

    first: the fault in first place, or any of a list. charge: the verdict. status: diagnosed or not ready.
    cautions: rules that must be shown. problems: words that a listed problem must contain. quantities: value with its
    unit and how near it must be. not_above: these faults may not rank above the first.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)
    first: str | list[str] | None = None
    second: str | list[str] | None = None
    charge: str | list[str] | None = None
    status: str = "diagnosed"
    cautions: list[str] = []
    problems: list[str] = []
    checks: list[str] = []
    quantities: dict[str, dict[str, Any]] = {}


class CaseFile(BaseModel):
    """One visit whose answer is known, and where that answer comes from."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)
    case: str
    story: str
    truth: str
    truth_from: str
    visit: dict[str, Any]
    expect: Expected


@dataclass(frozen=True)
class Case:
    """A case file that was read."""

    path: Path
    folder: str
    entry: CaseFile
    document: yamlfile.Document = field(repr=False)

    @property
    def name(self) -> str:
        """Folder and file name."""
        return f"{self.folder}/{self.path.stem}"


@dataclass(frozen=True)
class CaseResult:
    """How one case went. first_right: whether the true fault came first."""

    case: Case
    diagnosis: Diagnosis | None
    wrong: tuple[str, ...]

    @property
    def passed(self) -> bool:
        """Everything expected came out."""
        return not self.wrong

    @property
    def first_right(self) -> bool | None:
        """None where nothing was to be ranked."""
        if self.diagnosis is None or not self.diagnosis.faults or self.case.entry.expect.first is None:
            return None
        return self.diagnosis.faults[0].fault == self.case.entry.truth


def case_paths(where: Path | None = None) -> list[Path]:
    """All case files below a folder, or the one file; the shipped cases unless said."""
    root = shipped("cases") if where is None else where
    if root.is_file():
        return [root]
    if not root.is_dir():
        raise InputProblems([Problem(str(root), 0, 0, "there is no such folder or case file", "Check the name.")])
    return sorted(root.rglob("*.yaml"))


def read_case(path: Path) -> Case:
    """One case file. Raises InputProblems with every mistake in it."""
    document = yamlfile.read(path)
    try:
        entry = CaseFile.model_validate(document.data)
    except ValidationError as error:
        known: dict[yamlfile.Path, Any] = {(): CaseFile.model_fields, ("expect",): Expected.model_fields}
        raise InputProblems(yamlfile.model_problems(document, error, known=lambda at: known.get(at, {}))) from None
    return Case(path, path.parent.name, entry, document)


def run_case(case: Case, rules: Rulebook | None = None) -> CaseResult:
    """Examines the visit of a case and compares."""
    rules = rules if rules is not None else load_rules()
    try:
        diagnosis = examine(visit_in(case.document, ("visit",)), rules)
    except VisitError as error:
        return CaseResult(case, None, tuple(str(p) for p in error.problems))
    return CaseResult(case, diagnosis, tuple(_differences(case.entry.expect, diagnosis, rules)))


def _differences(expect: Expected, diagnosis: Diagnosis, rules: Rulebook) -> Iterator[str]:
    if diagnosis.status != expect.status:
        yield f"status is {diagnosis.status}, not {expect.status}: {' '.join(diagnosis.not_ready)}"
    for place, wanted in enumerate((expect.first, expect.second)):
        if wanted is None:
            continue
        allowed = [wanted] if isinstance(wanted, str) else wanted
        unknown = [name for name in allowed if name not in rules.faults]
        if unknown:
            yield f"`{unknown[0]}` is not a fault"
        has = diagnosis.faults[place].fault if len(diagnosis.faults) > place else "nothing"
        if has not in allowed:
            shares = ", ".join(f"{f.fault} {f.share:.2f}" for f in diagnosis.faults[:3])
            yield f"place {place + 1} is {has}, not {' or '.join(allowed)} ({shares})"
    verdicts = [expect.charge] if isinstance(expect.charge, str) else expect.charge
    if verdicts is not None and diagnosis.charge.verdict not in verdicts:
        yield f"charge is {diagnosis.charge.verdict!r}, not {' or '.join(verdicts)}: {diagnosis.charge.why}"
    shown = {c.rule for c in diagnosis.cautions}
    for caution in expect.cautions:
        if caution not in shown:
            yield f"caution {caution} is not shown"
    for words in expect.problems:
        if not any(words in problem for problem in diagnosis.problems):
            yield f"no problem says `{words}`; there are: {' | '.join(diagnosis.problems)}"
    advised = [c.check for c in diagnosis.checks]
    for check in expect.checks:
        if check not in advised:
            yield f"check {check} is not advised ({', '.join(advised)})"
    for name, wanted_value in expect.quantities.items():
        yield from _quantity(name, wanted_value, diagnosis)


def _quantity(name: str, wanted: Mapping[str, Any], diagnosis: Diagnosis) -> Iterator[str]:
    """`{value: 23 F, within: 0.5 F}`, or `target:` instead of `value:`."""
    estimate = diagnosis.estimates.get(name)
    if estimate is None:
        yield f"quantity {name} was not worked out"
        return
    kind: Any = estimate.kind
    which = "target" if "target" in wanted else "value"
    has = estimate.value if which == "value" else estimate.target.value if estimate.target else None
    if has is None:
        yield f"{name} has no target"
        return
    try:
        if kind == "ratio":
            value, within = float(wanted[which]), float(wanted["within"])
        else:
            value = units.parse(wanted[which], kind).value
            within = units.parse(wanted["within"], "difference" if kind == "temperature" else kind).value
    except (units.UnitError, KeyError, ValueError) as error:
        yield f"quantity {name}: {error}"
        return
    if abs(has - value) > within:
        yield f"{name} {which} is {has:.4g} (SI), not {value:.4g} within {within:.3g}"


def tally(results: list[CaseResult]) -> dict[str, tuple[int, int, int, int]]:
    """Per folder: passed, failed, true fault first, cases where that could be. Folders are never pooled."""
    found: dict[str, list[int]] = {}
    for result in results:
        counts = found.setdefault(result.case.folder, [0, 0, 0, 0])
        counts[0 if result.passed else 1] += 1
        if result.first_right is not None:
            counts[3] += 1
            counts[2] += result.first_right
    return {folder: (c[0], c[1], c[2], c[3]) for folder, c in found.items()}
