"""The shape of changes.yaml: a company's changes of shipped figures."""

from __future__ import annotations

from typing import Annotated, Any, get_args

from pydantic import BeforeValidator, ConfigDict, Field, model_validator

from diagnose.rulebook.entries import ChangeKind, EntryStatus
from diagnose.rulebook.fields import Applies, Date, Id, Text, Written, no_truth
from diagnose.yamlfile import Mistake

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
    applies: Applies = Field({}, description="Machine facts: the change holds on such machines only.")
    because: Text = Field(description="Why, in a sentence.")
    date: Date = Field(description="When it was decided: year-month-day.")
    author: Text | None = Field(None, description="Who decided it.")
    status: EntryStatus | None = Field(None, description="A draft counts only with `--drafts`, what is retired never.")
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
            raise Mistake(
                what,
                "Each change names one of `points`, `limits`, `usual`, `judgement`, `off` or "
                "`pressure_limit`, and what it is of.",
            )
        if self.applies and kinds[0] in ("judgement", "pressure_limit"):
            raise Mistake(f"a change of `{kinds[0]}` holds on every machine", "Take `applies` out.")
        if kinds == ["off"]:
            if self.was is not None or self.now is not None:
                raise Mistake("a rule that is switched off has no `was` and no `now`", "Take them out.")
        elif self.was is None or self.now is None:
            what = f"a change of `{kinds[0]}` needs `was` and `now`"
            raise Mistake(what, "Write what it is in the shipped book, and what it shall be, as `was: 2, now: 3`.")
        elif kinds == ["pressure_limit"]:
            if not isinstance(self.was, str) or not isinstance(self.now, str):
                raise Mistake("`was` and `now` of `pressure_limit` must be pressures", "For example `was: 610 psig`.")
            if self.was == self.now:
                raise Mistake(
                    "`was` and `now` are the same, so nothing is changed", "Write what it shall be after `now`."
                )
        elif kinds != ["judgement"] and any(
            isinstance(f, str) or isinstance(f, list) != (kinds == ["limits"]) for f in (self.was, self.now)
        ):
            raise Mistake(
                f"`was` and `now` of `{kinds[0]}` must be {'lists of limits' if kinds == ['limits'] else 'numbers'}",
                "For example `was: [-5 F, 5 F]`." if kinds == ["limits"] else "For example `was: 2`.",
            )
        elif self.was == self.now:
            raise Mistake("`was` and `now` are the same, so nothing is changed", "Write what it shall be after `now`.")
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
