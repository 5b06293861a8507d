"""An answer that says why: as a page where a person looks, else as JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from starlette.datastructures import Headers
from starlette.responses import HTMLResponse, JSONResponse, Response

from diagnose.report.blocks import Block, line
from diagnose.report.webpage import web_page
from diagnose.serve.models import Refusal

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
