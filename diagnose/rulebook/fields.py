"""What may stand at a name of a rule file: texts, names, figures, lists, each with what is said where it cannot."""

from __future__ import annotations

import datetime
import re
from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    WithJsonSchema,
)
from pydantic_core.core_schema import CoreSchema, no_info_after_validator_function

from diagnose.yamlfile import Mistake, did_you_mean

WordOrWords = str | list[str]
LABEL = r"[^\s{}\[\],:#]([^{}\[\],:#]*[^\s{}\[\],:#])?"
NAME = r"^[a-z][a-z0-9]*(-[a-z0-9]+)*(/[a-z0-9]+(-[a-z0-9]+)*)?$"
SHOWN = 12  # names listed where none is near


def near(word: str, known: list[str]) -> str:
    """Did-you-mean, or the list of what is known."""
    if near_one := did_you_mean(word, known):
        return near_one
    if not known:
        return "There is none yet."
    more = f" … and {len(known) - SHOWN} more" if len(known) > SHOWN else ""
    return f"Known: {', '.join(known[:SHOWN])}{more}."


def shape(**schema: Any) -> WithJsonSchema:
    """What the JSON Schema says of a type whose checks are functions of ours (see `diagnose/workshop/schemas.py`)."""
    return WithJsonSchema(schema)


def _name(text: str) -> str:
    if not re.fullmatch(NAME, text):
        slug = re.sub(r"[^a-z0-9/]+", "-", text[:40].lower()).strip("-")
        example = slug if re.fullmatch(NAME, slug) else "find-the-leak"
        raise Mistake(f"`{text[:40]}` is not an id", f"Small letters, digits and hyphens, for example `{example}`.")
    return text


def _label(text: str) -> str:
    if not re.fullmatch(LABEL, text) or text == "any":
        fix = "One or a few words, for example `coil superheat`; without brackets, colons and commas, and not `any`."
        raise Mistake(f"`{text[:40]}` is not a name", fix)
    return text


def _one_line(text: str) -> str:
    text = " ".join(text.split())
    if not text:
        raise Mistake("this text is empty", "Write a sentence.")
    return text


def _no_braces(text: str) -> str:
    if "{" in text or "}" in text:
        raise Mistake(
            "braces are printed as they stand here", "Only the `why` of a rule prints figures: `{superheat}`."
        )
    return text


def no_truth(value: object) -> object:
    """pydantic takes `true` for 1."""
    if isinstance(value, bool):
        raise Mistake(f"`{str(value).lower()}` is not a number", "Write the number alone, for example `1.5`.")
    return value


class Between:
    """Refuses a number that does not lie there, and says so in the JSON Schema too.

    fix: how to mend it. what: what is wrong, with `{:g}` for the number. above, below: the lowest,
    the highest itself does not belong to it.
    """

    def __init__(
        self,
        low: float,
        high: float,
        fix: str,
        what: str = "{:g} cannot be right here",
        above: bool = False,
        below: bool = False,
    ) -> None:
        self.low, self.high, self.fix, self.what, self.above, self.below = low, high, fix, what, above, below

    def check(self, value: float) -> float:
        """The number. Raises Mistake."""
        if (
            not self.low <= value <= self.high
            or (self.above and value == self.low)
            or (self.below and value == self.high)
        ):
            raise Mistake(self.what.format(value), self.fix)
        return value

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return no_info_after_validator_function(self.check, handler(source))

    def __get_pydantic_json_schema__(self, core: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        least, most = "exclusiveMinimum" if self.above else "minimum", "exclusiveMaximum" if self.below else "maximum"
        return handler(core) | {least: self.low, most: self.high}


def _not_zero(points: float) -> float:
    if points == 0:
        raise Mistake(_POINTS.format(points), _NOT_ZERO)
    return points


def _words(words: list[str]) -> list[str]:
    if len(words) < 2:
        raise Mistake("there are fewer than two words", "For example `words: [low, normal, high]`.")
    for word in words:
        if words.count(word) > 1:
            raise Mistake(f"`{word}` is there twice", "Each word once.")
        if word.startswith("not ") and word.removeprefix("not ") in words:
            raise Mistake(f"`{word}` cannot be a word beside `{word[4:]}`", "`not` before a word means any other word.")
    return words


def not_empty(items: list[Any]) -> list[Any]:
    """Refuses a list with nothing in it."""
    if not items:
        raise Mistake("this list is empty", "Write one entry at least.")
    return items


def _cited(sources: list[str]) -> list[str]:
    if not sources:
        raise Mistake("no source is named", "A name from sources.yaml; `common-practice` where nothing was read.")
    return sources


def _date(date: str) -> str:
    try:
        if re.fullmatch(r"\d{4}-\d{2}-\d{2}", date, re.ASCII):
            datetime.date.fromisoformat(date)
            return date
    except ValueError:
        pass
    raise Mistake(f"`{date[:40]}` is not a date", "Year-month-day, for example `2026-03-31`.")


Filled = Annotated[str, AfterValidator(_one_line), shape(type="string", pattern=r"\S")]
"""A text that may name findings in braces."""
Text = Annotated[Filled, AfterValidator(_no_braces), shape(type="string", pattern=r"^[^{}]*[^{}\s][^{}]*$")]
LabelText = Annotated[
    str, AfterValidator(_label), shape(type="string", pattern=f"^{LABEL}$", **{"not": {"const": "any"}})
]
Id = Annotated[str, AfterValidator(_name), shape(type="string", pattern=NAME)]
_POINTS = "{:g} points are out of range"
_NOT_ZERO = "From -4 to 4 and not 0: each point doubles, or halves, the odds of the fault."
Points = Annotated[
    float,
    BeforeValidator(no_truth),
    Between(-4, 4, _NOT_ZERO, _POINTS),
    AfterValidator(_not_zero),
    shape(type="number", minimum=-4, maximum=4, **{"not": {"const": 0}}),
]
Usual = Annotated[
    float,
    BeforeValidator(no_truth),
    Between(-4, 4, "From -4 to 4: each point doubles, or halves, the odds of the fault.", "`usual` cannot be {:g}"),
]
Rank = Annotated[
    int,
    BeforeValidator(no_truth),
    Between(1, 99, "From 1, printed first, to 99.", "`rank` cannot be {}"),
]
Minutes = Annotated[
    float,
    BeforeValidator(no_truth),
    Between(0, 480, "Above 0 and up to 480, a working day.", "{:g} minutes cannot be right", above=True),
]
Hours = Annotated[
    float,
    BeforeValidator(no_truth),
    Between(0, 40, "From 0 to 40, a working week.", "{:g} hours cannot be right"),
]
Vocabulary = Annotated[
    list[str],
    AfterValidator(_words),
    shape(type="array", items={"type": "string"}, minItems=2, uniqueItems=True),
]
Date = Annotated[str, AfterValidator(_date), shape(type="string", pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$")]
Cited = Annotated[
    list[str],
    AfterValidator(_cited),
    BeforeValidator(lambda v: [v] if isinstance(v, str) else v or []),
    shape(anyOf=[{"type": "string"}, {"type": "array", "items": {"type": "string"}, "minItems": 1}]),
]
WORDS = {"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}, "minItems": 1}]}
When = Annotated[
    dict[str, Any],
    shape(
        type="object",
        properties={
            "any": {"type": "array", "items": {"type": "object", "additionalProperties": WORDS}, "minItems": 1}
        },
        additionalProperties=WORDS,
    ),
]


# What several entries have.
Applies = Annotated[
    dict[str, WordOrWords], Field(description="Only for machines with these facts, for example {metering: [TXV, EEV]}.")
]
Source = Annotated[
    Cited,
    Field(description="A name from sources.yaml, then perhaps the place in it: [rossi-braun-1997, table 1]."),
]
Why = Annotated[Text, Field(description="The reason, in one to three short sentences.")]


class Written(BaseModel):
    """Base of all entries: nothing that is not named here may stand in them."""

    # Deferred: only the models of whole files are ever built, each once, when its file is read.
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)
