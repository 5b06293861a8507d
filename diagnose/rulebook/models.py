"""The shape of every rule file: one pydantic model a kind of entry. What may stand in a file is what stands here."""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from diagnose.yamlfile import did_you_mean

Words = str | list[str]
NAME = r"^[a-z][a-z0-9]*(-[a-z0-9]+)*(/[a-z0-9]+(-[a-z0-9]+)*)?$"


class Teach(ValueError):  # noqa: N818 - it teaches
    """A mistake in a value: what is wrong, and how to mend it."""

    def __init__(self, what: str, fix: str = "") -> None:
        super().__init__(what)
        self.what, self.fix = what, fix


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _name(text: str) -> str:
    if not re.match(NAME, text):
        raise Teach(f"`{text[:40]}` is not an id", "Small letters, digits and hyphens, for example `find-the-leak`.")
    return text


def _some(text: str) -> str:
    if not text:
        raise Teach("this text is empty", "Write a sentence.")
    return text


def _points(points: float) -> float:
    if not -4 <= points <= 4 or points == 0:
        raise Teach(
            f"{points:g} points are out of range",
            "From -4 to 4 and not 0: each point doubles, or halves, the odds of the fault.",
        )
    return float(points)


Text = Annotated[str, AfterValidator(_one_line), AfterValidator(_some)]
Id = Annotated[str, AfterValidator(_name)]
Points = Annotated[float, AfterValidator(_points)]
Cited = Annotated[list[str], BeforeValidator(lambda v: [v] if isinstance(v, str) else v), Field(min_length=1)]


class Entry(BaseModel):
    """Base of all entries: nothing that is not named here may stand in them."""

    # Deferred: only the models of whole files are ever built, each once, when its file is read.
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class Scale(Entry):
    """Limits between the words of a finding, for the machines it applies to."""

    applies: dict[str, Words] = {}
    target: Literal["maker", "protocol", "typical", "none"] | None = None
    by: Literal["value", "difference", "nearest", "share", "target"] = "value"
    limits: list[str | int | float] = []
    spread: str | int | float | None = None
    source: Cited
    why: Text


class FindingEntry(Entry):
    """A quantity put into words, or something seen."""

    finding: str
    what: Text
    quantity: str | None = None
    seen: bool = False
    ask: Text | None = None
    minutes: float = 5
    words: list[str] = Field(min_length=2)
    scales: list[Scale] = []


class Trial(Entry):
    """One example beside a rule: findings that must make it fire, or must leave it quiet."""

    fires: dict[str, str] | None = None
    quiet: dict[str, str] | None = None
    machine: dict[str, str] = {}
    because: Text | None = None


class RuleEntry(Entry):
    """What all rules share."""

    id: Id
    title: Text
    applies: dict[str, Words] = {}
    when: dict[str, Any] = {}
    why: Text
    source: Cited
    check: Id | None = None
    tests: list[Trial] = []


class EvidenceRule(RuleEntry):
    """Speaks for or against one fault."""

    points: Points


class StateRule(RuleEntry):
    """Concludes a state of the machine."""

    concludes: dict[str, str]


class ReadinessRule(RuleEntry):
    """Says why no verdict may be given yet, on the whole visit or on the charge only."""

    holds: Literal["visit", "charge"]


class CautionRule(RuleEntry):
    """Says what could hurt a person or the machine; the lower the rank, the sooner it is printed."""

    rank: int = Field(ge=1, le=99)


class StateEntry(Entry):
    """A state that rules may conclude, and its words."""

    state: str
    question: Text
    words: list[str] = Field(min_length=2)


class CheckEntry(Entry):
    """Something to do next that would settle a doubt."""

    check: Id
    ask: Text
    why: Text
    minutes: float = Field(gt=0, le=480)
    gives: list[str] = []
    needs: Text | None = None


class Repair(Entry):
    """What to do about a fault, what can hurt, and what the readings should do afterwards."""

    do: list[Text] = Field(min_length=1)
    cautions: list[Text] = []
    expect: Text


class FaultEntry(Entry):
    """Everything about one fault."""

    fault: Id
    name: Text
    usual: float = Field(ge=-4, le=4)
    usual_source: Cited
    charge: Literal["low", "high", "right"] | None = None
    what: Text
    looks_like: dict[str, Text] = {}
    repair: Repair | None = None
    rules: list[EvidenceRule] = Field(min_length=1)


class SourceEntry(Entry):
    """A publication, or the honest word that there is none."""

    title: Text
    confidence: Literal["read", "read second-hand", "from memory", "computed", "no source"]
    note: Text | None = None


class ChargePolicy(Entry):
    """When the charge may be judged and how finely: the figures of charge.py."""

    sure: float = Field(gt=0.5, lt=1)
    leads_by: float = Field(ge=0, le=1)
    finest_percent: float = Field(ge=1, le=50)
    source: Cited
    why: Text


class FindingsFile(Entry):
    """findings.yaml."""

    findings: list[FindingEntry]


class StatesFile(Entry):
    """states.yaml."""

    states: list[StateEntry] = []
    rules: list[StateRule] = []


class ReadinessFile(Entry):
    """readiness.yaml."""

    charge: ChargePolicy | None = None
    rules: list[ReadinessRule] = []


class CautionsFile(Entry):
    """cautions.yaml."""

    rules: list[CautionRule]


class ChecksFile(Entry):
    """checks.yaml."""

    checks: list[CheckEntry]


class SourcesFile(Entry):
    """sources.yaml."""

    sources: dict[Id, SourceEntry]


class OwnRule(EvidenceRule):
    """A company's own rule about any fault of the book."""

    fault: Id


class OwnRulesFile(Entry):
    """rules.yaml of a company's own folder."""

    rules: list[OwnRule]


class Change(Entry):
    """A company's change of one shipped figure, or a shipped rule switched off.

    One of: `points` (a rule's), `limits` (of a finding), `usual` (a fault's), `off` (a rule). `was` must be what the
    shipped book says, so that a change made for an older book is noticed.
    """

    points: Id | None = None
    limits: str | None = None
    usual: Id | None = None
    off: Id | None = None
    was: float | list[str | int | float] | None = None
    now: float | list[str | int | float] | None = None
    because: Text
    date: Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}$")]

    @model_validator(mode="after")
    def _one_kind(self) -> Change:
        kinds = [name for name in ("points", "limits", "usual", "off") if getattr(self, name) is not None]
        if len(kinds) != 1:
            raise Teach("a change names one thing", "Write one of `points`, `limits`, `usual` or `off`.")
        if kinds == ["off"]:
            if self.was is not None or self.now is not None:
                raise Teach("a rule that is switched off has no `was` and no `now`", "Take them out.")
        elif self.was is None or self.now is None:
            what = f"a change of `{kinds[0]}` needs `was` and `now`"
            raise Teach(what, "Write what it is in the shipped book, and what it shall be.")
        elif isinstance(self.was, list) != (kinds == ["limits"]) or isinstance(self.now, list) != (kinds == ["limits"]):
            raise Teach(
                f"`was` and `now` of `{kinds[0]}` must be {'lists of limits' if kinds == ['limits'] else 'numbers'}",
                "For example `was: [-5 F, 5 F]`." if kinds == ["limits"] else "For example `was: 2`.",
            )
        return self

    @property
    def kind(self) -> str:
        """points, limits, usual or off."""
        return next(name for name in ("points", "limits", "usual", "off") if getattr(self, name) is not None)

    @property
    def target(self) -> str:
        """The rule, finding or fault that is changed."""
        return str(getattr(self, self.kind))


class ChangesFile(Entry):
    """changes.yaml of a company's own folder."""

    changes: list[Change]


def near(word: str, known: list[str]) -> str:
    """Did-you-mean, or the list of what is known."""
    return did_you_mean(word, known) or f"Known: {', '.join(known)}."
