"""What phones send and are answered, checked at the door; and an answer that says why, as a page where a person looks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, JsonValue, field_validator
from starlette.datastructures import Headers
from starlette.responses import HTMLResponse, JSONResponse, Response

from diagnose.report.blocks import Block, line
from diagnose.report.webpage import web_page

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


# -- an answer that says why -------------------------------------------------------------------------------------------

SIGN_IN_AGAIN = "Sign in to the office first."
WRONG_CODE = "This access code opens nothing. Check it letter by letter, or ask the office for a new one."
TOO_OFTEN = "Too many requests at once. Wait a little, then try again."
TOO_LARGE = "This is larger than any visit, and was not taken."
TOO_SLOW = "It did not arrive whole in time. Try again with a better signal."
ELSEWHERE = "This came from another site's page, and was not taken."
NOT_HERE = "This office answers its own machine only. To let phones in, start it with `diagnose serve --listen`."
NOT_SECRET = "This office answers by https only. A proxy in front of it must send `X-Forwarded-Proto: https`."
STORE_AWAY = "The store of this office does not answer at the moment, and nothing was changed. Try again later."
BROKEN = "Something went wrong in the office, and nothing was changed. Its log has more under {mark}."
NO_VISIT = "This is not a visit as the page sends it: {what}."
NOTHING_HERE = "Nothing is here under this address."
NOT_SO = "This address does not take that."


def answer(
    asked: Headers, status: int, problems: Sequence[str], headers: Mapping[str, str] | None = None, person: str = ""
) -> Response:
    """These sentences, in the form that was asked for."""
    if "text/html" in asked.get("accept", ""):
        blocks = [Block("answer", problems[0]), *map(line, problems[1:])]
        return HTMLResponse(office_page(blocks, person), status, headers)
    return JSONResponse(Refusal(problems=list(problems)).model_dump(), status, headers)


def office_page(blocks: Sequence[Block], person: str, fold: bool = False, **more: object) -> str:
    """A page of the office. more: what its template shows besides; what is not given is not there."""
    shown = {
        "person": person, "signing": None, "find": None, "latest": (), "machines": (), "ways": (), "notes": (), "entered": "",
        "back": (), "site": False,
    }  # fmt: skip
    return web_page(blocks, contents=False, fold=fold, template="office.html", more={**shown, **more})
