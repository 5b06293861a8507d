"""The shape of every rule file: one pydantic model a kind of entry. What may stand in a file is what stands here."""

from __future__ import annotations

import datetime
import re
from typing import Annotated, Any, Literal, get_args

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema, model_validator

from diagnose.rulebook.entries import ChangeKind, Level, Moves, PlaceName, ScaleBy, ScaleTarget
from diagnose.yamlfile import did_you_mean

Words = str | list[str]
LABEL = r"[^\s{}\[\],:#]([^{}\[\],:#]*[^\s{}\[\],:#])?"
NAME = r"^[a-z][a-z0-9]*(-[a-z0-9]+)*(/[a-z0-9]+(-[a-z0-9]+)*)?$"
SHOWN = 12  # names listed where none is near


class Teach(ValueError):  # noqa: N818 - it teaches
    """A mistake in a value: what is wrong, and how to mend it."""

    def __init__(self, what: str, fix: str = "") -> None:
        super().__init__(what)
        self.what, self.fix = what, fix


def _shape(**schema: Any) -> WithJsonSchema:
    """What the JSON Schema says of a type whose checks are functions of ours (see `diagnose/workshop/schemas.py`)."""
    return WithJsonSchema(schema)


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _name(text: str) -> str:
    if not re.fullmatch(NAME, text):
        raise Teach(f"`{text[:40]}` is not an id", "Small letters, digits and hyphens, for example `find-the-leak`.")
    return text


def _label(text: str) -> str:
    if not re.fullmatch(LABEL, text) or text == "any":
        fix = "One or a few words, for example `coil superheat`; without brackets, colons and commas, and not `any`."
        raise Teach(f"`{text[:40]}` is not a name", fix)
    return text


def _some(text: str) -> str:
    if not text:
        raise Teach("this text is empty", "Write a sentence.")
    return text


def no_truth(value: object) -> object:
    """pydantic takes `true` for 1."""
    if isinstance(value, bool):
        raise Teach(f"`{str(value).lower()}` is not a number", "Write the number alone, for example `1.5`.")
    return value


def _between(low: float, high: float, fix: str) -> AfterValidator:
    def check(value: float) -> float:
        if not low <= value <= high:
            raise Teach(f"{value:g} cannot be right here", fix)
        return value

    return AfterValidator(check)


def _points(points: float) -> float:
    if not -4 <= points <= 4 or points == 0:
        raise Teach(
            f"{points:g} points are out of range",
            "From -4 to 4 and not 0: each point doubles, or halves, the odds of the fault.",
        )
    return float(points)


def _usual(usual: float) -> float:
    if not -4 <= usual <= 4:
        raise Teach(
            f"`usual` cannot be {usual:g}", "From -4 to 4: each point doubles, or halves, the odds of the fault."
        )
    return float(usual)


def _rank(rank: int) -> int:
    if not 1 <= rank <= 99:
        raise Teach(f"`rank` cannot be {rank}", "From 1, printed first, to 99.")
    return rank


def _minutes(minutes: float) -> float:
    if not 0 < minutes <= 480:
        raise Teach(f"{minutes:g} minutes cannot be right", "Above 0 and up to 480, a working day.")
    return minutes


def _hours(hours: float) -> float:
    if not 0 <= hours <= 40:
        raise Teach(f"{hours:g} hours cannot be right", "From 0 to 40, a working week.")
    return float(hours)


def _words(words: list[str]) -> list[str]:
    if len(words) < 2:
        raise Teach("there are fewer than two words", "For example `words: [low, normal, high]`.")
    for word in words:
        if words.count(word) > 1:
            raise Teach(f"`{word}` is there twice", "Each word once.")
        if word.startswith("not ") and word.removeprefix("not ") in words:
            raise Teach(f"`{word}` cannot be a word beside `{word[4:]}`", "`not` before a word means any other word.")
    return words


def _not_empty(items: list[Any]) -> list[Any]:
    if not items:
        raise Teach("this list is empty", "Write one entry at least.")
    return items


def _cited(sources: list[str]) -> list[str]:
    if not sources:
        raise Teach("no source is named", "A name from sources.yaml; `common-practice` where nothing was read.")
    return sources


def _date(date: str) -> str:
    try:
        if re.fullmatch(r"\d{4}-\d{2}-\d{2}", date, re.ASCII):
            datetime.date.fromisoformat(date)
            return date
    except ValueError:
        pass
    raise Teach(f"`{date[:40]}` is not a date", "Year-month-day, for example `2026-03-31`.")


Text = Annotated[str, AfterValidator(_one_line), AfterValidator(_some), _shape(type="string", pattern=r"\S")]
Label = Annotated[str, AfterValidator(_label), _shape(type="string", pattern=f"^{LABEL}$", **{"not": {"const": "any"}})]
Id = Annotated[str, AfterValidator(_name), _shape(type="string", pattern=NAME)]
Points = Annotated[
    float,
    BeforeValidator(no_truth),
    AfterValidator(_points),
    _shape(type="number", minimum=-4, maximum=4, **{"not": {"const": 0}}),
]
Usual = Annotated[
    float, BeforeValidator(no_truth), AfterValidator(_usual), _shape(type="number", minimum=-4, maximum=4)
]
Rank = Annotated[int, BeforeValidator(no_truth), AfterValidator(_rank), _shape(type="integer", minimum=1, maximum=99)]
Minutes = Annotated[
    float, BeforeValidator(no_truth), AfterValidator(_minutes), _shape(type="number", exclusiveMinimum=0, maximum=480)
]
Hours = Annotated[
    float, BeforeValidator(no_truth), AfterValidator(_hours), _shape(type="number", minimum=0, maximum=40)
]
Vocabulary = Annotated[
    list[str],
    AfterValidator(_words),
    _shape(type="array", items={"type": "string"}, minItems=2, uniqueItems=True),
]
Date = Annotated[str, AfterValidator(_date), _shape(type="string", pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$")]
Cited = Annotated[
    list[str],
    AfterValidator(_cited),
    BeforeValidator(lambda v: [v] if isinstance(v, str) else v or []),
    _shape(anyOf=[{"type": "string"}, {"type": "array", "items": {"type": "string"}, "minItems": 1}]),
]
_WORDS = {"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}, "minItems": 1}]}
When = Annotated[
    dict[str, Any],
    _shape(
        type="object",
        properties={
            "any": {"type": "array", "items": {"type": "object", "additionalProperties": _WORDS}, "minItems": 1}
        },
        additionalProperties=_WORDS,
    ),
]


# What several entries have.
Applies = Annotated[
    dict[str, Words], Field(description="Only for machines with these facts, for example {metering: [TXV, EEV]}.")
]
Source = Annotated[
    Cited,
    Field(description="A name from sources.yaml, then perhaps the place in it: [rossi-braun-1997, table 1]."),
]
Why = Annotated[
    Text,
    Field(description="The reason, in one to three short sentences. {finding} prints its figure, in rules."),
]
ONE_A_RULE = "One entry a rule."


class Written(BaseModel):
    """Base of all entries: nothing that is not named here may stand in them."""

    # Deferred: only the models of whole files are ever built, each once, when its file is read.
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class WrittenScale(Written):
    """Limits between the words of a finding, for the machines it applies to."""

    applies: Applies = {}
    target: ScaleTarget | None = Field(
        None,
        description="Only where the expected value comes from there; `baseline`: from the machine's own good day, "
        "which goes first.",
    )
    by: ScaleBy = Field(
        "value",
        description="What the limits are compared with: the value, its difference from the expected one, its share of it …",
    )
    limits: list[str | int | float] = Field(
        [],
        description="What lies between the words, from low to high, each with its unit: one less than there are words.",
    )
    spread: str | int | float | None = Field(
        None,
        description="How far healthy machines scatter about the expected value (standard deviation), with its unit.",
    )
    source: Source
    why: Why


class WrittenFindingEntry(Written):
    """A quantity put into words, or something seen."""

    model_config = ConfigDict(
        json_schema_extra={
            "if": {"properties": {"seen": {"const": True}}, "required": ["seen"]},
            "then": {"not": {"anyOf": [{"required": ["quantity"]}, {"required": ["scales"]}]}},
            "else": {"required": ["quantity", "scales"]},
        }
    )

    finding: Label = Field(description="The finding's name, as rules write it.")
    what: Text = Field(description="What it is, in words a first-year apprentice understands.")
    quantity: str | None = Field(None, description="The quantity that is put into words.")
    seen: bool = Field(False, description="true where it is looked at, not worked out.")
    ask: Text | None = Field(None, description="How to look, or what to ask, as one instruction.")
    minutes: Minutes = Field(5, description="How long it takes.")
    words: Vocabulary = Field(description="The words it may have; from low to high where it is a quantity.")
    scales: list[WrittenScale] = Field(
        [], description="Limits between the words. The first whose `applies` fits the machine counts."
    )


class WrittenTrial(Written):
    """One example beside a rule: findings that must make it fire, or must leave it quiet."""

    model_config = ConfigDict(json_schema_extra={"oneOf": [{"required": ["fires"]}, {"required": ["quiet"]}]})

    fires: dict[str, str] | None = Field(None, description="Findings, one word each, on which the rule must fire.")
    quiet: dict[str, str] | None = Field(
        None, description="Findings, one word each, on which the rule must stay quiet."
    )
    machine: dict[str, str] = Field({}, description="Machine facts of this test, where the rule leaves them open.")
    because: Text | None = Field(None, description="Why, where it teaches something.")


_BOTH_TESTS = {"allOf": [{"contains": {"required": ["fires"]}}, {"contains": {"required": ["quiet"]}}]}


def _tested(schema: dict[str, Any]) -> None:
    """A rule with conditions has a test of each kind."""
    schema["dependentSchemas"] = {"when": {"required": ["tests"], "properties": {"tests": _BOTH_TESTS}}}


def _speaking(schema: dict[str, Any]) -> None:
    """The same, and conditions there must be: a rule speaks only when something was found."""
    _tested(schema)
    schema["required"].append("when")


class WrittenRuleEntry(Written):
    """What all rules share."""

    model_config = ConfigDict(json_schema_extra=_tested)

    id: Id = Field(
        description="The fault (or the folder of a company's own rules), a slash, and a name: small letters, digits, hyphens."
    )
    title: Text = Field(description="What holds, as a sentence without a final period.")
    applies: Applies = {}
    when: When = Field(
        {},
        description="Finding: word. All must hold. A list of words means any of them; `not high` means any other word.",
    )
    why: Why
    source: Source
    check: Id | None = Field(None, description="What to do next when this rule has fired: a name from checks.yaml.")
    tests: list[WrittenTrial] = Field(
        [],
        description="Examples: findings that must make the rule fire, and findings that must leave it quiet. "
        "One of each at least.",
    )


class EvidenceRule(WrittenRuleEntry):
    """Speaks for or against one fault."""

    model_config = ConfigDict(json_schema_extra=_speaking)

    points: Points = Field(
        description="How strong its evidence for the fault is, from -4 to 4; each point doubles, or halves, the odds."
    )


class StateRule(WrittenRuleEntry):
    """Concludes a state of the machine."""

    model_config = ConfigDict(json_schema_extra=_speaking)

    concludes: Annotated[dict[str, str], Field(json_schema_extra={"minProperties": 1, "maxProperties": 1})] = Field(
        description="The state and its word, for example {evaporator feed: starved}."
    )


class ReadinessRule(WrittenRuleEntry):
    """Says why no verdict may be given: on the charge, on the visit as it is, or because the rules know nothing of it."""

    holds: Literal["visit", "charge", "outside"] = Field(
        description="visit: nothing is ranked. charge: faults are ranked, the charge is not judged."
    )


class CautionRule(WrittenRuleEntry):
    """Says what could hurt a person or the machine; the lower the rank, the sooner it is printed.

    level: what makes it a danger, which is told before all else; good practice that always holds has none.
    """

    rank: Rank = Field(description="The lowest is printed first.")
    level: Level | None = Field(
        None,
        description="Of a danger. stop: switch the machine off first. care: it can hurt. Left out where it always holds.",
    )


class WrittenPressureLimits(Written):
    """How high the high side may go where the machine's own cut-out is not known."""

    limits: Annotated[dict[str, str], Field(json_schema_extra={"minProperties": 1})] = Field(
        description="Refrigerant: the gauge pressure with its unit."
    )
    near: Annotated[
        float,
        _between(0.5, 1, "A share from 0.5 to 1, for example 0.95."),
        _shape(type="number", minimum=0.5, maximum=1),
    ] = Field(description="The share of the limit from which care is asked for.")
    source: Source
    why: Why


class WrittenStateEntry(Written):
    """A state that rules may conclude, and its words."""

    state: Label = Field(description="The state's name, as rules write it.")
    question: Text = Field(description="The question about the machine that it answers.")
    means: Text | None = Field(None, description="What the question asks, for a lesson: a few sentences.")
    words: Vocabulary = Field(description="The words it may have; from low to high where it is a quantity.")


class WrittenCheckInstead(Written):
    """How the check is told on the machines it applies to."""

    applies: dict[str, Words] = Field(description="Machine facts: the check is told so on these machines.")
    ask: Text = Field(description="What to do, as one instruction.")
    why: Why


class WrittenCheckEntry(Written):
    """Something to do next that would settle a doubt."""

    check: Id = Field(description="The check's name, as rules write it: small letters, digits, hyphens.")
    ask: Text = Field(description="What to do, as one instruction.")
    why: Why
    minutes: Minutes = Field(description="How long it takes.")
    gives: list[str] = Field([], description="The findings that it brings.")
    needs: Text | None = Field(None, description="What must be at hand, or be so, before it can be done.")
    instead: list[WrittenCheckInstead] = Field([], description="How the check is told on other machines.")


class WrittenRepairStep(Written):
    """One thing to do or to beware of, on the machines it applies to."""

    do: Text = Field(description="The step, as one instruction.")
    applies: dict[str, Words] = Field(description="Machine facts: the step is for these machines only.")


Step = Text | WrittenRepairStep
"""A plain text is for every machine."""


class WrittenRepair(Written):
    """What to do about a fault, what can hurt, and what the readings should do afterwards."""

    do: Annotated[list[Step], AfterValidator(_not_empty), Field(json_schema_extra={"minItems": 1})] = Field(
        description="Steps, in their order."
    )
    cautions: list[Step] = Field([], description="What can hurt a person or the machine.")
    expect: Text = Field(description="What the readings do after the repair.")


class WrittenStoryStep(Written):
    """What happens at one place of the circuit."""

    place: PlaceName = Field(description="The place in the circuit.")
    what: Text = Field(description="What happens there, as an apprentice can follow it.")


class WrittenMoving(Written):
    """A quantity or a reading, which way the fault moves it, and why."""

    quantity: str = Field(description="A quantity, or a reading as a visit names it.")
    applies: Applies = {}
    moves: Moves = Field(description="Which way, compared with the same machine without the fault in the same weather.")
    why: Why


class WrittenClassQuestion(Written):
    """A question to ask a class, and its answer."""

    ask: Text = Field(description="The question.")
    answer: Text = Field(description="What a good apprentice says.")


_Some = Field(json_schema_extra={"minItems": 1})


class WrittenLesson(Written):
    """The fault as it is taught: along the refrigerant's path, reading by reading, with questions for a class."""

    source: Cited = Field(description="Names from sources.yaml, each perhaps with the place in it.")
    story: Annotated[list[WrittenStoryStep], AfterValidator(_not_empty), _Some] = Field(
        description="What happens, step by step along the refrigerant's path."
    )
    readings: Annotated[list[WrittenMoving], AfterValidator(_not_empty), _Some] = Field(
        description="Which readings move, which way and why."
    )
    confirm: Annotated[list[Text], AfterValidator(_not_empty), _Some] = Field(
        description="How to confirm it, in the order of doing."
    )
    questions: Annotated[list[WrittenClassQuestion], AfterValidator(_not_empty), _Some] = Field(
        description="Questions to ask a class."
    )


class WrittenWrongCall(Written):
    """Hours lost by acting on this fault where another is the true one: what a check that prevents it is worth."""

    hours: Hours = Field(description="Hours lost, from 0 to 40.")
    why: Why


class WrittenBrings(Written):
    """Findings that a fault makes by itself, on the machines it applies to: no reason to look for a second fault."""

    applies: Applies = {}
    findings: Annotated[dict[str, Words], _shape(type="object", additionalProperties=_WORDS, minProperties=1)] = Field(
        description="Each finding with the words that it makes of it."
    )
    source: Source


class WrittenFaultEntry(Written):
    """Everything about one fault."""

    fault: Id = Field(description="The fault's id, and the name of this file: small letters, digits, hyphens.")
    name: Text = Field(description="What it is called in reports.")
    usual: Usual = Field(
        description="How usual it is before anything is measured: each point doubles the odds. From -4 to 4."
    )
    usual_source: Cited = Field(description="Where `usual` comes from: a name from sources.yaml.")
    charge: Literal["low", "high", "right"] | None = Field(
        None, description="What this fault says about the charge; left out where it says nothing."
    )
    what: Text = Field(description="What it is, in words a first-year apprentice understands.")
    looks_like: dict[str, Text] = Field({}, description="Other faults that look like it, and how to tell them apart.")
    brings: list[WrittenBrings] = Field(
        [], description="Findings that it makes by itself, so that they are no reason to look for a second fault."
    )
    repair: WrittenRepair | None = Field(
        None, description="What to do about it, what can hurt, and what the readings do afterwards."
    )
    lesson: WrittenLesson | None = Field(
        None, description="How it is taught: `diagnose lesson` prints it. A company's own fault may leave it out."
    )
    wrong_call: WrittenWrongCall | None = Field(
        None,
        description="What it costs to act on this fault where another is the true one: what a check may take to prevent it.",
    )
    rules: Annotated[list[EvidenceRule], AfterValidator(_not_empty), Field(json_schema_extra={"minItems": 1})] = Field(
        description=ONE_A_RULE
    )


class WrittenSourceEntry(Written):
    """A publication, or the honest word that there is none."""

    title: Text = Field(description="Author, year and title.")
    confidence: Literal["read", "read second-hand", "from memory", "computed", "no source"] = Field(
        description="Whether the text was read, or is recalled from memory."
    )
    note: Text | None = Field(None, description="What else should be known about it.")


class WrittenChargePolicy(Written):
    """When the charge may be judged and how finely: the figures of charge.py."""

    sure: Annotated[
        float,
        _between(0.501, 0.999, "A share above 0.5 and below 1: 0.75 means right three times of four."),
        _shape(type="number", exclusiveMinimum=0.5, exclusiveMaximum=1),
    ] = Field(description="How sure a charge verdict must be, from 0.5 to 1.")
    leads_by: Annotated[
        float, _between(0, 1, "A share from 0 to 1, for example 0.05."), _shape(type="number", minimum=0, maximum=1)
    ] = Field(description="The share by which another fault may lead before the charge is not judged.")
    least_share: Annotated[
        float,
        _between(0, 0.99, "A share from 0 to 0.99, for example 0.5."),
        _shape(type="number", minimum=0, maximum=0.99),
    ] = Field(
        0.0,
        description="The share of its own fault before the charge is touched, where superheat and subcooling were measured.",
    )
    finest_percent: Annotated[
        float, _between(1, 50, "From 1 to 50 percent."), _shape(type="number", minimum=1, maximum=50)
    ] = Field(description="Charge amounts are not given more finely than this, in percent.")
    one_doubt: list[list[Id]] = Field(
        [], description="Groups of faults that gauges cannot tell apart, which count together here."
    )
    source: Source
    why: Why


class FindingsFile(Written):
    """findings.yaml."""

    findings: list[WrittenFindingEntry] = Field(description="Every finding, with its words and limits.")


class StatesFile(Written):
    """states.yaml."""

    states: list[WrittenStateEntry] = Field([], description="Every state that rules may conclude.")
    rules: list[StateRule] = Field([], description=ONE_A_RULE)


class ReadinessFile(Written):
    """readiness.yaml."""

    charge: WrittenChargePolicy | None = Field(None, description="When the charge may be judged, and how finely.")
    rules: list[ReadinessRule] = Field([], description=ONE_A_RULE)


class CautionsFile(Written):
    """cautions.yaml."""

    pressure_limits: WrittenPressureLimits | None = Field(
        None, description="How high the high side may go, by refrigerant, where the machine's cut-out is not given."
    )
    rules: list[CautionRule] = Field([], description=ONE_A_RULE)


class ChecksFile(Written):
    """checks.yaml."""

    checks: list[WrittenCheckEntry] = Field(description="One entry a check.")


class SourcesFile(Written):
    """sources.yaml."""

    sources: dict[Id, WrittenSourceEntry] = Field(
        description="One entry a source, under the name by which rules cite it."
    )


class OwnRule(EvidenceRule):
    """A company's own rule about any fault of the book."""

    fault: Id = Field(description="The fault that it is evidence for or against.")


class OwnRulesFile(Written):
    """rules.yaml of a company's own folder."""

    rules: list[OwnRule] = Field(description=ONE_A_RULE)


_ONE_FIGURE = {"type": ["string", "number"]}
_LIMITS = {"type": "array", "items": {"type": ["string", "number"]}}
_KINDS_OF_CHANGE: list[Any] = [
    *(
        {"required": [k, "was", "now"], "properties": {"was": {"type": "number"}, "now": {"type": "number"}}}
        for k in ("points", "usual")
    ),
    {"required": ["limits", "was", "now"], "properties": {"was": _LIMITS, "now": _LIMITS}},
    {
        "required": ["judgement", "was", "now"],
        "properties": {name: {"anyOf": [_ONE_FIGURE, _LIMITS]} for name in ("was", "now")},
    },
    {
        "required": ["pressure_limit", "was", "now"],
        "properties": {"was": {"type": "string"}, "now": {"type": "string"}},
    },
    {"required": ["off"], "not": {"anyOf": [{"required": ["was"]}, {"required": ["now"]}]}},
]


class WrittenChange(Written):
    """A company's change of one shipped figure, or a shipped rule switched off.

    One of: `points` (a rule's), `limits` (of a finding), `usual` (a fault's), `judgement` (a figure of judgement.yaml),
    `off` (a rule), `pressure_limit` (of a refrigerant). `was` must be what the shipped book says, so that a change made for
    an older book is noticed.
    `approved_by`: who answers for a change that makes a danger or a hold looser.
    """

    model_config = ConfigDict(json_schema_extra={"oneOf": _KINDS_OF_CHANGE})

    points: Id | None = Field(None, description="The rule whose points are changed.")
    limits: str | None = Field(None, description="The finding whose limits are changed.")
    usual: Id | None = Field(None, description="The fault that is more or less usual here.")
    judgement: str | None = Field(
        None, description="The figure of judgement.yaml that is changed: `second fault/firm`."
    )
    off: Id | None = Field(None, description="The rule that is switched off.")
    pressure_limit: str | None = Field(None, description="The refrigerant whose high side limit is changed.")
    was: Annotated[str | int | float | list[str | int | float] | None, BeforeValidator(no_truth)] = Field(
        None, description="What the shipped book says, so that a change made for an older book is noticed."
    )
    now: Annotated[str | int | float | list[str | int | float] | None, BeforeValidator(no_truth)] = Field(
        None, description="What it shall be."
    )
    because: Text = Field(description="Why, in a sentence.")
    date: Date = Field(description="When it was decided: year-month-day.")
    approved_by: Text | None = Field(
        None,
        description="Who answers for it, where a danger or a hold is told later than by the shipped book, or not at all.",
    )

    @model_validator(mode="after")
    def _one_kind(self) -> WrittenChange:
        kinds = [name for name in get_args(ChangeKind) if getattr(self, name) is not None]
        if len(kinds) != 1:
            what = (
                f"this change names {' and '.join(f'`{k}`' for k in kinds)}" if kinds else "this change names nothing"
            )
            raise Teach(
                what,
                "Each change names one of `points`, `limits`, `usual`, `judgement`, `off` or "
                "`pressure_limit`, and what it is of.",
            )
        if kinds == ["off"]:
            if self.was is not None or self.now is not None:
                raise Teach("a rule that is switched off has no `was` and no `now`", "Take them out.")
        elif self.was is None or self.now is None:
            what = f"a change of `{kinds[0]}` needs `was` and `now`"
            raise Teach(what, "Write what it is in the shipped book, and what it shall be, as `was: 2, now: 3`.")
        elif kinds == ["pressure_limit"]:
            if not isinstance(self.was, str) or not isinstance(self.now, str):
                raise Teach("`was` and `now` of `pressure_limit` must be pressures", "For example `was: 610 psig`.")
            if self.was == self.now:
                raise Teach(
                    "`was` and `now` are the same, so nothing is changed", "Write what it shall be after `now`."
                )
        elif kinds != ["judgement"] and any(
            isinstance(f, str) or isinstance(f, list) != (kinds == ["limits"]) for f in (self.was, self.now)
        ):
            raise Teach(
                f"`was` and `now` of `{kinds[0]}` must be {'lists of limits' if kinds == ['limits'] else 'numbers'}",
                "For example `was: [-5 F, 5 F]`." if kinds == ["limits"] else "For example `was: 2`.",
            )
        elif self.was == self.now:
            raise Teach("`was` and `now` are the same, so nothing is changed", "Write what it shall be after `now`.")
        return self

    @property
    def kind(self) -> ChangeKind:
        """points, limits, usual, judgement, off or pressure_limit."""
        kinds: tuple[ChangeKind, ...] = get_args(ChangeKind)
        return next(name for name in kinds if getattr(self, name) is not None)

    @property
    def target(self) -> str:
        """The rule, finding, fault, figure or refrigerant that is changed."""
        return str(getattr(self, self.kind))


class ChangesFile(Written):
    """changes.yaml of a company's own folder."""

    changes: list[WrittenChange] = Field(description="One entry a change.")


def near(word: str, known: list[str]) -> str:
    """Did-you-mean, or the list of what is known."""
    if near_one := did_you_mean(word, known):
        return near_one
    if not known:
        return "There is none yet."
    more = f" … and {len(known) - SHOWN} more" if len(known) > SHOWN else ""
    return f"Known: {', '.join(known[:SHOWN])}{more}."
