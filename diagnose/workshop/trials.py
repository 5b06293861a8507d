"""Runs the rules' own tests and the cases. `rules test`, `cases run`, pytest and CI all use what is here."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from diagnose import units, yamlfile
from diagnose.diagnosis.next_checks import next_checks
from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.verdict import NO_VERDICT, NoVerdict
from diagnose.report.sentences import charge_text, problems
from diagnose.rulebook import Rulebook, load_rules
from diagnose.rulebook.entries import BAD_VISIT
from diagnose.shipped import shipped
from diagnose.visit import VisitError, visit_in
from diagnose.yamlfile import InputProblems, did_you_mean, refusal

# -- the rules' own tests ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class RuleTrial:
    """One test beside a rule. expected: whether the rule shall fire. variant: which of the words of its lists it is about."""

    rule: str
    number: int
    expected: bool
    words: Mapping[str, str]
    machine: Mapping[str, str]
    file: str
    variant: int = 0

    @property
    def name(self) -> str:
        """How it is listed."""
        return f"{self.rule} test {self.number + 1}" + (f".{self.variant + 1}" if self.variant else "")


@dataclass(frozen=True, slots=True)
class TrialResult:
    """How one trial went; `why` says in a sentence what was wrong."""

    name: str
    passed: bool
    why: str = ""


def rule_trials(rules: Rulebook, only: str | None = None) -> Iterator[RuleTrial]:
    """Every test in the book, or those of one rule, fault, file or folder of own rules."""
    for rule in rules.rules:
        if only and only not in (rule.id, rule.fault, rule.file, Path(rule.file).name, rule.own):
            continue
        for number, trial in enumerate(rule.entry.tests):
            machine = {name: sorted(words)[0] for name, words in rule.applies} | dict(trial.machine)
            for variant, words in enumerate(trial.each()):
                yield RuleTrial(rule.id, number, trial.fires is not None, words, machine, rule.file, variant)


def run_rule_trial(trial: RuleTrial, rules: Rulebook) -> TrialResult:
    """Through the real matcher, with the whole book loaded: states are concluded, not given."""
    speaking = rules.applying(trial.machine)
    matched = speaking.matcher().run({name: {word: 1.0} for name, word in trial.words.items()})
    fired = any(firing.rule == trial.rule and firing.sure > 0.5 for firing in matched.firings)
    if fired == trial.expected:
        return TrialResult(trial.name, True)
    given = ", ".join(f"{name}: {word}" for name, word in trial.words.items())
    states = ", ".join(f"{s}: {max(w, key=lambda k: w[k])}" for s, w in matched.states.items()) or "none"
    verb = "fires" if fired else "stays quiet"
    return TrialResult(trial.name, False, f"{trial.rule} {verb} on {{{given}}} (states concluded: {states})")


# -- cases ---------------------------------------------------------------------------------------------------------


class Amount(BaseModel):
    """How far the charge is off: the middle of the range that is shown, negative where refrigerant is missing."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    value: float = Field(description="The middle of the range that is shown.")
    within: float = Field(ge=0, description="How near it must be.")


class Expected(BaseModel):
    """What a case must come to; only what is written is checked."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    first: str | list[str] | None = Field(None, description="The fault in first place, or a list of those that may be.")
    second: str | list[str] | None = Field(
        None, description="The fault in second place, or a list of those that may be."
    )
    not_above: list[str] = Field([], description="Faults that may not rank above the first.")
    also: list[str] = Field([], description="Faults that must be named beside the first.")
    charge: str | list[str] | None = Field(None, description="The charge verdict, or a list of those that may be.")
    percent: Amount | None = Field(
        None, description="How far the charge is off, in percent; negative where refrigerant is missing."
    )
    kg: Amount | None = Field(
        None, description="How far the charge is off, in kg; negative where refrigerant is missing."
    )
    status: Literal["diagnosed", "not ready", "outside"] = Field(
        "diagnosed", description="diagnosed, not ready, or outside."
    )
    cautions: list[str] = Field([], description="Cautions that must be shown, by their ids.")
    dangers: list[str] | None = Field(
        None, description="Dangers that must be shown, by their codes; an empty list: there must be none."
    )
    problems: list[str] = Field([], description="Codes of problems that must be told.")
    checks: list[str] = Field([], description="Checks that must be advised, by their names.")
    quantities: dict[str, dict[str, Any]] = Field(
        {}, description="Figures that must come out: superheat: {value: 23 F, within: 0.5 F}."
    )
    start_up: dict[str, str] = Field(
        {},
        description="Items of a start-up, each with its status (done, failed, left out, cannot be told) or its code.",
    )


class Accepted(BaseModel):
    """When a person took a changed result for the right one, why, and what had changed."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    date: str = Field(pattern=r"^\d{4}-\d{2}-\d{2}$", description="When it was decided: year-month-day.")
    because: str = Field(min_length=1, description="Why, in a sentence.")
    changed: str = Field(description="What had changed.")
    author: str | None = Field(None, description="Who decided it.")


class CaseFile(BaseModel):
    """One visit whose answer is known, and where that answer comes from."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    case: str = Field(description="Folder and file name: demo/low-charge-orifice.")
    story: str = Field(description="What happened, in one to three plain sentences.")
    truth: str = Field(description="The fault that it was, or `bad visit` where the visit itself is wrong.")
    truth_from: str = Field(description="Where that is known from, honestly.")
    visit: dict[str, Any] = Field(description="The whole visit.")
    expect: Expected = Field(description="What must come out; only what is written is checked.")
    accepted: list[Accepted] = Field(
        [], description="Changes of the result that a person accepted, each with its reason, oldest first."
    )


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


Advice = Literal["right", "missed", "harmful"]


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
        entry = self.case.entry
        if self.diagnosis is None or not self.diagnosis.faults or entry.expect.first is None:
            return None
        return None if entry.truth == BAD_VISIT else self.diagnosis.faults[0].fault == entry.truth

    @property
    def advice(self) -> Advice | None:
        """How the charge verdict stands to the truth; None where none was given.

        harmful: told to add though the charge is not low, or to remove though it is not high. missed: the charge is off
        and was called right. A fault that does not touch the charge leaves it right.
        """
        if self.diagnosis is None or self.diagnosis.charge.verdict == NO_VERDICT:
            return None
        fault = self.diagnosis.rules.faults.get(self.case.entry.truth)
        charge = None if fault is None else fault.charge or "right"
        if self.diagnosis.charge.verdict == charge:
            return "right"
        return "harmful" if self.diagnosis.charge.verdict in ("low", "high") else "missed"


def case_paths(where: Path | None = None) -> list[Path]:
    """All case files below a folder, or the one file; the shipped cases unless said."""
    root = shipped("cases") if where is None else where
    if root.is_file():
        return [root]
    if not root.is_dir():
        raise refusal("there is no such folder or case file", "Check the name.", root)
    return sorted(root.rglob("*.yaml"))


def read_case(path: Path) -> Case:
    """One case file. Raises InputProblems with every mistake in it."""
    return case_in(yamlfile.read(path), path)


def case_in(document: yamlfile.Document, path: Path) -> Case:
    """The case in a document that is already read. Raises InputProblems."""
    if isinstance(document.data, Mapping) and "case" not in document.data and "readings" in document.data:
        fix = "Make a case of it with `diagnose cases new`."
        raise refusal("this is a visit, not a case: nothing is expected of it", fix, document.name)
    try:
        entry = CaseFile.model_validate(document.data)
    except ValidationError as error:
        raise InputProblems(yamlfile.model_problems(document, error, CaseFile)) from None
    return Case(path, path.resolve().parent.name, entry, document)


def read_cases(where: Path | None = None) -> list[Case]:
    """Every case below a folder. Raises InputProblems with every mistake in every file."""
    return yamlfile.each(read_case, case_paths(where))


def run_case(case: Case, rules: Rulebook | None = None) -> CaseResult:
    """Examines the visit of a case and compares."""
    rules = rules if rules is not None else load_rules()
    try:
        diagnosis = examine(visit_in(case.document, ("visit",), rules.own), rules)
    except VisitError as error:
        return CaseResult(case, None, tuple(str(p) for p in error.problems))
    wrong = (*_unknown(case.entry, rules), *_differences(case.entry.expect, diagnosis))
    return CaseResult(case, diagnosis, wrong)


def _unknown(entry: CaseFile, rules: Rulebook) -> Iterator[str]:
    """Faults that the book does not have."""
    expect = entry.expect
    named = [entry.truth] if entry.truth != BAD_VISIT else []
    named += [*words(expect.first), *words(expect.second), *expect.not_above, *expect.also]
    for name in dict.fromkeys(named):
        if name not in rules.faults:
            yield f"`{name}` is not a fault of this rule book. {did_you_mean(name, rules.faults)}".rstrip()


def words(value: str | list[str] | None) -> list[str]:
    """What may be written alone or as a list, as a list."""
    return [] if value is None else [value] if isinstance(value, str) else value


def ranked_above(expect: Expected, diagnosis: Diagnosis) -> list[str]:
    """Faults of `not_above` that rank above the first expected one that is in the ranking."""
    order = [fault.fault for fault in diagnosis.faults]
    place = next((i for i, name in enumerate(order) if name in words(expect.first)), len(order))
    return [name for name in expect.not_above if name in order[:place]]


def _differences(expect: Expected, diagnosis: Diagnosis) -> Iterator[str]:
    if diagnosis.status != expect.status:
        held = ", ".join(reason.code for reason in diagnosis.held)
        yield f"status is {diagnosis.status}, not {expect.status}: {held}".rstrip(": ")
    for place, wanted in enumerate((expect.first, expect.second)):
        if wanted is None:
            continue
        has = diagnosis.faults[place].fault if len(diagnosis.faults) > place else "nothing"
        if has not in words(wanted):
            shares = ", ".join(f"{f.fault} {f.share:.2f}" for f in diagnosis.faults[:3])
            yield f"place {place + 1} is {has}, not {' or '.join(words(wanted))} ({shares})"
    for name in ranked_above(expect, diagnosis):
        yield f"{name} ranks above {' or '.join(words(expect.first)) or 'all others'}"
    for name in expect.also:
        if name not in diagnosis.also:
            yield f"{name} is not named as a second fault ({', '.join(diagnosis.also) or 'none is'})"
    if expect.charge is not None and diagnosis.charge.verdict not in words(expect.charge):
        yield f"charge is {diagnosis.charge.verdict!r}, not {' or '.join(words(expect.charge))}: {charge_text(diagnosis)}"
    for unit, amount in (("percent", expect.percent), ("kg", expect.kg)):
        if amount is not None:
            yield from _amount(unit, amount, off_by(unit, diagnosis))
    shown = {rule.id for rule in diagnosis.cautions}
    for caution in expect.cautions:
        if caution not in shown:
            yield f"caution {caution} is not shown"
    threats = [danger.code for danger in diagnosis.dangers]
    for code in expect.dangers or ():
        if code not in threats:
            yield f"danger {code} is not told ({', '.join(threats) or 'none is'})"
    if expect.dangers == [] and threats:
        yield f"dangers are told, and there should be none: {', '.join(threats)}"
    told = [reason.code for reason, _ in problems(diagnosis)]
    for code in expect.problems:
        if code not in told:
            yield f"no problem is `{code}`; there are: {', '.join(told) or 'none'}"
    advised = [c.check for c in next_checks(diagnosis)] if expect.checks else []
    for check in expect.checks:
        if check not in advised:
            yield f"check {check} is not advised ({', '.join(advised)})"
    yield from _start_up(expect.start_up, diagnosis)
    for name, wanted_value in expect.quantities.items():
        yield from _quantity(name, wanted_value, diagnosis)


def _start_up(wanted: Mapping[str, str], diagnosis: Diagnosis) -> Iterator[str]:
    items = {} if diagnosis.start_up is None else {item.item: item for item in diagnosis.start_up.items}
    if wanted and not items:
        yield "the visit has no `start-up:`"
        return
    for name, told in wanted.items():
        has = {str(item): one for item, one in items.items()}.get(name)
        if has is None:
            yield f"`{name}` is no item of a start-up ({', '.join(items)})"
        elif told not in (has.status, has.code):
            yield f"{name} is {has.status} ({has.code}), not {told}"


def off_by(unit: str, diagnosis: Diagnosis) -> float | None:
    """How far the charge is off, the middle of the range that is shown; None where no amount is told."""
    c = diagnosis.charge
    span = None if isinstance(c, NoVerdict) else c.percent if unit == "percent" else c.mass
    return None if span is None else (span[0] + span[1]) / 2


def _amount(unit: str, wanted: Amount, has: float | None) -> Iterator[str]:
    if has is None:
        yield f"no {unit} of the charge is told"
    elif abs(has - wanted.value) > wanted.within:
        yield f"{unit} is {has:.3g}, not {wanted.value:g} within {wanted.within:g}"


def _quantity(name: str, wanted: Mapping[str, Any], diagnosis: Diagnosis) -> Iterator[str]:
    """`{value: 23 F, within: 0.5 F}`, or `target:` instead of `value:`."""
    estimate = diagnosis.estimates.get(name)
    if estimate is None:
        yield f"quantity {name} was not worked out"
        return
    kind: Any = "percent" if estimate.kind == "small percent" else estimate.kind
    which = "target" if "target" in wanted else "value"
    has = estimate.value if which == "value" else estimate.target.value if estimate.target else None
    if has is None:
        yield f"{name} has no target"
        return
    try:
        if kind == "ratio":
            value, within = float(wanted[which]), float(wanted["within"])
            shown = f"{has:.3g}"
        else:
            written = units.parse(wanted[which], kind)
            value, within = written.value, units.parse(wanted["within"], _margin(kind)).value
            shown = in_unit(has, written.unit, kind, wanted["within"])
    except KeyError as error:
        yield f"quantity {name}: {error} is missing, for example `{{value: 16 F, within: 0.5 F}}`"
        return
    except (units.UnitError, ValueError) as error:
        yield f"quantity {name}: {error}"
        return
    if abs(has - value) > within:
        yield f"{name} {which} is {shown}, not {wanted[which]} within {wanted['within']}"


def _margin(kind: units.Kind) -> units.Kind:
    return "difference" if kind == "temperature" else kind


def in_unit(value: float, unit: str, kind: units.Kind, within: object) -> str:
    """An SI value in a unit that somebody wrote, as fine as what it must be within."""
    margin = units.parse(within, _margin(kind))
    size = abs(units.from_si(margin.value, margin.unit, _margin(kind)))
    decimals = max(0, -math.floor(math.log10(size))) if size > 0 else 2
    return f"{units.from_si(value, unit, kind):.{decimals}f} {unit}"
