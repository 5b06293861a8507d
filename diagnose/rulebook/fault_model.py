"""The shape of a fault's file: the fault, its repair, how it is taught, and the rules for and against it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from diagnose.rulebook.entries import Moves, PlaceName
from diagnose.rulebook.fields import (
    WORDS,
    Applies,
    Cited,
    Hours,
    Id,
    Source,
    Text,
    Usual,
    Why,
    WordOrWords,
    Written,
    not_empty,
    shape,
)
from diagnose.rulebook.models import EvidenceRule, Signable


class WrittenRepairStep(Written):
    """One thing to do or to beware of, on the machines it applies to."""

    do: Text = Field(description="The step, as one instruction.")
    applies: dict[str, WordOrWords] = Field(description="Machine facts: the step is for these machines only.")


RepairLine = Text | WrittenRepairStep
"""A plain text is for every machine."""


class WrittenRepair(Written):
    """What to do about a fault, what can hurt, and what the readings should do afterwards."""

    do: Annotated[list[RepairLine], AfterValidator(not_empty), Field(json_schema_extra={"minItems": 1})] = Field(
        description="Steps, in their order."
    )
    cautions: list[RepairLine] = Field([], description="What can hurt a person or the machine.")
    expect: Text = Field(description="What the readings do after the repair.")


class WrittenStoryStep(Written):
    """What happens at one place of the circuit."""

    place: PlaceName = Field(description="The place in the circuit.")
    what: Text = Field(description="What happens there, as an apprentice can follow it.")


class WrittenMoving(Written):
    """A quantity or a reading, which way the fault moves it, and why."""

    quantity: str = Field(description="A quantity, or a reading as a visit names it.")
    applies: Applies = Field({})
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
    story: Annotated[list[WrittenStoryStep], AfterValidator(not_empty), _Some] = Field(
        description="What happens, step by step along the refrigerant's path."
    )
    readings: Annotated[list[WrittenMoving], AfterValidator(not_empty), _Some] = Field(
        description="Which readings move, which way and why."
    )
    confirm: Annotated[list[Text], AfterValidator(not_empty), _Some] = Field(
        description="How to confirm it, in the order of doing."
    )
    questions: Annotated[list[WrittenClassQuestion], AfterValidator(not_empty), _Some] = Field(
        description="Questions to ask a class."
    )


class WrittenWrongCall(Written):
    """Hours lost by acting on this fault where another is the true one: what a check that prevents it is worth."""

    hours: Hours = Field(description="Hours lost, from 0 to 40.")
    why: Why


class WrittenBrings(Written):
    """Findings that a fault makes by itself, on the machines it applies to: no reason to look for a second fault."""

    applies: Applies = Field({})
    findings: Annotated[dict[str, WordOrWords], shape(type="object", additionalProperties=WORDS, minProperties=1)] = (
        Field(description="Each finding with the words that it makes of it.")
    )
    shows: float | None = Field(
        None,
        gt=0,
        lt=1,
        description="How often it shows one of these words, 0 to 1; left out where it is the usual share.",
    )
    source: Source


class WrittenInHeating(Written):
    """What is otherwise in heating, where the coils have changed places."""

    what: Text = Field(description="What the fault is in heating.")
    expect: Text = Field(description="What the readings do after the repair.")
    looks_like: dict[str, Text] = Field({}, description="Other faults that look like it in heating.")


class WrittenFaultEntry(Signable):
    """Everything about one fault."""

    fault: Id = Field(description="The fault's id, and the name of this file: small letters, digits, hyphens.")
    name: Text = Field(description="What it is called in reports.")
    usual: Usual = Field(
        description="How usual it is before anything is measured: each point doubles the odds. From -4 to 4."
    )
    usual_source: Cited = Field(description="Where `usual` comes from: a name from sources.yaml.")
    charge: Literal["low", "high", "right"] | None = Field(
        None,
        description="How the charge is where this is the fault; left out, it is not judged while this fault leads.",
    )
    what: Text = Field(description="What it is, in words a first-year apprentice understands.")
    looks_like: dict[str, Text] = Field({}, description="Other faults that look like it, and how to tell them apart.")
    in_heating: WrittenInHeating | None = Field(
        None, description="What is told of it in heating instead; what looks like it in cooling is not told there."
    )
    applies: Applies = Field({}, description="Machine facts: only such machines can have it.")
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
    rules: Annotated[list[EvidenceRule], AfterValidator(not_empty), Field(json_schema_extra={"minItems": 1})] = Field(
        description="One entry a rule."
    )
