"""The shape of the rule files, one pydantic model a kind of entry. What may stand in a file is what stands here.

A fault's file stands in `fault_model.py`, changes.yaml in `change_model.py`, what a single field may hold in `fields.py`.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Field

from diagnose.rulebook.entries import EntryStatus, Holds, Level, ScaleBy, ScaleTarget
from diagnose.rulebook.fields import (
    WORDS,
    Applies,
    Between,
    Date,
    Filled,
    Id,
    LabelText,
    Minutes,
    Points,
    Rank,
    Source,
    Text,
    Vocabulary,
    When,
    Why,
    WordOrWords,
    Written,
    shape,
)


class WrittenScale(Written):
    """Limits between the words of a finding, for the machines it applies to."""

    applies: Applies = Field({})
    target: ScaleTarget | None = Field(
        None,
        description="Only where the expected value comes from there; `baseline`: from the machine's own good day, "
        "which goes first; `assumed`: typical, without the SEER or the wet bulb that it follows from.",
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


class Signable(Written):
    """What any entry of a company's own may say of itself."""

    author: Text | None = Field(None, description="Who wrote it.")
    since: Date | None = Field(None, description="Since when it holds: year-month-day.")
    status: EntryStatus | None = Field(
        None, description="A draft speaks only with `--drafts`, what is retired never; `in force` unless said."
    )
    renamed: list[str] = Field(
        [], description="Names that it had in earlier books: `rules upgrade` brings them up to date."
    )


class WrittenFindingEntry(Signable):
    """A quantity put into words, or something seen."""

    model_config = ConfigDict(
        json_schema_extra={
            "if": {"properties": {"seen": {"const": True}}, "required": ["seen"]},
            "then": {"not": {"anyOf": [{"required": ["quantity"]}, {"required": ["scales"]}]}},
            "else": {"required": ["quantity", "scales"]},
        }
    )

    finding: LabelText = Field(description="The finding's name, as rules write it.")
    what: Text = Field(description="What it is, in words a first-year apprentice understands.")
    quantity: str | None = Field(None, description="The quantity that is put into words.")
    seen: bool = Field(False, description="true where it is looked at, not worked out.")
    ask: Text | None = Field(None, description="How to look, or what to ask, as one instruction.")
    minutes: Minutes = Field(5, description="How long it takes.")
    words: Vocabulary = Field(description="The words it may have; from low to high where it is a quantity.")
    scales: list[WrittenScale] = Field(
        [], description="Limits between the words. The first whose `applies` fits the machine counts."
    )


_Example = Annotated[dict[str, WordOrWords], shape(type="object", additionalProperties=WORDS)]


class WrittenTrial(Written):
    """One example beside a rule: findings that must make it fire, or must leave it quiet.

    A list stands for an example with each of its words, beside the first of every other list.
    """

    model_config = ConfigDict(json_schema_extra={"oneOf": [{"required": ["fires"]}, {"required": ["quiet"]}]})

    fires: _Example | None = Field(
        None, description="Findings on which the rule must fire; a list of words: on each of them."
    )
    quiet: _Example | None = Field(
        None, description="Findings on which the rule must stay quiet; a list of words: on each of them."
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


class WrittenRuleEntry(Signable):
    """What all rules share."""

    model_config = ConfigDict(json_schema_extra=_tested)

    id: Id = Field(
        description="The fault (or the folder of a company's own rules), a slash, and a name: small letters, digits, hyphens."
    )
    title: Text = Field(description="What holds, as a sentence without a final period.")
    applies: Applies = Field({})
    when: When = Field(
        {},
        description="Finding: word. All must hold. A list of words means any of them; `not high` means any other word.",
    )
    why: Filled = Field(description="The reason, in one to three short sentences. {finding} prints its figure.")
    source: Source
    check: Id | None = Field(None, description="What to do next when this rule has fired: a name from checks.yaml.")
    tests: list[WrittenTrial] = Field(
        [],
        description="Examples: findings that must make the rule fire, and findings that must leave it quiet. "
        "One of each at least.",
    )


class EvidenceRule(WrittenRuleEntry):
    """Evidence for or against one fault."""

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
    """Says why no verdict may be given: on the charge, on the visit as it is, or because the rules know nothing of it.

    Also what is otherwise on a machine that is not the textbook's, and which findings say nothing there.
    """

    holds: Holds = Field(
        description="visit: nothing is ranked. charge: faults are ranked, the charge is not judged. nothing: only told."
    )
    silent: list[str] = Field(
        [], description="Findings that say nothing on such a machine: no figure is known that would be right there."
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
        Between(0.5, 1, "A share from 0.5 to 1, for example 0.95."),
    ] = Field(description="The share of the limit from which care is asked for.")
    source: Source
    why: Why


class WrittenStateEntry(Signable):
    """A state that rules may conclude, and its words."""

    state: LabelText = Field(description="The state's name, as rules write it.")
    question: Text = Field(description="The question about the machine that it answers.")
    means: Text | None = Field(None, description="What the question asks, for a lesson: a few sentences.")
    words: Vocabulary = Field(description="The words it may have; from low to high where it is a quantity.")


class WrittenCheckInstead(Written):
    """How the check is told on the machines it applies to."""

    applies: dict[str, WordOrWords] = Field(description="Machine facts: the check is told so on these machines.")
    ask: Text = Field(description="What to do, as one instruction.")
    why: Why
    gives: list[str] = Field([], description="The findings that it brings there, if others.")


class WrittenCheckEntry(Signable):
    """Something to do next that would settle a doubt."""

    check: Id = Field(description="The check's name, as rules write it: small letters, digits, hyphens.")
    ask: Text = Field(description="What to do, as one instruction.")
    why: Why
    minutes: Minutes = Field(description="How long it takes.")
    gives: list[str] = Field([], description="The findings that it brings.")
    after: list[str] = Field(
        [], description="Findings that must be known first, for what it brings is worked out with them."
    )
    needs: Text | None = Field(None, description="What must be at hand, or be so, before it can be done.")
    not_on: list[dict[str, WordOrWords]] = Field(
        [], description="Machine facts, a list of them: no machine that one of them is about can do the check."
    )
    instead: list[WrittenCheckInstead] = Field([], description="How the check is told on other machines.")


class WrittenSourceEntry(Signable):
    """A publication, or the honest word that there is none."""

    title: Text = Field(description="Author, year and title.")
    confidence: Literal["read", "read second-hand", "from memory", "computed", "no source"] = Field(
        description="Whether the text was read, or is recalled from memory."
    )
    note: Text | None = Field(None, description="What else should be known about it.")


class WrittenUnparted(Written):
    """Faults of which none may be said strongly while these findings stand and nothing that tells them apart is known."""

    faults: list[Id] = Field(description="The faults, by their ids.")
    findings: Annotated[dict[str, WordOrWords], shape(type="object", additionalProperties=WORDS, minProperties=1)] = (
        Field(description="Each finding with the words of it under which they look alike.")
    )
    parted_by: Annotated[dict[str, WordOrWords], shape(type="object", additionalProperties=WORDS)] = Field(
        description="The findings that tell them apart, each with the words that do; one word that is `sure` is enough."
    )
    source: Source
    applies: Applies = Field({})


class WrittenChargePolicy(Written):
    """When the charge may be judged and how finely: the figures of charge.py."""

    sure: Annotated[
        float,
        Between(0.5, 1, "A share above 0.5 and below 1: 0.75 means right three times of four.", above=True, below=True),
    ] = Field(description="How sure a charge verdict must be, above 0.5 and below 1.")
    leads_by: Annotated[float, Between(0, 1, "A share from 0 to 1, for example 0.05.")] = Field(
        description="The share by which another fault may lead before the charge is not judged."
    )
    least_share: Annotated[
        float,
        Between(0, 0.99, "A share from 0 to 0.99, for example 0.5."),
    ] = Field(
        0.0,
        description="The share of all faults that its own must have before the charge is touched, where superheat and "
        "subcooling were measured.",
    )
    finest_percent: Annotated[float, Between(1, 50, "From 1 to 50 percent.")] = Field(
        description="Charge amounts are not given more finely than this, in percent."
    )
    one_doubt: list[list[Id]] = Field(
        [], description="Groups of faults that gauges cannot tell apart, which count together here."
    )
    unparted: list[WrittenUnparted] = Field(
        [],
        description="Faults that look alike while certain findings stand, until something that tells them apart is known.",
    )
    source: Source
    why: Why


class FindingsFile(Written):
    """findings.yaml."""

    findings: list[WrittenFindingEntry] = Field(description="Every finding, with its words and limits.")


class StatesFile(Written):
    """states.yaml."""

    states: list[WrittenStateEntry] = Field([], description="Every state that rules may conclude.")
    rules: list[StateRule] = Field([], description="One entry a rule.")


class ReadinessFile(Written):
    """readiness.yaml."""

    charge: WrittenChargePolicy | None = Field(None, description="When the charge may be judged, and how finely.")
    rules: list[ReadinessRule] = Field([], description="One entry a rule.")


class CautionsFile(Written):
    """cautions.yaml."""

    pressure_limits: WrittenPressureLimits | None = Field(
        None, description="How high the high side may go, by refrigerant, where the machine's cut-out is not given."
    )
    rules: list[CautionRule] = Field([], description="One entry a rule.")


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

    rules: list[OwnRule] = Field(description="One entry a rule.")
