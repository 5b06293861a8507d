"""What phones send and are answered, checked at the door."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, JsonValue, field_validator

MOST_VALUES, DEEPEST, LONGEST = 3000, 10, 20_000  # of a visit: values, steps down, characters of one text

Digest = Annotated[str, Field(pattern=r"^([0-9a-f]{64})?$")]


class Sending(BaseModel):
    """One version of a visit. based_on: the digest of the version before it, as this office told it; empty: there is none."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    visit: dict[str, JsonValue]
    based_on: Digest = ""

    @field_validator("visit", mode="before")
    @classmethod
    def _of_a_size(cls, visit: Any) -> Any:
        for count, (value, depth) in enumerate(_values(visit)):
            if count > MOST_VALUES or depth > DEEPEST:
                raise ValueError("more than a visit can hold")
            if isinstance(value, str) and (len(value) > LONGEST or not _text(value)):
                raise ValueError("a text that a visit cannot hold")
        return visit


def _values(data: Any) -> Iterator[tuple[Any, int]]:
    """Every key and value with how deep it lies; without recursion, for the depth is what is looked at."""
    waiting = [(data, 0)]
    while waiting:
        value, depth = waiting.pop()
        yield value, depth
        if isinstance(value, dict):
            waiting += [(each, depth + 1) for pair in value.items() for each in pair]
        elif isinstance(value, list):
            waiting += [(each, depth + 1) for each in value]


def _text(value: str) -> bool:
    """Whether it is text: no half of a character, and no character that only a machine reads."""
    return not any(
        "\ud800" <= sign <= "\udfff" or (sign < " " and sign not in "\t\n\r") or sign == "\x7f" for sign in value
    )


class Receipt(BaseModel):
    """A version is kept. digest: to be given as `based_on` with the next one; visit: its id in the store; new: it was not
    here before.
    """

    digest: str
    visit: str
    new: bool


class Refusal(BaseModel):
    """Why something was not taken, in sentences for whoever sent it."""

    problems: list[str]


class Greeting(BaseModel):
    """By which a page finds that an office hands it out. person: who is signed in; empty where nobody need be."""

    office: bool = True
    person: str
